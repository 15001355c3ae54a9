"""What each kind of entry holds. Strict at the border: nothing unknown, nothing that is not finite, nothing impossible.

Depths are metres below ground level, flows m3/s, masses kg, diameters outside diameters in metres. A body may be half a
truth: only what the kind cannot do without is required; `borewright.record.complete` says what a paper still needs.
A change of format adds a version and an upcaster to `_UPCASTERS`; upcasters are kept for ever.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from borewright.errors import BadInput

__all__ = ["KINDS", "Body", "read_body", "validate_body"]

Depth = Annotated[float, Field(ge=0, le=3000)]
Level = Annotated[float, Field(ge=-100, le=3000)]
Diameter = Annotated[float, Field(gt=0, le=3)]
Flow = Annotated[float, Field(ge=0, le=5)]
Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]
Fraction = Annotated[float, Field(ge=0, le=1)]
Text = Annotated[str, Field(max_length=4000)]
Word = Annotated[str, Field(max_length=200)]
Latitude = Annotated[float, Field(ge=-90, le=90)]
Longitude = Annotated[float, Field(ge=-180, le=180)]

WAYS_OF_PICKING = ("lineament", "sounding", "neighbour's bore", "divining", "customer's choice", "driller's judgement", "other")
USES = ("house", "stock", "garden", "irrigation", "industry", "other")


class Body(BaseModel):
    """Base of every body. `typed` keeps the text of each value as it was typed, beside its SI value."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=False)
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
    people: Annotated[int, Field(ge=0, le=100000)] | None = None
    note: Text = ""


class Site(Body):
    latitude: Latitude
    longitude: Longitude
    name: Word = ""
    access: Text = ""
    distance_from_yard: NonNegative | None = None  # m
    pipe_run: NonNegative | None = None  # m, spot to house or tank
    lift_to_tank: Annotated[float, Field(ge=-500, le=1000)] | None = None  # m
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
    elevation: Annotated[float, Field(ge=-500, le=9000)] | None = None
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
    revision: Annotated[int, Field(ge=1)] = 1
    valid_until: Word = ""  # ISO date
    content: dict[str, Any]
    content_hash: Word


class QuoteAccepted(Body):
    number: Word
    revision: Annotated[int, Field(ge=1)] = 1
    name: Word
    content_hash: Word
    way: Word = ""


class QuoteVaried(Body):
    number: Word
    reason: Text
    amount_minor: int
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

    hole: Annotated[int, Field(ge=1, le=99)] = 1


class HoleStarted(HoleBody):
    spot: Word = "A"
    rig: Word = ""
    method: Word = "air rotary, down-hole hammer"
    rod_length: Annotated[float, Field(gt=0, le=20)] = 3.0
    air_flow: NonNegative | None = None  # m3/s free air
    air_pressure: NonNegative | None = None  # Pa


class Bit(HoleBody):
    diameter: Diameter
    kind: Word = ""
    from_depth: Depth = 0.0


class Advanced(HoleBody):
    to_depth: Depth
    rods: Annotated[int, Field(ge=0, le=500)] | None = None


class _Interval(HoleBody):
    from_depth: Depth
    to_depth: Depth

    @model_validator(mode="after")
    def _in_order(self):
        if self.to_depth <= self.from_depth:
            raise ValueError(f"to_depth {self.to_depth} is not below from_depth {self.from_depth}")
        return self


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
    depth_to_water: Level  # below ground level, negative when it flows
    state: Literal["static", "pumping", "recovering", "drilling"] = "static"
    measured_from: Literal["ground", "top of casing"] = "ground"
    stick_up: NonNegative = 0.0


class CasingRun(_Interval):
    string: Literal["conductor", "surface", "production"]
    outside_diameter: Diameter
    wall: Annotated[float, Field(gt=0, lt=0.1)] | None = None
    material: Word = ""
    joints: Annotated[int, Field(ge=0)] | None = None
    slotted: bool = False
    aperture: Annotated[float, Field(gt=0, lt=0.05)] | None = None


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
    ph: Annotated[float, Field(ge=0, le=14)] | None = None
    temperature: Annotated[float, Field(ge=-5, le=120)] | None = None
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


class SealedOff(HoleBody):
    intervals: tuple[SealedInterval, ...]
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
    attachment: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    media_type: Word = "image/jpeg"
    depth: Depth | None = None
    caption: Text = ""


class Note(HoleBody):
    text: Text
    depth: Depth | None = None


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


class TestLevels(HoleBody):
    __test__ = False
    run: Word
    well: Word = "pumped"
    radius: NonNegative | None = None
    time: tuple[NonNegative, ...]
    drawdown: tuple[float, ...]
    attachment: Word = ""

    @model_validator(mode="after")
    def _paired(self):
        if len(self.time) != len(self.drawdown):
            raise ValueError(f"{len(self.time)} times and {len(self.drawdown)} drawdowns do not pair")
        return self


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


class WaterValue(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
    name: Word
    value: float
    unit: Word
    below_detection: bool = False
    form: Word = ""


class WaterAnalysis(HoleBody):
    laboratory: Word = ""
    sampled_on: Word = ""
    use: Word = "drinking"
    values: tuple[WaterValue, ...]
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
    "test.run": TestRun, "test.levels": TestLevels, "test.fitted": TestFitted, "test.rated": Rated,
    "pump.chosen": PumpChosen, "water.analysis": WaterAnalysis, "papers.issued": PaperIssued, "struck_out": StruckOut,
}
# kind -> (version it brings up from -> function to the next version). Empty while every kind stands at version 1.
_UPCASTERS: dict[str, dict[int, Callable[[dict[str, Any]], dict[str, Any]]]] = {}
CURRENT_VERSION: dict[str, int] = {kind: 1 + len(_UPCASTERS.get(kind, {})) for kind in KINDS}


def _bring_up(kind: str, version: int, body: Mapping[str, Any]) -> dict[str, Any]:
    now = dict(body)
    for step in range(version, CURRENT_VERSION[kind]):
        now = _UPCASTERS[kind][step](now)
    return now


def read_body(kind: str, version: int, body: Mapping[str, Any]) -> Body | None:
    """Return the body as its model, brought up to the present format, or None for a kind or format newer than this program."""
    model = KINDS.get(kind)
    if model is None or version > CURRENT_VERSION[kind]:
        return None
    return model.model_validate(_bring_up(kind, version, body))


def validate_body(kind: str, version: int, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return the body as plain JSON types if it is sound; an unknown kind or newer format passes as it is.

    Raises
    ------
    BadInput
        The first field that cannot stand, with what would be right.
    """
    model = KINDS.get(kind)
    if model is None or version > CURRENT_VERSION[kind]:
        return _plain_only(dict(body))
    try:
        read = model.model_validate(_bring_up(kind, version, body))
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or kind
        message = str(first["msg"]).removeprefix("Value error, ")
        problem = message[:1].lower() + message[1:]
        want = _want(model, str(first["loc"][0]) if first["loc"] else "")
        value = first["input"] if isinstance(first["input"], (str, int, float, bool, type(None))) else str(first["input"])[:80]
        raise BadInput(where, value, problem, want) from None
    if version == CURRENT_VERSION[kind]:
        return read.model_dump(mode="json", exclude_defaults=True)
    return _plain_only(dict(body))


def _want(model: type[Body], name: str) -> str:
    info = model.model_fields.get(name)
    if info is None:
        return "one of " + ", ".join(n for n in model.model_fields if n != "typed")
    return f"{name.replace('_', ' ')} as the kind asks" if not info.metadata else f"{name.replace('_', ' ')} within {info.metadata}"


def _plain_only(body: dict[str, Any]) -> dict[str, Any]:
    import json

    try:
        return json.loads(json.dumps(body, allow_nan=False))
    except (TypeError, ValueError) as error:
        raise BadInput("body", str(body)[:80], "cannot be kept as JSON", "plain values that are finite") from error
