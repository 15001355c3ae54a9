"""Forms: what a field asks, how its text is read, and how the form is shown again with the message beside the field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from borewright.errors import BadInput
from borewright.quantities import KINDS, parse, shown_unit

__all__ = ["Field", "Filled", "Form", "read_place", "read_rows"]

@dataclass(frozen=True, slots=True)
class Field:
    """One question of a form. `kind` is a quantity's kind, or word, long, choice, whole, yes, date, number, place, rows."""

    name: str
    label: str
    kind: str = "word"
    required: bool = False
    help: str = ""
    example: str = ""
    choices: tuple[str, ...] = ()
    names: tuple[str, ...] = ()  # what a person reads for each of the choices, where it is not the choice itself
    default: str = ""
    columns: tuple[str, ...] = ()  # of "rows": name:kind, words last

    def unit(self, system: str) -> str:
        """Return the unit in which a bare number is read, or nothing."""
        return shown_unit(self.kind, system) if self.kind in KINDS else ""

    def read(self, text: str, system: str) -> Any:
        """Return the value that a text stands for; raise BadInput naming the field."""
        if self.kind in ("word", "long", "date"):
            return text.strip()
        if self.kind == "choice":
            if text not in self.choices:
                raise BadInput(self.name, text, "is not one of the choices", "one of " + ", ".join(self.choices))
            return text
        if self.kind == "yes":
            return text in ("yes", "on", "true", "1")
        if self.kind == "whole":
            if not text.strip().lstrip("+").isdigit():
                raise BadInput(self.name, text, "is not a whole number", "a whole number such as 3")
            return int(text)
        if self.kind == "place":
            return read_place(text, self.name)
        if self.kind == "rows":
            return read_rows(text, self.columns, self.name)
        return parse(text, self.kind, field=self.name, default_unit=self.unit(system) or None).si


@dataclass(frozen=True, slots=True)
class Form:
    """A form of a stage: its fields, and either the kind of entry it writes or the act that takes its values."""

    key: str
    title: str
    verb: str
    fields: tuple[Field, ...]
    entry: str = ""
    act: Callable[..., Any] | None = None
    needs: str = ""  # module that must be there for the act
    about: str = ""
    fixed: Mapping[str, Any] = field(default_factory=dict)
    caution: str = ""
    slow: bool = False  # its act may take longer than a page should wait

    def read(self, given: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, BadInput]]:
        """Return the values in SI with "typed" beside them, and what is wrong, by field."""
        values: dict[str, Any] = dict(self.fixed)
        typed: dict[str, str] = {}
        wrong: dict[str, BadInput] = {}
        for one in self.fields:
            text = str(given.get(one.name, "") or "")
            if one.kind == "yes":
                values[one.name] = one.read(text, system)
                continue
            if not text.strip():
                if one.required:
                    wrong[one.name] = BadInput(one.name, "", "is missing", one.example or one.help or one.label.lower())
                continue
            try:
                values[one.name] = one.read(text, system)
            except BadInput as error:
                wrong[one.name] = error
                continue
            if one.kind in KINDS and one.kind != "number" and len(text) <= 200:
                typed[one.name] = text.strip() if not text.strip()[-1:].isdigit() else f"{text.strip()} {one.unit(system)}".strip()
        if typed:
            values["typed"] = typed
        return values, wrong


@dataclass(slots=True)
class Filled:
    """A form with what was typed into it and what is wrong with it, ready to be shown."""

    form: Form
    given: Mapping[str, str]
    wrong: Mapping[str, BadInput] = field(default_factory=dict)
    other: str = ""  # trouble that belongs to no field
    open: bool = False


def read_place(text: str, name: str = "where") -> tuple[float, float]:
    """Return (latitude, longitude) in degrees from "-38.47, -18.22" or "38.47 S 18.22 W"."""
    import re

    want = "latitude and longitude in degrees, such as -38.47, -18.22"
    found = re.findall(r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([NSEWnsew])?", text)
    rest = re.sub(r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([NSEWnsew])?|[\s,;]", "", text)
    if len(found) != 2 or rest:
        raise BadInput(name, text, "is not a latitude and a longitude", want)
    numbers = [float(n) * (-1 if letter.upper() in ("S", "W") and letter else 1) for n, letter in found]
    if found[0][1].upper() in ("E", "W") and found[0][1]:
        numbers.reverse()
    latitude, longitude = numbers
    if not -90 <= latitude <= 90:
        raise BadInput(name, text, f"has a latitude of {latitude:g}", "a latitude from -90 to 90, then a longitude")
    if not -180 <= longitude <= 180:
        raise BadInput(name, text, f"has a longitude of {longitude:g}", "a longitude from -180 to 180")
    return latitude, longitude


def read_rows(text: str, columns: tuple[str, ...], name: str) -> list[dict[str, Any]]:
    """Return one dict a line; the parts of a line stand between commas, semicolons or tabs (spaces where there are none)."""
    import re

    rows = []
    faces = [column.partition(":")[::2] for column in columns]
    shape = ", ".join(n for n, _ in faces)
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        parts = [p.strip() for p in (re.split(r"[,;\t]", line) if re.search(r"[,;\t]", line) else line.split())]
        if len(parts) > len(faces):
            raise BadInput(name, line, f"has {len(parts)} parts in line {number}", f"lines of {shape}")
        row: dict[str, Any] = {}
        for (column, kind), part in zip(faces, parts, strict=False):
            if kind in ("", "word"):
                row[column] = part
            elif part:
                unit = KINDS[kind].si_unit
                row[column] = parse(part, kind, field=f"{name}, line {number}, {column}", default_unit=unit).si
        missing = [n for n, kind in faces if kind and n not in row and not kind.startswith("word")]
        if missing:
            raise BadInput(name, line, f"has no {missing[0]} in line {number}", f"lines of {shape}")
        rows.append(row)
    if not rows:
        raise BadInput(name, text, "has no lines", f"lines of {shape}")
    return rows
