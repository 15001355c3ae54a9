"""The pump in the bore: duty over the bore's life, pipe, curve, setting, cable, sun, demand and tank.

SI inside, depths positive down from ground, options by keyword. What others call::

    duty(need [m3/s], *, levels={"new": (flows, depths) | depth | function, "tenth dry season": ...}, lift [m], delivery_pressure=0 [Pa],
         pipes=None, main_length=0 [m], pump=None, rated_flow=, bore_depth=, slots_from=, intake_depth=, casing_inside_diameter=,
         motor_diameter=0.096, water_from_above=False, voltage=230, phases=1, cable_length=, price_minor=,
         start="direct on line"|"soft start"|"variable speed") -> Duty
    duty_as_dict(duty) -> dict        plain JSON types; keys sentence, flow, head, pumping_level, intake_depth, motor_power, moments, pump, pipes,
                                      intake, cooling, suction, cable, generator, energy_kwh_per_kl, cost_minor_per_kl, advisories ...
    level_from_losses(static_level, linear_loss=, turbulent_loss=, fall=), level_from_table(flows, depths, fall=) -> function of flow
    pump_curve(name, flows, heads, efficiency=, npsh_required=), read_pump_curve(text), generic_curve(flow_class, stages=), generic_classes()
    Pipe(name, length, inside_diameter, ...), standard_pipe(name, flow=, length=), darcy_weisbach_loss, hazen_williams_loss
    pipe_of(name, material=, outside_diameter=, pressure_class=, length=, fittings=), pipe_wall, PIPE_MATERIALS, read_fittings(text)
    cable_for(current, length=, voltage=, phases=) -> Cable; volt_drop, starting_drop, generator_for, motor_current, motor_size
    daily_demand({"person, all household use": 4, ...}) -> Demand; bore_enough(rated_flow, demand) -> Enough(enough, words, tank, ...)
    tank_for(inflow=, demand=, days=, outage=) [m3]; dry_spell(tank, ...) -> DrySpell
    metered_use(electricity [J], water [m3]) -> (MeteredUse between each two readings, advisories)
    solar_yield(pump, system, panel_power=, irradiation=twelve [J/m2], latitude=) -> SolarYield; panel_for(...)
    on_the_plane(horizontal=twelve [J/m2], latitude=, tilt=, azimuth=) -> PlaneOfPanels(daily, ...)
    suction_margin, motor_cooling, intake_setting, water_hammer, check_shut_off

Generic curves are invented and say so. Electrical work is for a licensed electrician; each electrical result carries the caution.
"""

from borewright.pumping.checks import (
    IntakeSetting,
    MotorCooling,
    SuctionMargin,
    WaterHammer,
    check_minimum_flow,
    check_shut_off,
    intake_setting,
    motor_cooling,
    suction_margin,
    water_hammer,
)
from borewright.pumping.curve import PumpCurve, generic_classes, generic_curve, pump_curve, read_pump_curve
from borewright.pumping.demand import (
    Demand,
    DrySpell,
    Enough,
    bore_enough,
    daily_demand,
    demand_items,
    dry_spell,
    tank_for,
)
from borewright.pumping.electrics import (
    ELECTRICITY_CAUTION,
    STARTS,
    Cable,
    Generator,
    Start,
    cable_for,
    conductor_resistance,
    conductor_sizes,
    generator_for,
    longest_cable,
    motor_current,
    motor_efficiency,
    motor_size,
    start_named,
    starting_drop,
    volt_drop,
)
from borewright.pumping.energy import (
    MeteredUse,
    SolarYield,
    cost_per_kilolitre,
    energy_per_volume,
    metered_use,
    panel_for,
    solar_yield,
)
from borewright.pumping.operating import (
    HeadAtFlow,
    LifeOfDuty,
    OperatingPoint,
    System,
    duty_over_life,
    level_from_losses,
    level_from_table,
    operating_point,
    speed_for,
    system_head,
    water_power,
)
from borewright.pumping.pipes import (
    FITTINGS,
    Pipe,
    check_velocity,
    darcy_weisbach_loss,
    fittings_loss,
    hazen_williams_loss,
    pipe_velocity,
    vapour_pressure,
    water_density,
    water_viscosity,
)
from borewright.pumping.pipetable import PIPE_MATERIALS, pipe_of, pipe_wall, read_fittings
from borewright.pumping.selection import Duty, duty, duty_as_dict, generic_pump, standard_pipe
from borewright.pumping.sun import PlaneOfPanels, day_length, on_the_plane

__all__ = [
    "ELECTRICITY_CAUTION", "FITTINGS", "PIPE_MATERIALS", "STARTS", "Cable", "Demand", "DrySpell", "Duty", "Enough", "Generator", "HeadAtFlow", "IntakeSetting", "LifeOfDuty", "MeteredUse", "MotorCooling",
    "OperatingPoint", "Pipe", "PumpCurve", "PlaneOfPanels", "SolarYield", "Start", "SuctionMargin", "System", "WaterHammer", "bore_enough", "cable_for", "check_minimum_flow", "check_shut_off",
    "check_velocity", "conductor_resistance", "conductor_sizes", "cost_per_kilolitre", "daily_demand", "darcy_weisbach_loss", "day_length", "demand_items", "dry_spell", "duty",
    "duty_as_dict", "duty_over_life", "energy_per_volume", "fittings_loss", "generator_for", "generic_classes", "generic_curve", "generic_pump", "hazen_williams_loss",
    "intake_setting", "level_from_losses", "level_from_table", "longest_cable", "metered_use", "motor_cooling", "motor_current", "motor_efficiency", "motor_size", "on_the_plane", "operating_point", "panel_for",
    "pipe_of", "pipe_velocity", "pipe_wall", "pump_curve", "read_fittings", "read_pump_curve", "solar_yield", "speed_for", "standard_pipe", "start_named", "starting_drop", "suction_margin", "system_head", "tank_for", "vapour_pressure",
    "volt_drop", "water_density", "water_hammer", "water_power", "water_viscosity",
]
