"""Declaring a single calculation once; the command line, the API, the form and the docs page are read off the declaration.

A module of `borewright.bench` named for a stage declares its calculations at import::

    class Inputs(BenchModel):
        hole_diameter: float = quantity("diameter", "mm", "Diameter of the hole", above=0, at_most=2.0, example="165 mm")
        grout: str = choice(("neat", "bentonite"), "Kind of grout", default="neat")
        fill_times: tuple[float, ...] = quantity_list("time", "s", "Repeat fill times", example="31, 32, 30.5 s")

    class Results(BenchModel):
        velocity: float = quantity("velocity", "m/s", "Up-hole air velocity")

    def _compute(given: Inputs) -> Outcome: return Outcome(Results(velocity=...), advisories=(...))

    declare(Calculation(name="uphole-velocity", title=..., stage="rig", about=..., inputs=Inputs, results=Results,
                        compute=_compute, source=(...), limits=(...), cautions=(...)))

Values in the models are SI floats; what a person typed is parsed by `borewright.quantities` before the model sees it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import PydanticUndefined

from borewright.errors import Advisory, BadInput, NotFound
from borewright.quantities import KINDS, parse, show, units_of

__all__ = [
    "BenchModel", "Calculation", "Outcome", "answer", "calculation", "calculations", "choice", "declare", "input_fields", "quantity",
    "quantity_list", "result_fields",
]

STAGES = ("siting", "pricing", "construction", "rig", "hydraulics", "pumping", "water")


class BenchModel(BaseModel):
    """Base of the inputs and results of a calculation: frozen, nothing unknown, nothing that is not finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calculation gives back: its results and the doubts that travel with them."""

    results: BenchModel
    advisories: tuple[Advisory, ...] = ()


@dataclass(frozen=True, slots=True)
class Calculation:
    """One declared calculation: see the module's docstring."""

    name: str
    title: str
    stage: str
    about: str
    inputs: type[BenchModel]
    results: type[BenchModel]
    compute: Callable[[Any], Outcome]
    source: tuple[str, ...]
    limits: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FieldFace:
    """What a form, a docs page or a schema needs to know of one field."""

    name: str
    label: str
    kind: str
    unit: str
    help: str
    required: bool
    default_text: str
    example: str
    choices: tuple[str, ...] = ()
    many: bool = False
    units: tuple[str, ...] = field(default=())


def quantity(
    kind: str, unit: str, help: str, *, above: float | None = None, at_least: float | None = None, below: float | None = None,
    at_most: float | None = None, default: float | None | Any = PydanticUndefined, example: str = "", label: str = "",
) -> Any:
    """Return the declaration of one quantity; bounds and default in SI, `unit` is what the form offers first."""
    return Field(
        default, gt=above, ge=at_least, lt=below, le=at_most, description=help,
        json_schema_extra={"kind": kind, "unit": unit, "example": example, "label": label, "many": False},
    )


def quantity_list(kind: str, unit: str, help: str, *, default: Any = PydanticUndefined, example: str = "", label: str = "") -> Any:
    """Return the declaration of several readings of one quantity, typed with commas between ("31, 32, 30.5 s")."""
    return Field(default, description=help, json_schema_extra={"kind": kind, "unit": unit, "example": example, "label": label, "many": True})


def choice(options: tuple[str, ...], help: str, *, default: Any = PydanticUndefined, label: str = "") -> Any:
    """Return the declaration of a word chosen from a short list."""
    return Field(
        default, description=help, pattern="^(" + "|".join(map(_escaped, options)) + ")$",
        json_schema_extra={"kind": "choice", "unit": "", "example": options[0], "choices": list(options), "label": label, "many": False},
    )


def _escaped(word: str) -> str:
    import re

    return re.escape(word)


_REGISTRY: dict[str, Calculation] = {}


def declare(one: Calculation) -> Calculation:
    """Add a calculation to the bench; a name stands for one calculation only."""
    if one.name in _REGISTRY:
        raise ValueError(f"two calculations are named {one.name}")
    if one.stage not in STAGES or not one.source:
        raise ValueError(f"{one.name}: needs a stage of {STAGES} and at least one source")
    _REGISTRY[one.name] = one
    return one


def calculations() -> dict[str, Calculation]:
    """Return every declared calculation by name, in the order of the bore's life."""
    from importlib.util import find_spec

    for stage in STAGES:
        if find_spec(f"borewright.bench.{stage}"):
            import_module(f"borewright.bench.{stage}")
    return {name: one for stage in STAGES for name, one in sorted(_REGISTRY.items()) if one.stage == stage}


def calculation(name: str) -> Calculation:
    """Return one calculation, or raise NotFound naming the nearest."""
    known = calculations()
    if name not in known:
        from difflib import get_close_matches

        near = get_close_matches(name, known, n=3, cutoff=0.3) or list(known)[:5]
        raise NotFound(f"no calculation is named {name!r}; the nearest are {', '.join(near)}")
    return known[name]


def _faces(model: type[BenchModel]) -> list[FieldFace]:
    faces = []
    for name, info in model.model_fields.items():
        extra = dict(info.json_schema_extra or {})
        kind, unit = str(extra.get("kind", "number")), str(extra.get("unit", ""))
        default = "" if info.default in (PydanticUndefined, None) else info.default
        if isinstance(default, float) and kind in KINDS:
            default = show(default, kind, unit=unit, digits=6) if unit else f"{default:g}"
        faces.append(
            FieldFace(
                name=name, label=str(extra.get("label") or name.replace("_", " ")), kind=kind, unit=unit, help=info.description or "",
                required=info.is_required(), default_text=str(default), example=str(extra.get("example", "")),
                choices=tuple(extra.get("choices", ())), many=bool(extra.get("many", False)),
                units=units_of(kind) if kind in KINDS else (),
            )
        )
    return faces


def input_fields(one: Calculation) -> list[FieldFace]:
    """Return the faces of a calculation's inputs."""
    return _faces(one.inputs)


def result_fields(one: Calculation) -> list[FieldFace]:
    """Return the faces of a calculation's results."""
    return _faces(one.results)


def _read(raw: Any, face: FieldFace) -> Any:
    if face.kind == "choice":
        if str(raw) not in face.choices:
            raise BadInput(face.name, raw, "is not one of the choices", "one of " + ", ".join(face.choices))
        return str(raw)
    if face.many:
        return _read_many(raw, face)
    if isinstance(raw, Mapping):
        raw = f"{raw.get('value')} {raw.get('unit', '')}"
    return parse(raw, face.kind, field=face.name).si


def _read_many(raw: Any, face: FieldFace) -> tuple[float, ...]:
    if isinstance(raw, str):
        raw = [p.strip() for p in raw.replace(";", ",").split(",") if p.strip()]
        unit = parse(raw[-1], face.kind, field=face.name).unit if raw else ""
        # "3, 15, 48 %": the unit at the end speaks for every bare number before it.
        raw = [f"{part} {unit}" if unit and _is_bare(part) else part for part in raw]
    elif isinstance(raw, (list, tuple)):
        unit = ""
    else:
        raise BadInput(face.name, raw, "is not a list of readings", f"readings with commas between, such as {face.example}")
    return tuple(parse(part, face.kind, field=face.name, default_unit=unit or None).si for part in raw)


def _is_bare(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def read_inputs(one: Calculation, given: Mapping[str, Any]) -> BenchModel:
    """Return the inputs in SI from what was typed; raise BadInput for the first thing that is wrong."""
    faces = {f.name: f for f in input_fields(one)}
    for name in given:
        if name not in faces:
            raise BadInput(str(name), given[name], f"is not an input of {one.name}", "one of " + ", ".join(faces))
    values: dict[str, Any] = {}
    for name, face in faces.items():
        raw = given.get(name)
        if raw is None or (isinstance(raw, str) and not raw.strip()):
            if face.required:
                raise BadInput(name, None, "is missing", f"{face.help}, for example {face.example}")
            continue
        values[name] = _read(raw, face)
    try:
        return one.inputs(**values)
    except ValidationError as error:
        raise _as_bad_input(error, given, faces) from None


def _as_bad_input(error: ValidationError, given: Mapping[str, Any], faces: Mapping[str, FieldFace]) -> BadInput:
    first = error.errors()[0]
    name = str(first["loc"][0]) if first["loc"] else "inputs"
    face, context = faces.get(name), first.get("ctx", {})
    words = {"gt": "must be above", "ge": "must be at least", "lt": "must be below", "le": "must be at most"}
    for key, phrase in words.items():
        if key in context and face is not None:
            bound = context[key]
            shown = show(float(bound), face.kind, unit=face.unit, digits=6) if face.unit else f"{bound:g}"
            want = face.help + (f", for example {face.example}" if face.example else "")
            return BadInput(name, given.get(name), f"{phrase} {shown}", want)
    return BadInput(name, given.get(name), str(first["msg"]).removeprefix("Value error, ").lower(), face.help if face else "what the page of this calculation says")


def answer(name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the answer of one calculation as plain JSON types (DESIGN section 4), results in SI.

    Raises
    ------
    NotFound
        No calculation of that name.
    BadInput
        The first input that cannot be used.
    """
    one = calculation(name)
    inputs = read_inputs(one, given)
    outcome = one.compute(inputs)
    for field_name, value in outcome.results:
        if isinstance(value, float) and not math.isfinite(value):
            raise BadInput("inputs", None, f"leave no finite {field_name.replace('_', ' ')}", "values inside the limits of the calculation")
    return {
        "calculation": one.name,
        "inputs": _with_units(inputs, input_fields(one)),
        "results": _with_units(outcome.results, result_fields(one)),
        "source": list(one.source),
        "cautions": [*one.cautions, *(a.message for a in outcome.advisories if a.severity == "danger")],
        "limits": [*one.limits, *(a.message for a in outcome.advisories if a.severity != "danger")],
    }


def _with_units(model: BenchModel, faces: list[FieldFace]) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    for face in faces:
        value = getattr(model, face.name)
        if value is None:
            continue
        if face.kind == "choice":
            shown[face.name] = {"value": value, "unit": ""}
        else:
            shown[face.name] = {"value": list(value) if face.many else value, "unit": KINDS[face.kind].si_unit}
    return shown
