"""The single calculations of pumping."""

from __future__ import annotations

from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity, quantity_list
from borewright.errors import BadInput
from borewright.pumping import (
    ELECTRICITY_CAUTION,
    Pipe,
    System,
    bore_enough,
    cable_for,
    check_velocity,
    cost_per_kilolitre,
    daily_demand,
    darcy_weisbach_loss,
    dry_spell,
    duty,
    energy_per_volume,
    generator_for,
    hazen_williams_loss,
    motor_cooling,
    motor_current,
    panel_for,
    pipe_velocity,
    pump_curve,
    starting_drop,
    suction_margin,
    tank_for,
    water_hammer,
)

_ELECTRIC = (ELECTRICITY_CAUTION,)


class FrictionInputs(BenchModel):
    flow: float = quantity("flow", "L/s", "Flow", above=0, at_most=2, example="1 L/s")
    length: float = quantity("length", "m", "Length of the pipe", above=0, example="120 m")
    inside_diameter: float = quantity("diameter", "mm", "Inside diameter", above=0, at_most=2, example="40.8 mm")
    roughness: float = quantity("length", "mm", "Roughness of the wall: plastic 0.0015, new steel 0.045, galvanised 0.15 mm", at_least=0, default=1.5e-6, example="0.0015 mm")
    temperature: float = quantity("temperature", "degC", "Of the water", at_least=0, at_most=100, default=20.0, example="20 degC")
    hazen_williams: float = quantity("number", "", "Coefficient of the rule beside it: 150 new plastic, 140 new steel", above=10, at_most=170, default=150.0, example="150")


class FrictionResults(BenchModel):
    loss: float = quantity("length", "m", "Head lost by Darcy-Weisbach with Colebrook")
    loss_hazen_williams: float = quantity("length", "m", "Head lost by Hazen-Williams, for comparison")
    velocity: float = quantity("velocity", "m/s", "Mean velocity")


def _friction(given: FrictionInputs) -> Outcome:
    loss = darcy_weisbach_loss(given.flow, length=given.length, inside_diameter=given.inside_diameter, roughness=given.roughness, temperature=given.temperature)
    rule = hazen_williams_loss(given.flow, length=given.length, inside_diameter=given.inside_diameter, coefficient=given.hazen_williams)
    results = FrictionResults(loss=float(loss), loss_hazen_williams=float(rule), velocity=float(pipe_velocity(given.flow, given.inside_diameter)))
    return Outcome(results, check_velocity(given.flow, Pipe("pipe", given.length, given.inside_diameter)))


declare(Calculation(
    name="pipe-friction", title="Friction in a pipe", stage="pumping", about="The head lost in a straight full pipe, by law and by rule.", inputs=FrictionInputs, results=FrictionResults,
    compute=_friction,
    source=("Darcy-Weisbach with Colebrook (1939) J. Inst. Civil Engineers 11:133", "Hazen-Williams; Illinois Administrative Code 77-906 Appendix A as check"),
    limits=("Straight pipe: fittings are apart.", "Hazen-Williams is a rule for water near 15 degC in pipes over 25 mm."),
))


class DutyInputs(BenchModel):
    need: float = quantity("flow", "L/s", "Flow wanted", above=0, at_most=0.1, example="0.5 L/s")
    pumping_level: float = quantity("level", "m", "Depth to water while pumping at that flow", example="25 m")
    lift: float = quantity("level", "m", "From ground to the tank's inlet", default=0.0, example="6 m")
    pressure: float = quantity("pressure", "kPa", "Wanted at the outlet", at_least=0, default=0.0, example="200 kPa")
    main_length: float = quantity("length", "m", "From the bore to the tank", at_least=0, default=0.0, example="120 m")
    curve_flows: tuple[float, ...] | None = quantity_list("flow", "L/s", "Flows of the pump's curve; left out, an invented curve is chosen", default=None, example="0, 0.3, 0.6, 0.9 L/s")
    curve_heads: tuple[float, ...] | None = quantity_list("length", "m", "Heads of the pump's curve", default=None, example="60, 56, 46, 28 m")


class DutyResults(BenchModel):
    flow: float = quantity("flow", "L/s", "Flow that the pump gives")
    head: float = quantity("length", "m", "Head at that flow")
    friction: float = quantity("length", "m", "Of it, friction and fittings")
    shut_off_pressure: float = quantity("pressure", "kPa", "With the valve shut")
    motor_power: float | None = quantity("power", "kW", "Standard motor")
    energy_per_volume: float | None = quantity("energy", "kWh", "Electricity for each m3")


def _duty(given: DutyInputs) -> Outcome:
    if (given.curve_flows is None) != (given.curve_heads is None):
        raise BadInput("curve_heads" if given.curve_heads is None else "curve_flows", None, "is missing", "flows and heads of the curve, or neither")
    pump = None if given.curve_flows is None else pump_curve("the curve given", given.curve_flows, given.curve_heads)
    found = duty(given.need, levels={"now": given.pumping_level}, lift=given.lift, delivery_pressure=given.pressure, main_length=given.main_length, pump=pump)
    results = DutyResults(
        flow=found.flow, head=found.head, friction=found.friction, shut_off_pressure=found.pump.shut_off_head * 9806.65, motor_power=found.motor, energy_per_volume=found.energy,
    )
    return Outcome(results, found.advisories)


declare(Calculation(
    name="pump-duty", title="Duty of a pump", stage="pumping", about="The flow and head at which a pump runs on a bore with its pipes.", inputs=DutyInputs, results=DutyResults, compute=_duty,
    source=("Total head: US Army TM 5-813-1 (1987) p. 33", "Friction: Darcy-Weisbach with Colebrook (1939)", "Generic curves: invented"),
    limits=("The pumping level is held at every flow; on a job page it follows the rating.", "Polyethylene pipe is chosen for under 1.5 m/s."), cautions=_ELECTRIC,
))


class CableInputs(BenchModel):
    motor_power: float = quantity("power", "kW", "Output of the motor", above=0, at_most=2e5, example="1.5 kW")
    length: float = quantity("length", "m", "From the board to the motor, one way", above=0, example="90 m")
    voltage: float = quantity("voltage", "V", "At the board; between phases where there are three", above=10, at_most=1000, default=230.0, example="230 V")
    phases: str = choice(("1", "3"), "Phases", default="1")
    current: float | None = quantity("current", "A", "From the nameplate; worked out if left out", above=0, default=None, example="10 A")
    allowed_drop: float = quantity("fraction", "%", "Volt drop allowed while running", above=0, below=0.5, default=0.05, example="5 %")


class CableResults(BenchModel):
    conductor_area: float = quantity("area", "mm2", "Size of one copper conductor")
    current: float = quantity("current", "A", "Running current")
    drop: float = quantity("fraction", "%", "Volt drop while running")
    start_drop: float = quantity("fraction", "%", "Volt drop at the start, direct on line")
    generator: float = quantity("number", "", "Least rating of a generator [VA]")


def _cable(given: CableInputs) -> Outcome:
    phases = int(given.phases)
    current = motor_current(given.motor_power, voltage=given.voltage, phases=phases) if given.current is None else given.current
    cable = cable_for(current, length=given.length, voltage=given.voltage, phases=phases, allowed=given.allowed_drop)
    generator = generator_for(current, voltage=given.voltage, phases=phases)
    results = CableResults(conductor_area=cable.conductor_area, current=current, drop=cable.drop, start_drop=cable.start_drop, generator=generator.rating)
    return Outcome(results, (*(a for a in cable.advisories if a.severity != "danger"), *(a for a in generator.advisories if a.severity != "danger")))


declare(Calculation(
    name="cable-size", title="Cable to the pump", stage="pumping", about="The smallest copper cable that keeps the volt drop, carries the current and lets the motor start.",
    inputs=CableInputs, results=CableResults, compute=_cable,
    source=("Resistance: IEC 60228:2004 class 5 at 70 degC", "Current: IEC 60364-5-52 method C, from memory", "5 % running: pump maker's cable chart"),
    limits=("Reactance left out: sound to 35 mm2.", "Grouping, burial, heat and the breaker are not judged here."), cautions=_ELECTRIC,
))


class StartInputs(BenchModel):
    current: float = quantity("current", "A", "Running current", above=0, example="10 A")
    length: float = quantity("length", "m", "One way", above=0, example="90 m")
    resistance: float = quantity("number", "", "Of one conductor [ohm/km]", above=0, example="3.95")
    voltage: float = quantity("voltage", "V", "At the board", above=10, default=230.0, example="230 V")
    start_factor: float = quantity("number", "", "Starting current over running current: 5 direct on line, 3 soft", at_least=1, at_most=12, default=5.0, example="5")
    phases: str = choice(("1", "3"), "Phases", default="1")


class StartResults(BenchModel):
    drop: float = quantity("fraction", "%", "Share of the voltage lost at the start")


declare(Calculation(
    name="starting-drop", title="Volt drop at the start", stage="pumping", about="The share of the voltage lost in the cable while a motor starts.", inputs=StartInputs, results=StartResults,
    compute=lambda given: Outcome(StartResults(drop=starting_drop(
        given.current, [(given.length, given.resistance / 1000)], voltage=given.voltage, phases=int(given.phases), start_factor=given.start_factor))),
    source=("2 I R L single phase, sqrt(3) I R L three phase",), limits=("The supply itself is taken as stiff; reactance left out.",), cautions=_ELECTRIC,
))


class CoolingInputs(BenchModel):
    flow: float = quantity("flow", "L/s", "Least flow of the pump", above=0, example="0.5 L/s")
    casing_inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the casing", above=0, at_most=2, example="125 mm")
    motor_diameter: float = quantity("diameter", "mm", "Outside diameter of the motor", above=0, at_most=1, default=0.096, example="96 mm")
    water: str = choice(("from below", "from above"), "Where water enters, seen from the pump", default="from below")


class CoolingResults(BenchModel):
    velocity: float = quantity("velocity", "m/s", "Past the motor")
    wanted: float = quantity("velocity", "m/s", "To keep it cool")
    flow_needed: float = quantity("flow", "L/s", "Flow that would cool it without a shroud")
    shroud_inside_diameter: float | None = quantity("diameter", "mm", "Largest shroud that cools it")


def _cooling(given: CoolingInputs) -> Outcome:
    found = motor_cooling(given.flow, casing_inside_diameter=given.casing_inside_diameter, motor_diameter=given.motor_diameter, water_from_above=given.water == "from above")
    return Outcome(CoolingResults(**{name: getattr(found, name) for name in CoolingResults.model_fields}), found.advisories)


declare(Calculation(
    name="motor-cooling", title="Cooling of the motor", stage="pumping", about="Whether enough water passes a submersible motor to cool it.", inputs=CoolingInputs, results=CoolingResults,
    compute=_cooling, source=("Submersible motor maker's application manual, table of least flow: 7.6 cm/s to 4 inch, 15.2 cm/s above",), limits=("Water to 30 degC.",), cautions=_ELECTRIC,
))


class SuctionInputs(BenchModel):
    submergence: float = quantity("level", "m", "Water above the inlet; minus for a suction lift", example="3 m")
    required: float = quantity("length", "m", "Net positive suction head that the pump needs", at_least=0, example="2.5 m")
    suction_loss: float = quantity("length", "m", "Friction before the inlet", at_least=0, default=0.0, example="0.2 m")
    temperature: float = quantity("temperature", "degC", "Of the water", at_least=0, at_most=100, default=20.0, example="20 degC")
    atmospheric_pressure: float = quantity("pressure", "kPa", "At the site", above=0, default=101325.0, example="101.3 kPa")


class SuctionResults(BenchModel):
    available: float = quantity("length", "m", "Suction head that there is")
    margin: float = quantity("level", "m", "Over what the pump needs")


def _suction(given: SuctionInputs) -> Outcome:
    found = suction_margin(**given.model_dump())
    return Outcome(SuctionResults(available=found.available, margin=found.margin), found.advisories)


declare(Calculation(
    name="suction-head", title="Net positive suction head", stage="pumping", about="Whether a pump's inlet has head enough not to cavitate.", inputs=SuctionInputs, results=SuctionResults,
    compute=_suction, source=("(atmosphere - vapour pressure) / (density g) + submergence - friction; vapour pressure within 0.3 % of a published pump text",),
))


class HammerInputs(BenchModel):
    velocity: float = quantity("velocity", "m/s", "Before stopping", above=0, at_most=20, example="1.2 m/s")
    length: float = quantity("length", "m", "Of the pipe", above=0, example="150 m")
    inside_diameter: float = quantity("diameter", "mm", "Inside diameter", above=0, example="40.8 mm")
    wall: float = quantity("diameter", "mm", "Thickness of the wall", above=0, example="4.6 mm")
    material: str = choice(("polyethylene", "PVC", "steel"), "Of the pipe", default="polyethylene")
    closing_time: float = quantity("time", "s", "In which the flow stops; 0 when a pump trips", at_least=0, default=0.0, example="2 s")


class HammerResults(BenchModel):
    surge: float = quantity("pressure", "kPa", "Above running pressure")
    wave_speed: float = quantity("velocity", "m/s", "Of the pressure wave")
    critical_time: float = quantity("time", "s", "A slower stop surges less")


def _hammer(given: HammerInputs) -> Outcome:
    modulus = {"polyethylene": 0.8e9, "PVC": 2.8e9, "steel": 2.0e11}[given.material]
    found = water_hammer(given.velocity, length=given.length, inside_diameter=given.inside_diameter, wall=given.wall, modulus=modulus, closing_time=given.closing_time)
    return Outcome(HammerResults(surge=found.surge, wave_speed=found.wave_speed, critical_time=found.critical_time), found.advisories)


declare(Calculation(
    name="water-hammer", title="Water hammer", stage="pumping", about="The surge when water in one plain pipe is stopped.", inputs=HammerInputs, results=HammerResults, compute=_hammer,
    source=("Joukowsky (1904), wave speed after Korteweg (1878); from memory",), limits=("One plain pipe, no parting of the column: an estimate.",),
    cautions=("A burst main throws water and fittings: keep clear while it is first filled and started.",),
))


class CostInputs(BenchModel):
    head: float = quantity("length", "m", "Total head", above=0, example="60 m")
    pump_efficiency: float = quantity("fraction", "%", "Of the pump", above=0, at_most=1, example="55 %")
    motor_efficiency: float = quantity("fraction", "%", "Of the motor", above=0, at_most=1, default=0.72, example="72 %")
    price: float = quantity("number", "", "Of a kWh, in cents or pence", above=0, example="35")


class CostResults(BenchModel):
    energy_per_volume: float = quantity("energy", "kWh", "Electricity for each m3")
    cost: float = quantity("number", "", "Of a kilolitre, in cents or pence")


def _cost(given: CostInputs) -> Outcome:
    energy = energy_per_volume(given.head, pump_efficiency=given.pump_efficiency, motor_efficiency=given.motor_efficiency)
    return Outcome(CostResults(energy_per_volume=energy, cost=float(cost_per_kilolitre(energy, given.price))))


declare(Calculation(
    name="cost-of-water", title="Cost of lifting water", stage="pumping", about="Electricity and its cost for a kilolitre.", inputs=CostInputs, results=CostResults, compute=_cost,
    source=("density g H / efficiencies",), limits=("Energy alone: no standing charge, wear or upkeep.",),
))


class TankInputs(BenchModel):
    rated_flow: float = quantity("flow", "L/s", "Rated yield of the bore", above=0, example="0.1 L/s")
    pumping_hours: float = quantity("time", "h", "Of pumping in a day", above=0, at_most=86400, default=64800.0, example="18 h")
    demand: float = quantity("volume", "L", "Wanted in a day", above=0, example="3000 L")
    dry_days: float = quantity("time", "d", "Length of the dry spell", at_least=86400, at_most=3660 * 86400, default=90 * 86400.0, example="90 d")
    outage: float = quantity("time", "d", "Without a pump, at its start", at_least=0, default=3 * 86400.0, example="3 d")
    tank: float | None = quantity("volume", "L", "A tank to try", at_least=0, default=None, example="20000 L")


class TankResults(BenchModel):
    tank_needed: float = quantity("volume", "L", "Least tank that never runs short")
    daily_yield: float = quantity("volume", "L", "That the bore gives in a day")
    days_short: float | None = quantity("number", "", "Days short with the tank tried")


def _tank(given: TankInputs) -> Outcome:
    days, outage = round(given.dry_days / 86400), round(given.outage / 86400)
    daily = given.rated_flow * given.pumping_hours
    needed = tank_for(inflow=daily, demand=given.demand, days=days, outage=outage)
    short = None if given.tank is None else float(dry_spell(given.tank, inflow=daily, demand=given.demand, days=days, outage=outage).days_short)
    return Outcome(TankResults(tank_needed=needed, daily_yield=daily, days_short=short))


declare(Calculation(
    name="tank-size", title="Tank for a dry spell", stage="pumping", about="The least tank, full at the start, that carries a dry spell with a breakdown in it.", inputs=TankInputs, results=TankResults,
    compute=_tank, source=("Day-by-day water balance",), limits=("Water to fight fire is not counted.",),
))


class DemandInputs(BenchModel):
    rated_flow: float = quantity("flow", "L/s", "Rated yield of the bore", above=0, example="0.2 L/s")
    people: float = quantity("number", "", "People in the house; 0 where only stock or land is watered", at_least=0, example="4")
    dry_cattle: float = quantity("number", "", "Dry cattle", at_least=0, default=0.0, example="20")
    dry_sheep: float = quantity("number", "", "Dry sheep", at_least=0, default=0.0, example="100")
    horses: float = quantity("number", "", "Horses", at_least=0, default=0.0, example="2")
    garden: float = quantity("area", "m2", "Watered garden", at_least=0, default=0.0, example="200 m2")


class DemandResults(BenchModel):
    low: float = quantity("volume", "L", "Wanted in a day, low")
    high: float = quantity("volume", "L", "Wanted in a day, high")
    daily_yield: float = quantity("volume", "L", "That the bore gives in a dry day")
    tank: float = quantity("volume", "L", "Tank advised")


def _demand(given: DemandInputs) -> Outcome:
    demand = daily_demand({
        "person, all household use": given.people, "dry cattle": given.dry_cattle, "dry sheep": given.dry_sheep, "horse": given.horses, "square metre of garden": given.garden,
    })
    from borewright.errors import Advisory

    found = bore_enough(given.rated_flow, demand)
    results = DemandResults(low=demand.low, high=demand.high, daily_yield=found.daily_yield, tank=found.tank)
    return Outcome(results, (Advisory("enough", "note", found.words, "rated_flow"), *found.advisories))


declare(Calculation(
    name="bore-enough", title="Is this bore enough?", stage="pumping", about="What people, stock and garden want in a day against what the bore gives, and the tank between.",
    inputs=DemandInputs, results=DemandResults, compute=_demand,
    source=("Stock: Agriculture Victoria, Useful tables; NSW Government, Water for livestock", "House: Groundwater Project, Domestic Wells, ch. 4", "Busy hours: Penn State Extension"),
    limits=("18 hours of pumping a day, 90 dry days, three of them without a pump.",),
))


class SunInputs(BenchModel):
    demand: float = quantity("volume", "L", "Wanted in a day", above=0, example="4000 L")
    need: float = quantity("flow", "L/s", "Flow of the pump at full sun", above=0, at_most=0.1, example="0.5 L/s")
    pumping_level: float = quantity("level", "m", "Depth to water while pumping", example="25 m")
    lift: float = quantity("level", "m", "From ground to the tank's inlet", default=0.0, example="6 m")
    latitude: float = quantity("angle", "deg", "Minus in the south", at_least=-90, at_most=90, example="-35 deg")
    irradiation: tuple[float, ...] = quantity_list(
        "energy", "kWh", "On each square metre of panel on a mean day, January first, twelve numbers",
        example="6.8, 6.2, 5.4, 4.2, 3.2, 2.8, 3.0, 3.9, 4.9, 5.8, 6.4, 6.8 kWh",
    )


class SunResults(BenchModel):
    panel_power: float = quantity("power", "kW", "Least panels, rated at 1000 W/m2")
    worst_day: float = quantity("volume", "L", "On a mean day of the worst month")
    best_day: float = quantity("volume", "L", "On a mean day of the best month")
    worst_month: float = quantity("number", "", "1 for January")


def _sun(given: SunInputs) -> Outcome:
    found = duty(given.need, levels={"now": given.pumping_level}, lift=given.lift)
    system = System(lambda flow: 0.0 * flow + given.pumping_level, given.lift, 0.0, found.pipes)
    sun = panel_for(found.pump, system, demand=given.demand, irradiation=given.irradiation, latitude=given.latitude)
    results = SunResults(panel_power=sun.panel_power, worst_day=float(sun.daily.min()), best_day=float(sun.daily.max()), worst_month=float(sun.worst_month))
    return Outcome(results, tuple(a for a in sun.advisories if a.severity != "danger"))


declare(Calculation(
    name="sun-pump", title="Panels for a sun pump", stage="pumping", about="The least panels that lift a day's water in the worst month.", inputs=SunInputs, results=SunResults, compute=_sun,
    source=("Affinity laws on the system's curve; half-sine sun", "Day length: Duffie and Beckman, Solar engineering of thermal processes, eq. 1.6, from memory", "Generic curves: invented"),
    limits=("A fifth of the panels' power is taken as lost (common practice, no source).",), cautions=_ELECTRIC,
))
