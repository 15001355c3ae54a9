"""The quick door: an entry as our own devices write it is looked at and made in one call of pydantic's core.

It only ever says yes. What it does not take (an older format, a number sent as text, a line through another entry, anything wrong) goes through
`entry_from_json`'s own checks, which take more ways of writing a thing and say what is wrong with it; what it takes is the very
entry that those checks make (a property test holds the two to each other). A rig sends thousands of entries: this costs a third.

Each kind's door is made from the schema of its body, once, when the first entry of that kind comes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from pydantic_core import SchemaValidator, core_schema, from_json, to_json

from borewright.record.bodies import CURRENT_VERSION, NOT_A_SWITCH, schema_of

__all__ = ["quick_door"]

_read_id = SchemaValidator(core_schema.uuid_schema()).validate_python
_SMALL = 50_000  # bytes of JSON in one field: what is larger is weighed as a whole by the other door
_PLAIN = ("any", "bool", "float", "int", "literal", "str")


class _NoDoor(Exception):
    """A body that holds something for which there is no quick way."""


def quick_door(kind: str, made: type) -> Callable[[Any], Any] | None:
    """Return what makes an entry (of the class `made`) of a JSON object of this kind, or None if the kind has no quick door.

    It raises ValueError, TypeError or RecursionError for what it does not take; that says nothing against the entry.
    """
    if kind == "struck_out":
        return None  # always a line through another entry
    try:
        body = _model(schema_of(kind))
    except _NoDoor:
        return None
    version = CURRENT_VERSION[kind]
    nothing = core_schema.with_default_schema(core_schema.none_schema(), default=None)
    text = core_schema.str_schema(strict=True)
    own_id = core_schema.chain_schema([text, core_schema.uuid_schema()])
    job = core_schema.no_info_after_validator_function(_same_id, text)
    name = core_schema.no_info_after_validator_function(_name, text)
    parts = {
        "id": own_id, "job": job, "kind": core_schema.literal_schema([kind]), "at": core_schema.no_info_after_validator_function(_moment, text),
        "by": name, "device": name, "counter": core_schema.int_schema(strict=True, ge=0, lt=2**53), "body": body,
        "version": core_schema.int_schema(strict=True, ge=version, le=version), "strikes_out": nothing, "received": nothing, "sequence": nothing,
    }
    if set(parts) != set(made.__slots__):
        raise TypeError(f"{made.__name__} has other parts than the quick door makes")
    arguments = core_schema.dataclass_args_schema(made.__name__, [core_schema.dataclass_field(part, schema) for part, schema in parts.items()])
    schema = core_schema.dataclass_schema(made, arguments, list(parts), slots=True, config={"extra_fields_behavior": "forbid"})
    return SchemaValidator(schema).validate_python


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or not 1900 <= moment.year <= 2200:
        raise ValueError
    return moment


@lru_cache(maxsize=256)  # a batch names one job, one person and one device two hundred times
def _same_id(text: str) -> UUID:
    return _read_id(text)


@lru_cache(maxsize=256)
def _name(text: str) -> str:
    name = text.strip()
    if not 0 < len(name) <= 120 or not name.isprintable():
        raise ValueError
    return name


def _as_json(value: Any) -> Any:
    """Return what JSON gives back of a list or of named values; raise ValueError for what it cannot hold, and for much of it."""
    text = to_json(value, inf_nan_mode="constants")
    if len(text) > _SMALL:
        raise ValueError
    return from_json(text, allow_inf_nan=False)


def _model(schema: Mapping[str, Any]) -> core_schema.CoreSchema:
    """Return the schema of a dict for that of a model: its fields checked alike, and only what was given in it."""
    checks = []
    while schema["type"] == "function-after":
        checks.append(schema["function"]["function"])
        schema = schema["schema"]
    if schema["type"] != "model" or schema["schema"]["type"] != "model-fields":
        raise _NoDoor(schema["type"])
    given = {name: field["schema"] for name, field in schema["schema"]["fields"].items()}
    optional = {name: field for name, field in given.items() if field["type"] == "default"}
    fields = {name: core_schema.typed_dict_field(_value(field), required=name not in optional) for name, field in sorted(given.items())}
    made: core_schema.CoreSchema = core_schema.typed_dict_schema(fields, extra_behavior="forbid", config={"allow_inf_nan": False})
    defaults = {name: field["default"] if "default" in field else field["default_factory"]() for name, field in optional.items()}
    for check in checks:
        made = core_schema.no_info_after_validator_function(_on_dict(check, defaults), made)
    return made


def _value(schema: Mapping[str, Any], *, within: bool = False) -> Any:
    kind = schema["type"]
    if kind in _PLAIN:
        if kind == "any" and not within:
            raise _NoDoor("a value of any kind")
        return {name: part for name, part in schema.items() if name not in ("metadata", "ref")}
    if kind == "default":
        return _value(schema["schema"], within=within)
    if kind == "nullable":
        return core_schema.nullable_schema(_value(schema["schema"], within=within))
    if kind == "function-before":
        inner = _value(schema["schema"], within=within)
        if schema["function"]["function"] is NOT_A_SWITCH.func:
            return inner | {"strict": True}  # a number is a number: no call of Python to tell it from a switch
        return core_schema.no_info_before_validator_function(schema["function"]["function"], inner)
    if kind == "dict":
        made: Any = core_schema.dict_schema(_value(schema["keys_schema"], within=True), _value(schema["values_schema"], within=True))
    elif kind == "tuple":
        made = dict(schema) | {"items_schema": [_value(item, within=True) for item in schema["items_schema"]]}
    else:
        made = _model(schema)
    return made if within else core_schema.no_info_after_validator_function(_as_json, made)


def _on_dict(check: Callable[[Any], Any], defaults: dict[str, Any]) -> Callable[[dict[str, Any]], dict[str, Any]]:
    def checked(body: dict[str, Any]) -> dict[str, Any]:
        check(_Seen(body, defaults))
        return body

    return checked


class _Seen:
    """A body as its own checks look at it: a field by its name, and what is assumed where it was not given."""

    __slots__ = ("_assumed", "_given")

    def __init__(self, given: dict[str, Any], assumed: dict[str, Any]):
        self._given, self._assumed = given, assumed

    def __getattr__(self, name: str) -> Any:
        return self._given[name] if name in self._given else self._assumed[name]
