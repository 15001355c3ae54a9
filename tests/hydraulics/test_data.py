"""Files, loggers, derivative, thinning, neighbours, streams, images, plans."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright import hydraulics as h
from borewright.errors import BadInput, OutOfDomain

DAY = 86400.0


def written(folder, text, name="test.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_reads_wells_radii_and_units_off_the_headings(tmp_path):
    path = written(tmp_path, "# a line that is not data\nwell,time_min,drawdown_cm,radius_m\nA,1,10,30\nB,1,5,90\nA,2,20,30\nB,2,8,90\n")
    a, b = h.read_levels(path)
    assert (a.well, a.radius, b.well, b.radius) == ("A", 30.0, "B", 90.0)
    np.testing.assert_allclose(a.time, [60, 120])
    np.testing.assert_allclose(b.drawdown, [0.05, 0.08])


def test_contract_columns_alone_are_enough(tmp_path):
    (one,) = h.read_levels(written(tmp_path, "time_s,drawdown_m\n60,0.1\n120,0.2\n"))
    assert one.well == "pumped" and one.radius is None
    (one,) = h.read_levels(written(tmp_path, "time_s;drawdown_m\n60;0.1\n120;0.2\n"), radius=30.0)
    assert one.radius == 30.0


@pytest.mark.parametrize(("text", "word"), [
    ("time_s,drawdown_m\n60,0.1\n120,wet\n", "row 2"),
    ("time_s,drawdown_m\n60,0.1\n120,\n", "row 2"),
    ("time_s,drawdown_m\n60,0.1\n120,nan\n", "row 2"),
    ("time,drawdown_m\n60,0.1\n", "no column"),
    ("time_s,level\n60,0.1\n", "no column"),
    ("time_s,drawdown_m,drawdown_ft\n60,0.1,0.3\n", "more than one"),
    ("time_s,time_s\n60,0.1\n", "twice"),
    ("time_s,drawdown_m\n", "no rows"),
    ("", "cannot be read"),
    ("time_s,drawdown_m,well,radius_m\n60,0.1,A,30\n120,0.2,A,31\n", "differs"),
    ('time_s;drawdown_m\n60;"1,123"\n120;"1,234"\n', "row 1"),  # thousands or thousandths: asked, not guessed
])
def test_bad_files_name_the_row_or_the_column(tmp_path, text, word):
    with pytest.raises(BadInput) as caught:
        h.read_levels(written(tmp_path, text))
    assert word in str(caught.value)


def test_no_such_file():
    with pytest.raises(BadInput):
        h.read_levels("nowhere.csv")


def test_rates_file(tmp_path):
    history = h.read_rates(written(tmp_path, "time_h,rate_L/s\n0,2\n1,3\n2,0\n"))
    assert history.starts == (0.0, 3600.0, 7200.0) and history.rates == pytest.approx((2e-3, 3e-3, 0.0))
    with pytest.raises(BadInput):
        h.read_rates(written(tmp_path, "time_h,rate_L/s\n0,2\n0,3\n"))


LOG = "stamp,level cm\n03/04/2026 10:00:00,500\n03/04/2026 10:00:30,505\n03/04/2026 10:01:00,510\n"


def test_logger_times_are_read_as_stated(tmp_path):
    path = written(tmp_path, LOG)
    given_ = {"time_column": "stamp", "value_column": "level cm", "factor": 0.01}
    april = h.read_logger(path, date_format="%d/%m/%Y %H:%M:%S", zone="+10:00", **given_)
    march = h.read_logger(path, date_format="%m/%d/%Y %H:%M:%S", zone="UTC", **given_)
    assert april.epoch[0] == datetime(2026, 4, 3, 0, 0, tzinfo=UTC).timestamp()
    assert march.epoch[0] == datetime(2026, 3, 4, 10, 0, tzinfo=UTC).timestamp()
    np.testing.assert_allclose(april.value, [5.0, 5.05, 5.1])
    sydney = h.read_logger(path, date_format="%d/%m/%Y %H:%M:%S", zone="Australia/Sydney", **given_)
    assert sydney.epoch[0] == datetime(2026, 4, 2, 23, 0, tzinfo=UTC).timestamp()  # still summer time on 3 April


@pytest.mark.parametrize(("text", "change", "word"), [
    (LOG, {"date_format": "%Y-%m-%d"}, "form"),
    (LOG, {"zone": "Mars/Base"}, "zone"),
    (LOG, {"value_column": "depth"}, "not a column"),
    (LOG + "03/04/2026 09:00:00,1\n", {}, "row 4"),
    (LOG + "03/04/2026 11:00:00,overrange\n", {}, "row 4"),
])
def test_logger_refusals(tmp_path, text, change, word):
    given_ = {"time_column": "stamp", "value_column": "level cm", "date_format": "%d/%m/%Y %H:%M:%S", "zone": "UTC"} | change
    with pytest.raises(BadInput) as caught:
        h.read_logger(written(tmp_path, text), **given_)
    assert word in str(caught.value)


def test_gaps_and_repeats_are_told(tmp_path):
    lines = "\n".join(f"2026-01-01 00:{m:02d}:00,{m}" for m in (0, 1, 2, 3, 3, 4, 40, 41))
    series = h.read_logger(written(tmp_path, "t,v\n" + lines + "\n"), time_column="t", value_column="v", date_format="%Y-%m-%d %H:%M:%S", zone="UTC")
    assert {a.code for a in series.advisories} == {"repeated", "gaps"} and series.epoch.size == 7


def test_clock_drift_and_dips_put_a_spoiled_record_right():
    true = np.arange(0.0, 10 * DAY, 600.0)
    depth = 12.0 + 0.5 * np.sin(true / DAY)
    ahead = 240.0
    spoiled = h.LoggerSeries(true * (1 + ahead / (10 * DAY)), depth - 0.30 - 0.02 * true / DAY, "UTC")
    clock = h.clock_corrected(spoiled, set_at=0.0, read_at=10 * DAY + ahead, ahead=ahead)
    np.testing.assert_allclose(clock.epoch, true, atol=0.1)
    dips = np.array([0.5, 4.0, 9.5]) * DAY
    put_right = h.anchored_to_dips(clock, dips, 12.0 + 0.5 * np.sin(dips / DAY))
    np.testing.assert_allclose(put_right.value, depth, atol=2e-3)
    with pytest.raises(BadInput):
        h.anchored_to_dips(clock, [90 * DAY], [12.0])
    with pytest.raises(BadInput):
        h.clock_corrected(spoiled, set_at=0.0, read_at=DAY, ahead=3600.0)


def test_air_pressure_is_found_and_taken_out():
    rng = np.random.default_rng(0)
    air = 10.2 + np.cumsum(rng.normal(0, 0.01, 500))
    depth = 12.0 + 0.4 * (air - air.mean())
    assert h.barometric_efficiency(np.diff(depth), np.diff(air)) == pytest.approx(0.4, rel=1e-9)
    np.testing.assert_allclose(h.pressure_corrected(depth, air, efficiency=0.4), 12.0, atol=1e-12)
    sealed = depth - (air - air.mean())
    np.testing.assert_allclose(h.pressure_corrected(sealed, air, efficiency=0.4, vented=False), 12.0, atol=1e-12)


def test_drawdown_from_a_record():
    epoch = np.arange(0, 7200.0, 60.0)
    value = np.where(epoch <= 3600, 8.0, 8.0 + 0.001 * (epoch - 3600))
    time, fall = h.drawdown_from(h.LoggerSeries(epoch, value, "UTC"), started_at=3600.0)
    np.testing.assert_allclose(fall, 0.001 * time, atol=1e-12)
    with pytest.raises(BadInput):
        h.drawdown_from(h.LoggerSeries(epoch[70:], value[70:], "UTC"), started_at=3600.0)


def test_thinning_keeps_the_shape_and_every_lonely_dip():
    time = np.concatenate([[1.0, 10.0, 100.0], np.arange(1000.0, 200000.0)])
    drawdown = np.log(time)
    t, s = h.thinned(time, drawdown)
    assert t.size < 130 and list(t[:3]) == [1.0, 10.0, 100.0]
    np.testing.assert_allclose(s, np.log(t), atol=0.02)


def test_derivative_finds_radial_flow_and_the_doubling_at_an_edge():
    time = np.geomspace(60, 1e7, 200)
    unit = h.with_images(lambda t, d: h.drawdown(t, d, rate=1e-3, transmissivity=1e-3, storativity=1e-4), [(5.0, 1), (2000.0, 1)])
    at, slope = h.diagnostic_derivative(time, unit(time), window=0.2)
    plateau = 1e-3 / (4 * math.pi * 1e-3)
    assert slope[np.argmin(abs(at - 2000.0))] == pytest.approx(plateau, rel=0.01)
    assert slope[-1] == pytest.approx(2 * plateau, rel=0.02)
    meanings = [x.meaning for x in h.stretches(time, unit(time))]
    assert any("radial" in m for m in meanings)


def test_stretches_name_casing_and_fracture():
    time = np.geomspace(1, 1e3, 100)
    assert "casing" in h.stretches(time, 1e-3 * time)[0].meaning
    assert "line" in h.stretches(time, 1e-2 * np.sqrt(time))[0].meaning


def test_recovery_on_equivalent_time_is_a_drawdown():
    given_ = {"rate": 1e-3, "transmissivity": 1e-3, "storativity": 1e-4}
    pumped = 5 * DAY
    after = np.geomspace(600, DAY, 30)
    at_stop = h.drawdown(pumped, 1.0, **given_)
    recovered = at_stop - h.recovery(pumped + after, 1.0, stopped_at=pumped, **given_)
    np.testing.assert_allclose(recovered, h.drawdown(h.equivalent_time(after, pumped_for=pumped), 1.0, **given_), rtol=2e-4)


def test_superposition_cases(table):
    """Values computed once by scipy's E1 with T 500 m2/d, S 2e-4, Q 1000 m3/d."""
    cases = {r["case"]: float(r["s_m"]) for r in table("superposition_image_interference")}
    ground = {"transmissivity": 500 / DAY, "storativity": 2e-4}
    rate = 1000 / DAY

    def unit(t, d):
        return h.drawdown(t, d, rate=1.0, **ground)

    one_day = np.array([DAY])
    barrier = rate * h.with_images(unit, [(50.0, 1), (150.0, 1)])(one_day)[0]
    recharge = rate * h.with_images(unit, [(50.0, 1), (150.0, -1)])(one_day)[0]
    assert barrier == pytest.approx(cases["barrier 100 m from well; observation 50 m from well toward boundary; image at 150 m: sum"], abs=6e-7)
    assert recharge == pytest.approx(cases["recharge boundary same geometry: difference"], abs=6e-7)
    assert h.drawdown_from_bores(DAY, [(50.0, rate), (80.0, rate)], **ground) == pytest.approx(cases["two wells Q each at 50 m and 80 m from the point"], abs=6e-7)
    assert h.drawdown_from_bores(DAY, [(50.0, rate), (80.0, rate), (120.0, -rate / 2)], **ground) == pytest.approx(
        cases["three wells Q Q -Q/2 at 50 80 120 m"], abs=6e-7)
    stepped = h.drawdown_under(lambda t: unit(t, 50.0), one_day, h.rate_steps([(0, rate), (DAY / 2, 2 * rate)]))[0]
    assert stepped == pytest.approx(cases["rate schedule: Q from 0 d then 2Q from 0.5 d; s at 1 d; r=50 m"], abs=6e-7)
    assert h.recovery(1.25 * DAY, 50.0, stopped_at=DAY, rate=rate, **ground) == pytest.approx(cases["residual 0.25 d after stopping a 1 d test; r=50 m"], abs=6e-7)


def test_straight_line_forms_give_back_t_and_s():
    given_ = {"rate": 0.01, "transmissivity": 3e-3, "storativity": 2e-4}
    time = np.geomspace(1e5, 1e7, 20)
    line = h.time_line(time, h.straight_line_drawdown(time, 20.0, **given_), radius=20.0, rate=0.01)
    assert line.transmissivity == pytest.approx(3e-3, rel=1e-9) and line.storativity == pytest.approx(2e-4, rel=1e-8)
    radii = np.array([10.0, 30.0, 90.0])
    line = h.distance_line(radii, h.straight_line_drawdown(1e6, radii, **given_), time=1e6, rate=0.01)
    assert line.transmissivity == pytest.approx(3e-3, rel=1e-9) and line.storativity == pytest.approx(2e-4, rel=1e-8)
    # Thiem on Oude Korendijk, 30 and 90 m at 830 min: 370.4 m2/d (read).
    assert h.steady_transmissivity((30.0, 1.088), (90.0, 0.716), rate=788 / DAY) * DAY == pytest.approx(370.38, abs=0.05)


def test_jenkins_table(table):
    for row in table("stream_depletion_jenkins"):
        time = float(row["t_over_F"])
        given_ = {"distance": 1.0, "transmissivity": 1.0, "storativity": 1.0, "rate": 1.0}
        assert h.stream_depletion(time, **given_) == pytest.approx(float(row["q_over_Q_recomputed"]), abs=6e-7)
        assert h.stream_depletion(time, **given_) == pytest.approx(float(row["q_over_Q_published"]), abs=1.6e-3)
        share = h.stream_depletion_volume(time, **given_) / time if time else 0.0
        assert share == pytest.approx(float(row["v_over_Qt_recomputed"]), abs=6e-7)
        assert share == pytest.approx(float(row["v_over_Qt_published"]), abs=1.6e-3)


def test_a_stream_goes_on_losing_after_the_pump_stops_and_loses_all_in_the_end():
    given_ = {"distance": 200.0, "transmissivity": 1e-3, "storativity": 0.1}
    history = h.steady_rate(1e-2, stopped_at=30 * DAY)
    assert h.stream_depletion(60 * DAY, rate=history, **given_) > 0
    assert h.stream_depletion_volume(1e12, rate=history, **given_) == pytest.approx(1e-2 * 30 * DAY, rel=2e-2)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(0.0, 0.02)), min_size=1, max_size=6, unique_by=lambda p: p[0]))
def test_superposition_is_linear_in_the_rates(steps):
    if not any(q > 0 for _, q in steps):
        return
    history = h.rate_steps(steps)
    double = h.rate_steps([(t, 2 * q) for t, q in steps])
    time = np.geomspace(10, 3e5, 20)

    def unit(t):
        return h.drawdown(t, 30.0, rate=1.0, transmissivity=1e-3, storativity=1e-4)

    np.testing.assert_allclose(h.drawdown_under(unit, time, double), 2 * h.drawdown_under(unit, time, history), rtol=1e-12, atol=1e-12)


def test_rate_history_refusals():
    for steps in ([(0, 0.0)], [(0, 1e-3), (0, 2e-3)], [], [(0, math.nan)]):
        with pytest.raises(BadInput):
            h.rate_steps(steps)
    with pytest.raises(BadInput):
        h.steady_rate(1e-3, stopped_at=0.0)
    history = h.rate_steps([(10, 2e-3), (20, 0.0)])
    np.testing.assert_allclose(history.at([5, 10, 15, 20, 25]), [0, 0, 2e-3, 2e-3, 0])
    assert history.mean_until(30.0) == pytest.approx(1e-3)


def test_neighbours_are_told_each_in_turn():
    near, far = h.neighbour_interference([("A", 50.0), ("B", 500.0)], rate=1e-3, transmissivity=1e-3, storativity=1e-4, times=[DAY, 100 * DAY], allowed=0.5)
    assert near.drawdown[1] > near.drawdown[0] > far.drawdown[0] and not near.within
    assert near.drawdown[0] == h.drawdown(DAY, 50.0, rate=1e-3, transmissivity=1e-3, storativity=1e-4)


def test_plan_is_long_enough_hard_enough_and_cautioned():
    given_ = {"flow": 1e-3, "drawdown_then": 10.0, "available": 30.0, "need": 5e-4, "static_level": 12.0, "casing_radius": 0.075, "bore_radius": 0.08}
    plan = h.plan_test(**given_)
    assert plan.rate == pytest.approx(6e-4) and plan.duration >= DAY and plan.duration >= 20 * plan.storage_until
    assert [q for _, q in plan.steps] == sorted(q for _, q in plan.steps) and plan.times[-1] == plan.duration
    assert {"electricity", "discharge"} <= {a.code for a in plan.advisories}
    edge = h.plan_test(boundary_distance=400.0, **given_)
    assert edge.duration > plan.duration
    weak = h.plan_test(**(given_ | {"need": 5e-3}))
    assert "below-need" in {a.code for a in weak.advisories} and weak.rate == pytest.approx(0.6 * 30 * 1e-4)
    with pytest.raises(OutOfDomain):
        h.plan_test(**(given_ | {"flow": 0.0}))


def test_stop_early_only_when_the_answer_has_settled():
    hours = np.arange(1.0, 25.0) * 3600
    assert not h.enough_readings(hours, 1.0 + 2.0 / np.arange(1, 25))
    assert h.enough_readings(hours, 1.0 + 0.2 / np.arange(1, 25))
    assert not h.enough_readings(hours[:2], [1.0, 1.0])


def test_thinning_aquifer_correction_undoes_jacob():
    assert h.thinning_corrected(2.0, thickness=20.0) == pytest.approx(1.9)
