"""Demand, tanks, cost and sun: published figures, an independent simulation, conservation of energy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput, Refused
from borewright.pumping import (
    System,
    bore_enough,
    cost_per_kilolitre,
    daily_demand,
    day_length,
    demand_items,
    dry_spell,
    energy_per_volume,
    generic_curve,
    operating_point,
    panel_for,
    pump_curve,
    solar_yield,
    tank_for,
)
from tests.pumping.conftest import invented_system, table

PUBLISHED = {row["item"]: row["value"] for row in table("water_demand")}


@pytest.mark.parametrize(("ours", "published"), [
    ("weaner sheep", "weaner sheep summer / average"), ("dry sheep", "adult dry sheep summer / average"), ("ewe with lambs", "ewes with lambs summer / average"),
    ("weaner cattle", "weaner beef 250-300 kg summer / average"), ("dry cattle", "adult dry beef summer / average"),
])
def test_stock_figures_are_those_published(ours, published):
    summer, average = (float(v.replace("up to", "")) for v in PUBLISHED[published].split("/"))
    item = demand_items()[ours]
    assert item.high == pytest.approx(summer / 1000) and item.low == pytest.approx(average / 1000)


def test_household_figures_are_those_published():
    low, high = (float(v) for v in PUBLISHED["domestic use range"].split("-"))
    item = demand_items()["person, all household use"]
    assert (item.low, item.high) == (pytest.approx(low / 1000), pytest.approx(high / 1000))


def test_demand_adds_up_and_says_where_from():
    found = daily_demand({"person, all household use": 4, "dry sheep": 100, "square metre of garden": 200}, extra=0.1)
    assert found.low == pytest.approx(0.28 + 0.6 + 0.6 + 0.1) and found.high == pytest.approx(1.2 + 1.0 + 1.2 + 0.1)
    assert any("Agriculture Victoria" in s for s in found.sources) and found.dated
    assert found.advisories[0].code == "demand-without-source"
    with pytest.raises(BadInput, match="dry sheep"):
        daily_demand({"sheep": 3})
    with pytest.raises(BadInput):
        daily_demand({"dry sheep": 0})


@settings(max_examples=60, derandomize=True, deadline=None)
@given(seed=st.integers(0, 10_000), days=st.integers(2, 120), outage=st.integers(0, 2))
def test_the_tank_is_the_smallest_that_lasts(seed, days, outage):
    rng = np.random.default_rng(seed)
    given_, wanted = rng.uniform(0, 2, days), rng.uniform(0, 2, days)
    tank = tank_for(inflow=given_, demand=wanted, days=days, outage=outage)
    assert dry_spell(tank, inflow=given_, demand=wanted, days=days, outage=outage).days_short == 0
    if tank > 1e-9:
        assert dry_spell(0.999 * tank, inflow=given_, demand=wanted, days=days, outage=outage).days_short > 0


def test_dry_spell_keeps_its_water():
    found = dry_spell(10.0, inflow=0.5, demand=1.0, days=30)
    assert found.lasts == 20 and found.days_short == 10
    assert found.stored[0] + 30 * 0.5 + found.short.sum() == pytest.approx(30 * 1.0 + found.stored[-1])


def test_is_this_bore_enough():
    demand = daily_demand({"person, all household use": 4})
    ample, slow, poor = bore_enough(0.4e-3, demand), bore_enough(0.05e-3, demand), bore_enough(0.003e-3, demand)
    assert (ample.enough, slow.enough, poor.enough) == ("yes", "with a tank", "no")
    assert ample.words.startswith("Yes") and poor.words.startswith("No") and "tank" in slow.words
    assert ample.tank == pytest.approx(3 * demand.high)  # three days without a pump
    assert bore_enough(0.012e-3, demand).words.startswith("Only with care")
    assert slow.days_of_demand >= 3


def test_energy_and_cost():
    # 1 m3 up 100 m at 100 % is 0.2719 kWh at 998.2 kg/m3; at 50 % twice that.
    assert energy_per_volume(100, pump_efficiency=1.0, motor_efficiency=1.0) / 3.6e6 == pytest.approx(0.27192, abs=1e-5)
    assert cost_per_kilolitre(energy_per_volume(100, pump_efficiency=0.5, motor_efficiency=1.0), 40) == round(0.54384 * 40)
    with pytest.raises(BadInput):
        energy_per_volume(100, pump_efficiency=60, motor_efficiency=0.7)


@pytest.mark.parametrize(("latitude", "day", "hours"), [(0, 172, 12.12), (40, 172, 15.02), (40, 355, 9.33), (-35, 172, 9.8)])
def test_day_length(latitude, day, hours):
    # Almanac figures, from memory; they count refraction and the sun's edge, 7 to 11 minutes that ours leaves out.
    assert hours - 0.2 < day_length(latitude, day) / 3600 < hours


def test_polar_day_and_night():
    assert day_length(80, 172) == pytest.approx(86400) and day_length(80, 355) == pytest.approx(0, abs=1)


SUN = [h * 3.6e6 for h in (6.8, 6.2, 5.4, 4.2, 3.2, 2.8, 3.0, 3.9, 4.9, 5.8, 6.4, 6.8)]  # invented, southern


def test_sun_lifts_no_more_than_its_energy():
    pump, system = generic_curve("0.5 L/s", stages=10), invented_system()
    found = solar_yield(pump, system, panel_power=1500, irradiation=SUN, latitude=-35, motor=0.7)
    head = 20.0  # static level and lift alone: no litre comes cheaper
    bound = 1500 * np.array(SUN) / 1000 * 0.8 * 0.7 * 0.95 * 0.6 / (998.2 * 9.80665 * head)
    assert np.all(found.daily > 0) and np.all(found.daily < bound)
    assert found.worst_month == 6 and found.full_flow == pytest.approx(operating_point(pump, system).flow, rel=1e-3)
    more = solar_yield(pump, system, panel_power=3000, irradiation=SUN, latitude=-35, motor=0.7)
    assert np.all(more.daily > found.daily)


def test_a_great_panel_runs_the_pump_all_day():
    pump, system = generic_curve("0.5 L/s", stages=10), invented_system()
    found = solar_yield(pump, system, panel_power=1e6, irradiation=[2e7] * 12, latitude=0)
    assert found.daily == pytest.approx(np.full(12, found.full_flow * 43200), rel=0.02)


def test_panel_is_the_least_that_serves():
    pump, system = generic_curve("0.5 L/s", stages=10), invented_system()
    found = panel_for(pump, system, demand=5.0, irradiation=SUN, latitude=-35)
    assert found.daily.min() >= 5.0
    assert solar_yield(pump, system, panel_power=found.panel_power - 10, irradiation=SUN, latitude=-35).daily.min() < 5.0
    with pytest.raises(Refused, match="larger pump"):
        panel_for(pump, system, demand=500.0, irradiation=SUN, latitude=-35)


def test_sun_refusals():
    system = invented_system()
    with pytest.raises(Refused, match="efficiency"):
        solar_yield(pump_curve("bare", [0, 1e-3, 2e-3], [60, 50, 30]), system, panel_power=1000, irradiation=SUN, latitude=0)
    with pytest.raises(Refused, match="does not lift"):
        solar_yield(generic_curve("1 L/s", stages=1), System(system.pumping_level, 300.0, 0.0, ()), panel_power=1000, irradiation=SUN, latitude=0)
    for bad in ([5] * 11, [6.5 * 3.6e9] * 12, [float("nan")] * 12):
        with pytest.raises(BadInput):
            solar_yield(generic_curve("1 L/s", stages=9), system, panel_power=1000, irradiation=bad, latitude=0)


@pytest.mark.parametrize("call", [
    lambda: dry_spell(-1, inflow=1, demand=1, days=3), lambda: dry_spell(1, inflow=[1, 2], demand=1, days=3), lambda: dry_spell(1, inflow=1, demand=1, days=0),
    lambda: dry_spell(1, inflow=1, demand=1, days=3, outage=4), lambda: tank_for(inflow=-1, demand=1, days=3), lambda: bore_enough(1e-3, daily_demand({"horse": 1}), pumping_hours=30),
    lambda: day_length(95, 10),
])
def test_nonsense_is_refused(call):
    with pytest.raises(BadInput):
        call()
