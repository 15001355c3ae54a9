"""A body that cannot stand, told in our own four words: which field, what came, what is wrong with it, what would be right."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import BaseModel, Field, ValidationError

from borewright.errors import BadInput

__all__ = ["told"]


def told(model: type[BaseModel], kind: str, error: ValidationError) -> BadInput:
    """Return the first complaint in our own four words."""
    first = error.errors()[0]
    context, place = first.get("ctx", {}), list(first["loc"])
    if "field" in context:
        place.append(context["field"])
    where = ".".join(str(part) for part in place) or kind
    value = context["value"] if "value" in context else first["input"]
    if not isinstance(value, (str, int, float, bool, type(None))):
        value = str(value)[:80]
    if first["type"] == "missing":
        return BadInput(where, None, "is missing", _want(model, place))
    if first["type"] == "extra_forbidden":
        return BadInput(where, value, f"is not a part of {kind}", _parts(model, place))
    problem = next((words for start, words in _PROBLEMS.items() if str(first["type"]).startswith(start)), str(first["msg"]))
    return BadInput(where, value, problem, context.get("want") or _want(model, place))


# How pydantic names a complaint (the beginning of the name), and how a person is told.
_PROBLEMS = {
    "finite_number": "is not a finite number", "literal_error": "is not one of the words it may be", "greater_than": "is too small",
    "less_than": "is too large", "string_too_long": "is too long", "string_pattern": "has the wrong form", "too_short": "is empty",
    "int_from_float": "is not a whole number", "int_": "is not a whole number", "float_": "is not a number", "string_": "is not text",
    "bool_": "is not yes or no", "tuple_": "is not a list", "dict_": "is not a set of named values", "model_": "is not a set of named values",
}


def _field(model: type[BaseModel], place: list[Any]) -> tuple[type[BaseModel] | None, Any]:
    """Return the model that holds the field at a place in the body, and the field."""
    info, here = None, model
    for part in place:
        if isinstance(part, int):
            continue
        if here is None or part not in here.model_fields:
            return here, None
        holder, info = here, here.model_fields[part]
        here = next((a for a in _leaves(info.annotation) if isinstance(a, type) and issubclass(a, BaseModel)), None)
        if place[-1] == part and here is None:
            return holder, info
    return here, info


def _leaves(annotation: Any) -> list[Any]:
    inner = get_args(annotation)
    return [annotation] if not inner else [annotation, *(leaf for part in inner for leaf in _leaves(part))]


def _parts(model: type[BaseModel], place: list[Any]) -> str:
    holder, _ = _field(model, place[:-1])
    return "one of " + ", ".join(name for name in (holder or model).model_fields if name != "typed")


def _want(model: type[BaseModel], place: list[Any]) -> str:
    """Return in words what a field takes."""
    _, info = _field(model, place)
    if info is None:
        return "a body as the kind asks"
    parts = [*info.metadata, *_leaves(info.annotation)]
    parts += [extra for part in parts if hasattr(part, "__metadata__") for extra in part.__metadata__]
    parts += [extra for part in parts if isinstance(part, type(Field())) for extra in part.metadata]
    literal = next((part for part in parts if str(part).startswith("typing.Literal")), None)
    if literal is not None:
        return "one of " + ", ".join(get_args(literal))
    limits = {name: getattr(part, name) for part in parts for name in ("ge", "gt", "le", "lt", "max_length", "min_length", "pattern") if getattr(part, name, None) is not None}
    words = []
    if "pattern" in limits:
        words.append("64 hexadecimal digits, a SHA-256")
    if "ge" in limits or "gt" in limits:
        words.append(f"from {limits['ge']:g}" if "ge" in limits else f"above {limits['gt']:g}")
    if "le" in limits or "lt" in limits:
        words.append(f"to {limits['le']:g}" if "le" in limits else f"under {limits['lt']:g}")
    if words and "pattern" not in limits:
        words.insert(0, "a number")
    elif float in parts or int in parts:
        words.append("a finite number")
    elif "min_length" in limits:
        words.append("at least one")
    elif "max_length" in limits and not words:
        words.append(f"text of at most {limits['max_length']} letters")
    return " ".join(words) or "what the kind asks"
