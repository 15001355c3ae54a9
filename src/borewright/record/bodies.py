"""What each kind of entry holds. Strict at the border: nothing unknown, nothing that is not finite, nothing impossible.

Depths are metres below ground level, flows m3/s, masses kg, diameters outside diameters in metres. A body may be half a
truth: only what the kind cannot do without is required; `borewright.record.complete` says what a paper still needs.
A change of format adds a version and an upcaster to `_UPCASTERS`; upcasters are kept for ever.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import PydanticCustomError, from_json, to_json

from borewright.errors import BadInput
from borewright.record.refusals import told

__all__ = ["CURRENT_VERSION", "KINDS", "NOT_A_SWITCH", "Body", "read_body", "schema_of", "validate_body"]

LARGEST_BODY = 2_000_000  # bytes of JSON; what is larger belongs in an attachment


def _no_switch(value: Any) -> Any:
    if isinstance(value, bool):
        raise PydanticCustomError("number", "is true or false, not a number")
    return value


# It stands last in each: what stands before it is then checked within pydantic's core, and not by a call of Python for each bound.
NOT_A_SWITCH = BeforeValidator(_no_switch)
Number = Annotated[float, NOT_A_SWITCH]
Count = Annotated[int, NOT_A_SWITCH]
Depth = Annotated[float, Field(ge=0, le=3000), NOT_A_SWITCH]
Level = Annotated[float, Field(ge=-100, le=3000), NOT_A_SWITCH]
Diameter = Annotated[float, Field(gt=0, le=3), NOT_A_SWITCH]
Flow = Annotated[float, Field(ge=0, le=5), NOT_A_SWITCH]
Positive = Annotated[float, Field(gt=0), NOT_A_SWITCH]
NonNegative = Annotated[float, Field(ge=0), NOT_A_SWITCH]
Text = Annotated[str, Field(max_length=4000)]
Word = Annotated[str, Field(max_length=200)]
Latitude = Annotated[float, Field(ge=-90, le=90), NOT_A_SWITCH]
Longitude = Annotated[float, Field(ge=-180, le=180), NOT_A_SWITCH]

WAYS_OF_PICKING = ("lineament", "sounding", "neighbour's bore", "divining", "customer's choice", "driller's judgement", "other")
USES = ("house", "stock", "garden", "irrigation", "industry", "other")


class Body(BaseModel):
    """Base of every body. `typed` keeps the text of each value as it was typed, beside its SI value."""

    # "constants": a NaN deep inside a free body stays a NaN, which is then refused, and is not written as if nothing was said.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, ser_json_inf_nan="constants", defer_build=True)
    typed: dict[str, Word] = Field(default_factory=dict)


class Opened(Body):
    title: Word
    reference: Word = ""


class Customer(Body):
    name: Word
    phone: Word = ""
    email: Word = ""
    address: Text = ""


class Need(Body):
    flow: Flow
    daily_volume: NonNegative | None = None
    use: Literal["house", "stock", "garden", "irrigation", "industry", "other"] = "house"
    people: Annotated[int, Field(ge=0, le=100000), NOT_A_SWITCH] | None = None
    note: Text = ""


class Site(Body):
    latitude: Latitude
    longitude: Longitude
    name: Word = ""
    access: Text = ""
    distance_from_yard: NonNegative | None = None  # m
    pipe_run: NonNegative | None = None  # m, spot to house or tank
    lift_to_tank: Annotated[float, Field(ge=-500, le=1000), NOT_A_SWITCH] | None = None  # m
    zone: Word = ""  # IANA time zone


class Closed(Body):
    reason: Text


class Hazard(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    kind: Word
    distance: NonNegative | None = None
    note: Text = ""


class Spot(Body):
    name: Word = "A"
    latitude: Latitude
    longitude: Longitude
    elevation: Annotated[float, Field(ge=-500, le=9000), NOT_A_SWITCH] | None = None
    way_of_picking: Literal["lineament", "sounding", "neighbour's bore", "divining", "customer's choice", "driller's judgement", "other"] = "other"
    hazards: tuple[Hazard, ...] = ()
    note: Text = ""


class OddsTold(Body):
    """The odds as they were told: kept as evidence, never recomputed. `answer` is the whole answer as JSON."""

    register_name: Word
    need: Flow
    answer: dict[str, Any]
    sentence: Text = ""
    refused: Text = ""


class QuoteIssued(Body):
    number: Word
    revision: Annotated[int, Field(ge=1), NOT_A_SWITCH] = 1
    valid_until: Word = ""  # ISO date
    content: dict[str, Any]
    content_hash: Word


class QuoteAccepted(Body):
    number: Word
    revision: Annotated[int, Field(ge=1), NOT_A_SWITCH] = 1
    name: Word
    content_hash: Word
    way: Word = ""


class QuoteVaried(Body):
    number: Word
    reason: Text
    amount_minor: Count
    currency: Annotated[str, Field(min_length=3, max_length=3)]


class Design(Body):
    basis: Literal["expected", "logged", "by hand"]
    design: dict[str, Any]


class DayStarted(Body):
    checks: dict[str, bool] = Field(default_factory=dict)
    crew: tuple[Word, ...] = ()
    note: Text = ""


class HoleBody(Body):
    """Base of what happens in a hole; a job may have several."""

    hole: Annotated[int, Field(ge=1, le=99), NOT_A_SWITCH] = 1


class HoleStarted(HoleBody):
    spot: Word = "A"
    rig: Word = ""
    method: Word = "air rotary, down-hole hammer"
    rod_length: Annotated[float, Field(gt=0, le=20), NOT_A_SWITCH] = 3.0
    rod_diameter: Diameter | None = None  # outside; since version 2
    air_flow: NonNegative | None = None  # m3/s free air
    air_pressure: NonNegative | None = None  # Pa


class Bit(HoleBody):
    diameter: Diameter
    kind: Word = ""
    from_depth: Depth = 0.0


class Advanced(HoleBody):
    to_depth: Depth
    rods: Annotated[int, Field(ge=0, le=500), NOT_A_SWITCH] | None = None


def _in_order(interval: Any) -> Any:
    if interval.to_depth <= interval.from_depth:
        raise PydanticCustomError(
            "interval", "is not below from_depth {above}",
            {"field": "to_depth", "value": interval.to_depth, "above": interval.from_depth, "want": f"a depth below {interval.from_depth:g} m"},
        )
    return interval


class _Interval(HoleBody):
    from_depth: Depth
    to_depth: Depth
    _ordered = model_validator(mode="after")(_in_order)


class Ground(_Interval):
    words: Word
    ground_class: Word = ""
    colour: Word = ""
    grain: Word = ""
    strength: Word = ""
    weathering: Word = ""


class Struck(HoleBody):
    depth: Depth
    note: Text = ""


class FlowMeasured(HoleBody):
    depth: Depth
    method: Literal["bucket", "V-notch", "rectangular weir", "orifice pipe", "pipe trajectory", "upright pipe", "meter", "estimate"]
    readings: dict[str, Any] = Field(default_factory=dict)
    flow: Flow
    standard_uncertainty: NonNegative | None = None


class LevelDipped(HoleBody):
    depth_to_water: Level  # below ground level whatever it was measured from, negative when it flows
    state: Literal["static", "pumping", "recovering", "drilling"] = "static"
    measured_from: Literal["ground", "top of casing"] = "ground"
    stick_up: NonNegative = 0.0


class CasingRun(_Interval):
    string: Literal["conductor", "surface", "production"]
    outside_diameter: Diameter
    wall: Annotated[float, Field(gt=0, lt=0.1), NOT_A_SWITCH] | None = None
    material: Word = ""
    joints: Annotated[int, Field(ge=0), NOT_A_SWITCH] | None = None
    slotted: bool = False
    aperture: Annotated[float, Field(gt=0, lt=0.05), NOT_A_SWITCH] | None = None

    @model_validator(mode="after")
    def _open_inside(self):
        if self.wall is not None and 2 * self.wall >= self.outside_diameter:
            raise PydanticCustomError(
                "wall", "leaves no opening in a casing of {outside} m",
                {"field": "wall", "value": self.wall, "outside": self.outside_diameter, "want": "a wall under half the outside diameter [m]"},
            )
        return self


class AnnulusPlaced(_Interval):
    what: Literal["seal", "grout", "pack", "backfill"]
    material: Word
    bags: NonNegative | None = None
    bag_mass: Positive | None = None
    density: Positive | None = None
    volume: NonNegative | None = None


class AirliftReading(HoleBody):
    elapsed: NonNegative  # s since air-lifting began
    flow: Flow | None = None
    sand: NonNegative | None = None  # mg/L
    turbidity: NonNegative | None = None  # NTU
    clear: bool | None = None


class Sampled(HoleBody):
    depth: Depth | None = None
    conductivity: NonNegative | None = None  # uS/cm at 25 degC
    ph: Annotated[float, Field(ge=0, le=14), NOT_A_SWITCH] | None = None
    temperature: Annotated[float, Field(ge=-5, le=120), NOT_A_SWITCH] | None = None
    bottle: Word = ""


class Stopped(HoleBody):
    depth: Depth
    reason: Literal["enough water", "walked away", "depth agreed", "hole lost", "other"]
    words: Text = ""


class SealedInterval(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    from_depth: Depth
    to_depth: Depth
    material: Word
    bags: NonNegative | None = None
    volume: NonNegative | None = None
    _ordered = model_validator(mode="after")(_in_order)


class SealedOff(HoleBody):
    intervals: Annotated[tuple[SealedInterval, ...], Field(min_length=1)]
    reason: Text = ""


class Used(HoleBody):
    item: Word
    quantity: NonNegative
    unit: Word


class StoodBy(HoleBody):
    reason: Word
    duration: NonNegative | None = None  # s


class NearMiss(HoleBody):
    what: Text
    done: Text = ""


class Photo(HoleBody):
    """A photo kept whole as an attachment; when it was taken is the moment of the entry, where is what its file or the driller says.

    Some phones take the place out of a picked picture's file: then it may be the place of the phone, not of the picture.
    """

    attachment: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    media_type: Word = "image/jpeg"
    depth: Depth | None = None
    caption: Text = ""
    latitude: Latitude | None = None  # since version 2
    longitude: Longitude | None = None
    place_of: Literal["picture", "phone"] = "picture"  # since version 3: whose place that is
    place_within: NonNegative | None = None  # m, as the phone says it


class Note(HoleBody):
    text: Text
    depth: Depth | None = None


class OtherPumped(BaseModel):
    """Another bore that pumped meanwhile: (start in s on the run's clock, rate), and its distance from the run's bore and from each other bore read [m]."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    name: Word
    steps: Annotated[tuple[tuple[Number, Flow], ...], Field(min_length=1)]
    distance: NonNegative | None = None
    distances: dict[Word, NonNegative] = Field(default_factory=dict)  # by the name of the bore read


class TestRun(HoleBody):
    """A test on the bore; levels follow in test.levels entries that name it by `run`."""

    __test__ = False
    run: Word
    type: Literal["constant rate", "recovery", "step", "slug", "airlift"]
    rate: Flow | None = None
    steps: tuple[tuple[NonNegative, Flow], ...] = ()  # (start in s, rate)
    duration: NonNegative | None = None
    static_level: Level | None = None
    well: Word = "pumped"
    radius: NonNegative | None = None
    also_pumped: tuple[OtherPumped, ...] = ()


class TestLevels(HoleBody):
    """Times count from the start of the run; those of a recovery run from the moment the pump stopped [s]. Drawdown is positive down [m]."""

    __test__ = False
    run: Word
    well: Word = "pumped"
    radius: NonNegative | None = None
    time: tuple[NonNegative, ...]
    drawdown: tuple[Number, ...]
    attachment: Word = ""  # the file that they were read from
    source: dict[str, Any] = Field(default_factory=dict)  # how that file was read: columns, date format, zone, corrections, thinning

    @model_validator(mode="after")
    def _paired(self):
        if len(self.time) != len(self.drawdown):
            raise PydanticCustomError(
                "pairs", "has {drawdowns} values for {times} times",
                {"field": "drawdown", "value": len(self.drawdown), "drawdowns": len(self.drawdown), "times": len(self.time),
                 "want": "one drawdown for each time"},
            )
        return self


class TestPlanned(HoleBody):
    """A test planned before it is run: what it was planned from, and steps, rate, times and reasons as they were told."""

    __test__ = False
    inputs: dict[str, Any] = Field(default_factory=dict)
    plan: dict[str, Any]


class TestFitted(HoleBody):
    __test__ = False
    run: Word
    result: dict[str, Any]


class Rated(HoleBody):
    rating: dict[str, Any]
    flow: Flow | None = None


class PumpChosen(HoleBody):
    name: Word = ""
    intake_depth: Depth | None = None
    duty: dict[str, Any] = Field(default_factory=dict)


class PumpDemand(Body):
    """What is wanted in a day, by the dated table, and what was told of the bore and the tank."""

    numbers: dict[Word, NonNegative] = Field(default_factory=dict)  # of each line of the demand table
    extra: NonNegative = 0.0  # m3 a day
    dry_days: Annotated[int, Field(ge=1, le=3660), NOT_A_SWITCH] = 90
    outage_days: Annotated[int, Field(ge=0, le=3660), NOT_A_SWITCH] = 3
    pumping_time: Annotated[float, Field(gt=0, le=86400), NOT_A_SWITCH] = 64800.0  # s in a day
    dry_yield: Annotated[float, Field(gt=0, le=1), NOT_A_SWITCH] = 1.0  # share of the rating left in the spell
    tank: NonNegative | None = None  # m3, the one that stands there
    answer: dict[str, Any] = Field(default_factory=dict)


class PumpSun(HoleBody):
    """What panels lift in a day of each month, as it was told."""

    irradiation: Annotated[tuple[NonNegative, ...], Field(min_length=12, max_length=12)]  # on the panels, J/m2 a day, January first
    horizontal: Annotated[tuple[NonNegative, ...], Field(min_length=12, max_length=12)] | None = None  # what it was worked out from; since version 2
    tilt: Annotated[float, Field(ge=0, le=90), NOT_A_SWITCH] | None = None  # degrees from flat; since version 2
    azimuth: Annotated[float, Field(ge=0, le=360), NOT_A_SWITCH] | None = None  # true bearing that the panels face, degrees; since version 2
    panel_power: NonNegative | None = None  # W
    answer: dict[str, Any] = Field(default_factory=dict)


def _a_day(value: Any) -> Any:
    if isinstance(value, str):
        try:
            date.fromisoformat(value)
        except ValueError:
            raise PydanticCustomError("day", "is not a day", {"want": "a date such as 2026-03-02"}) from None
    return value


class PumpServiced(HoleBody):
    """What was done to a pump or its bore in the years after: the day, what, and who did it."""

    date: Annotated[Word, BeforeValidator(_a_day)]
    what: Annotated[Text, Field(min_length=1)]
    by: Word = ""


class PumpReading(HoleBody):
    """What an owner or a driller reads off a working bore; it says nothing of the hole as it was drilled, so it stands apart from the log."""

    static_level: Level | None = None  # below ground, the pump at rest
    pumping_level: Level | None = None  # below ground, after the usual hours of pumping
    flow: Flow | None = None
    conductivity: NonNegative | None = None  # uS/cm at 25 degC
    electricity_meter: NonNegative | None = None  # J since the meter was new; this and the next two since version 2
    water_meter: NonNegative | None = None  # m3 since the meter was new
    electric_power: NonNegative | None = None  # W while it pumps
    note: Text = ""

    @model_validator(mode="after")
    def _says_something(self):
        if all(v is None for v in (self.static_level, self.pumping_level, self.flow, self.conductivity, self.electricity_meter, self.water_meter, self.electric_power)):
            raise PydanticCustomError("nothing", "holds no reading", {"field": "static_level", "value": None, "want": "a level, a flow, a conductivity, a meter or a power"})
        return self


class WaterValue(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    name: Word
    value: Number
    unit: Word
    below_detection: bool = False
    form: Word = ""


class WaterAnalysis(HoleBody):
    laboratory: Word = ""
    sampled_on: Word = ""
    use: Word = "drinking"
    values: Annotated[tuple[WaterValue, ...], Field(min_length=1)]
    assessment: dict[str, Any] = Field(default_factory=dict)


class PaperIssued(Body):
    document: Word
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    inputs_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    paper: Literal["A4", "Letter"] = "A4"


class StruckOut(Body):
    """Nothing but a line through another entry; `Entry.strikes_out` names it."""

    why: Text = ""


KINDS: dict[str, type[Body]] = {
    "enquiry.opened": Opened, "enquiry.customer": Customer, "enquiry.need": Need, "enquiry.site": Site, "enquiry.closed": Closed,
    "ground.spot": Spot, "ground.odds": OddsTold,
    "quote.issued": QuoteIssued, "quote.accepted": QuoteAccepted, "quote.varied": QuoteVaried,
    "bore.design": Design,
    "rig.day_started": DayStarted, "rig.hole_started": HoleStarted, "rig.bit": Bit, "rig.advanced": Advanced, "rig.ground": Ground,
    "rig.struck": Struck, "rig.flow": FlowMeasured, "rig.level": LevelDipped, "rig.casing": CasingRun, "rig.annulus": AnnulusPlaced,
    "rig.airlift": AirliftReading, "rig.sample": Sampled, "rig.stopped": Stopped, "rig.sealed_off": SealedOff, "rig.used": Used,
    "rig.stood_by": StoodBy, "rig.near_miss": NearMiss, "rig.photo": Photo, "rig.note": Note,
    "test.planned": TestPlanned, "test.run": TestRun, "test.levels": TestLevels, "test.fitted": TestFitted, "test.rated": Rated,
    "pump.chosen": PumpChosen, "pump.demand": PumpDemand, "pump.sun": PumpSun, "pump.serviced": PumpServiced, "pump.reading": PumpReading,
    "water.analysis": WaterAnalysis, "papers.issued": PaperIssued, "struck_out": StruckOut,
}
# kind -> (version it brings up from -> function to the next version). A kind that is not here stands at version 1.
_UPCASTERS: dict[str, dict[int, Callable[[dict[str, Any]], dict[str, Any]]]] = {
    "rig.hole_started": {1: dict},  # version 2 may say the rods' diameter
    "test.run": {1: dict},  # version 2 may say which other bores pumped meanwhile
    "test.levels": {1: dict},  # version 2 may say how its file was read
    "pump.reading": {1: dict},  # version 2 may say what the meters stood at
    "pump.sun": {1: dict},  # version 2 may say the sun on the flat and how the panels stand
    "rig.photo": {1: dict, 2: dict},  # version 2 may say where it was taken, version 3 that it is the phone's place
}
CURRENT_VERSION: dict[str, int] = {kind: 1 + len(_UPCASTERS.get(kind, {})) for kind in KINDS}


_BUILT: set[str] = set()
_BUILDING = threading.Lock()


def _model(kind: str, version: int) -> type[Body] | None:
    """Return the model of a kind, or None if it is newer than this program. Forty models are built only as they are met."""
    model = KINDS.get(kind)
    if model is None or version > CURRENT_VERSION[kind]:
        return None
    if kind not in _BUILT:
        with _BUILDING:
            model.model_rebuild()
            _BUILT.add(kind)
    return model


def schema_of(kind: str) -> Mapping[str, Any]:
    """Return the schema of a known kind's body, as pydantic's core reads it."""
    model = _model(kind, 1)
    if model is None:
        raise KeyError(kind)
    return model.__pydantic_core_schema__


def _bring_up(kind: str, version: int, body: Mapping[str, Any]) -> dict[str, Any]:
    now = dict(body)
    for step in range(version, CURRENT_VERSION[kind]):
        now = _UPCASTERS[kind][step](now)
    return now


def read_body(kind: str, version: int, body: Mapping[str, Any]) -> Body | None:
    """Return the body as its model, brought up to the present format.

    None for a kind or format newer than this program, and for a body that this program's bounds no longer allow: such an
    entry is kept and shown, never dropped and never a reason why the rest of the job cannot be read.
    """
    model = _model(kind, version)
    if model is None:
        return None
    try:
        return model.model_validate(_bring_up(kind, version, body))
    except ValidationError:
        return None


def validate_body(kind: str, version: int, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return the body as plain JSON types if it is sound; an unknown kind or newer format passes as it is.

    What was not given stays absent: the book holds what was recorded, not what this version would assume.

    Raises
    ------
    BadInput
        The first field that cannot stand, with what would be right.
    """
    model = _model(kind, version)
    if model is None:
        return _plain_only(dict(body))
    now = version == CURRENT_VERSION[kind]
    try:
        read = model.__pydantic_validator__.validate_python(dict(body) if now else _bring_up(kind, version, body))
    except ValidationError as error:
        raise told(model, kind, error) from None
    except RecursionError as error:
        raise _unkeepable(body) from error
    if not now:
        return _plain_only(dict(body))
    try:
        text = model.__pydantic_serializer__.to_json(read, exclude_unset=True)
    except (TypeError, ValueError, RecursionError) as error:
        raise _unkeepable(body) from error
    return _read_back(text, body)


def _plain_only(body: dict[str, Any]) -> dict[str, Any]:
    """Return the body as JSON gives it back; raise BadInput for what JSON or UTF-8 cannot hold."""
    try:
        text = to_json(body, inf_nan_mode="constants")
    except (TypeError, ValueError, RecursionError) as error:
        raise _unkeepable(body) from error
    return _read_back(text, body)


def _read_back(text: bytes, body: Mapping[str, Any]) -> dict[str, Any]:
    try:
        plain = from_json(text, allow_inf_nan=False)
    except (ValueError, RecursionError) as error:
        raise _unkeepable(body) from error
    if len(text) > LARGEST_BODY:
        raise BadInput("body", f"{len(text)} bytes", "is too large for an entry", f"at most {LARGEST_BODY} bytes; attach a file instead")
    return plain


def _unkeepable(body: Mapping[str, Any]) -> BadInput:
    try:
        shown = str(body)[:80].encode(errors="replace").decode()
    except RecursionError:
        shown = "values within values, too deep to show"
    return BadInput("body", shown, "cannot be kept as JSON", "plain values that are finite")
