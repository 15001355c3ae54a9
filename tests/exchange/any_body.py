"""A body of any kind, out of the kind's own schema: a kind that is new tomorrow is drawn too."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.record.bodies import CURRENT_VERSION, KINDS, validate_body

words = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12)
anything = st.recursive(st.none() | st.booleans() | st.integers(-(2**40), 2**40) | st.floats(-1e9, 1e9, allow_subnormal=False) | words,
                        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3), max_leaves=6)


def _of(schema: dict[str, Any], names: dict[str, Any]) -> st.SearchStrategy:
    if "$ref" in schema:
        return _of(names[schema["$ref"].rpartition("/")[2]], names)
    if "anyOf" in schema:
        return st.one_of([_of(one, names) for one in schema["anyOf"]])
    if "const" in schema:
        return st.just(schema["const"])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    match schema.get("type"):
        case "null":
            return st.none()
        case "boolean":
            return st.booleans()
        case "integer":
            return st.integers(int(schema.get("minimum", schema.get("exclusiveMinimum", -1000) + ("exclusiveMinimum" in schema))), int(schema.get("maximum", 1000)))
        case "number":
            low, high = schema.get("minimum", schema.get("exclusiveMinimum", -100.0)), schema.get("maximum", schema.get("exclusiveMaximum", 1000.0))
            return st.floats(low, high, allow_subnormal=False, exclude_min="exclusiveMinimum" in schema, exclude_max="exclusiveMaximum" in schema)
        case "string":
            if "pattern" in schema:
                return st.from_regex(schema["pattern"], fullmatch=True, alphabet=st.characters(codec="ascii", exclude_categories=("Cc",)))
            # A text that is something where nobody says it (a use, a well) has no empty form in a table.
            least = max(schema.get("minLength", 0), 1 if schema.get("default") else 0)
            return words.filter(lambda text: len(text.strip()) >= least)
        case "array":
            least = schema.get("minItems", len(schema.get("prefixItems", ())))
            return st.lists(_of(schema.get("items", (schema.get("prefixItems") or [{}])[0]), names), min_size=least, max_size=min(schema.get("maxItems", least + 2), least + 2))
        case "object" if "properties" in schema:
            needed = set(schema.get("required", ()))
            fields = {name: st.dates().map(str) if name == "date" else _of(one, names) for name, one in schema["properties"].items() if name != "typed"}
            return st.fixed_dictionaries({k: v for k, v in fields.items() if k in needed}, optional={k: v for k, v in fields.items() if k not in needed})
        case "object":
            inner = schema.get("additionalProperties")
            return st.dictionaries(words.filter(str.strip), _of(inner, names) if isinstance(inner, dict) and inner else anything, max_size=3)
        case _:
            return anything


def _stands(kind: str, body: dict[str, Any]) -> bool:
    try:
        validate_body(kind, CURRENT_VERSION[kind], body)
    except BadInput:
        return False
    return True


def any_body(kind: str) -> st.SearchStrategy[dict[str, Any]]:
    """Draw bodies of a kind that can be kept."""
    schema = KINDS[kind].model_json_schema()
    return _of(schema, schema.get("$defs", {})).filter(lambda body: _stands(kind, body))


EVERY_KIND = tuple(sorted(KINDS))
