"""The rate card: what the firm charges and what the work costs it, versioned, read from and written to TOML."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from borewright.errors import BadInput
from borewright.ground import DRILLING_CLASSES
from borewright.pricing.money import ROUNDINGS, decimal_fraction, minor_digits, read_minor

__all__ = ["CHARGES", "COSTS", "RateCard", "card_as_dict", "card_from_dict", "card_from_toml", "card_to_toml", "card_version", "sample_card"]

# Every single charge, in the order of the job, with the words a person reads.
CHARGES: dict[str, str] = {
    "set_up": "Setting up and packing up",
    "travel_per_km": "Travel, per km both ways",
    "standing_per_hour": "Standing time, per hour",
    "seal_per_metre": "Seal, per metre",
    "grout_bag": "Grout, per bag",
    "development_per_hour": "Development, per hour",
    "test_per_hour": "Pumping test, per hour",
    "headworks": "Headworks",
    "sealing_failed_hole": "Sealing a failed hole",
    "sealing_failed_per_metre": "Sealing a failed hole, per metre",
}
# What the firm pays out itself, so that profit can be reckoned.
COSTS: dict[str, str] = {
    "job": "Paperwork, permits and overhead, per job",
    "rig_and_crew_per_hour": "Rig and crew, per hour on site or on the road",
    "travel_per_km": "Trucks, per km both ways",
    "seal_per_metre": "Seal material, per metre",
    "grout_bag": "Grout, per bag",
    "headworks": "Headworks",
    "sealing_failed_per_metre": "Sealing a failed hole, per metre",
}
_DRILLING_WANT = "a table with diameter_mm, loose, soft, medium and hard"
_CASING_WANT = "a table with size_mm, per_metre, slotted_per_metre, cost_per_metre and cost_slotted_per_metre"
_CASING = ("per_metre", "slotted_per_metre", "cost_per_metre", "cost_slotted_per_metre")


@dataclass(frozen=True, slots=True)
class RateCard:
    """One version of a firm's rates. Amounts are whole minor units, sizes millimetres; see `card_from_dict` for the checks.

    Attributes
    ----------
    drilling : tuple of (diameter_mm, loose, soft, medium, hard)
        Charge per metre by hole diameter and drilling class [minor units].
    casing : tuple of (size_mm, per_metre, slotted_per_metre, cost_per_metre, cost_slotted_per_metre)
        Casing by outside diameter; the slotted figures are for a slotted metre, not an addition [minor units].
    charges, costs : dict
        Amounts by the names of `CHARGES` and `COSTS` [minor units].
    wear : tuple of four
        Bits, fuel and hammer wear per metre by drilling class, loose to hard [minor units].
    """

    name: str
    currency: str
    valid_from: str
    invented: bool
    rounding: str
    round_total_to: int
    minimum_charge: int
    tax_name: str
    tax_rate: Decimal
    drilling: tuple[tuple[int, int, int, int, int], ...]
    casing: tuple[tuple[int, int, int, int, int], ...]
    charges: dict[str, int]
    costs: dict[str, int]
    wear: tuple[int, int, int, int]

    def drilling_rates(self, diameter: float) -> tuple[int, tuple[int, int, int, int]]:
        """Return the (diameter_mm, rates) of the smallest listed hole at least as wide as a diameter [m]."""
        for row in self.drilling:
            if row[0] >= round(diameter * 1000):
                return row[0], row[1:]
        raise BadInput("diameter", diameter, "is wider than any hole on the rate card", f"at most {self.drilling[-1][0]} mm, or a new line on the card")

    def casing_rates(self, diameter: float) -> tuple[int, int, int, int, int]:
        """Return the casing line of the smallest listed size at least as wide as an outside diameter [m]."""
        for row in self.casing:
            if row[0] >= round(diameter * 1000):
                return row
        raise BadInput("casing_diameter", diameter, "is wider than any casing on the rate card", f"at most {self.casing[-1][0]} mm, or a new line on the card")


class _Reader:
    """Takes fields out of a table one by one and refuses what is missing, unknown or of the wrong kind."""

    def __init__(self, table: Any, where: str):
        if not isinstance(table, Mapping):
            raise BadInput(where or "rate card", table, "is not a table", "a table of named rates")
        self.table, self.where, self.seen = dict(table), where, set()

    def field(self, name: str) -> str:
        return f"{self.where}.{name}" if self.where else name

    def take(self, name: str, want: str, default: Any = ...) -> Any:
        self.seen.add(name)
        if name not in self.table:
            if default is not ...:
                return default
            raise BadInput(self.field(name), None, "is missing", want)
        return self.table[name]

    def text(self, name: str, want: str, default: Any = ...) -> str:
        value = self.take(name, want, default)
        if not isinstance(value, str) or not value.strip() or len(value) > 200:
            raise BadInput(self.field(name), value, "is not a short text", want)
        return value.strip()

    def size(self, name: str, want: str) -> int:
        value = self.take(name, want)
        if isinstance(value, bool) or not isinstance(value, int) or not 20 <= value <= 2000:
            raise BadInput(self.field(name), value, "is not a size in whole millimetres from 20 to 2000", want)
        return value

    def money(self, name: str, currency: str, default: Any = ...) -> int:
        raw = self.take(name, f"an amount in {currency} as text", default)
        return read_minor(raw, currency, field=self.field(name))

    def close(self) -> None:
        unknown = sorted(set(self.table) - self.seen)
        if unknown:
            raise BadInput(self.field(str(unknown[0])), self.table[unknown[0]], "is not a line of a rate card", "one of " + ", ".join(sorted(self.seen)))


def card_from_dict(table: Mapping[str, Any]) -> RateCard:
    """Return a rate card from a plain table (TOML or a form), every amount checked.

    Raises
    ------
    BadInput
        Names the field: missing, unknown, negative, a binary float, two currencies, a size listed twice, no drilling line.
    """
    top = _Reader(table, "")
    if top.take("format", "the format number 1") != 1:
        raise BadInput("format", table.get("format"), "is not a known rate card format", "1")
    currency = top.text("currency", "three capital letters of ISO 4217, such as AUD")
    minor_digits(currency)
    rounding = top.text("rounding", "one of " + ", ".join(ROUNDINGS), "half-even")
    if rounding not in ROUNDINGS:
        raise BadInput("rounding", rounding, "is not a rounding rule", "one of " + ", ".join(ROUNDINGS))
    invented = top.take("invented", "true or false", False)
    if not isinstance(invented, bool):
        raise BadInput("invented", invented, "is not true or false", "true for made-up money, false for real rates")
    round_total_to = top.money("round_total_to", currency, "1" if minor_digits(currency) == 0 else "0.01")
    if round_total_to < 1:
        raise BadInput("round_total_to", table.get("round_total_to"), "must be above zero", "the smallest step of a total, such as 1.00")
    tax = _Reader(top.take("tax", "a table with name and rate"), "tax")
    tax_name, tax_rate = tax.text("name", "the name of the tax, or none"), decimal_fraction(tax.take("rate", 'a fraction such as "0.10"'), field="tax.rate")
    tax.close()

    drilling = []
    for n, row in enumerate(_rows(top.take("drilling", _DRILLING_WANT), "drilling", _DRILLING_WANT)):
        line = _Reader(row, f"drilling[{n}]")
        drilling.append((line.size("diameter_mm", _DRILLING_WANT), *(line.money(c, currency) for c in DRILLING_CLASSES)))
        _mixed(line, currency)
        line.close()
    casing = []
    for n, row in enumerate(_rows(top.take("casing", _CASING_WANT), "casing", _CASING_WANT)):
        line = _Reader(row, f"casing[{n}]")
        casing.append((line.size("size_mm", _CASING_WANT), *(line.money(c, currency) for c in _CASING)))
        _mixed(line, currency)
        line.close()
    charges = _Reader(top.take("charges", "a table of charges"), "charges")
    costs = _Reader(top.take("costs", "a table of the firm's own costs"), "costs")
    _mixed(charges, currency)
    _mixed(costs, currency)
    wear = _Reader(costs.take("wear_per_metre", "a table with loose, soft, medium and hard"), "costs.wear_per_metre")
    card = RateCard(
        name=top.text("name", "a name for this version of the rates"), currency=currency,
        valid_from=top.text("valid_from", "the date from which it holds, such as 2026-07-01"), invented=invented, rounding=rounding,
        round_total_to=round_total_to, minimum_charge=top.money("minimum_charge", currency, "0"), tax_name=tax_name, tax_rate=tax_rate,
        drilling=_ordered(drilling, "drilling"), casing=_ordered(casing, "casing"),
        charges={c: charges.money(c, currency) for c in CHARGES}, costs={c: costs.money(c, currency) for c in COSTS},
        wear=tuple(wear.money(c, currency) for c in DRILLING_CLASSES),
    )
    for reader in (wear, charges, costs, top):
        reader.close()
    return card


def _mixed(reader: _Reader, currency: str) -> None:
    other = reader.take("currency", "", currency)
    if other != currency:
        raise BadInput(reader.field("currency"), other, f"does not mix with {currency}", "one currency on one rate card")


def _rows(rows: Any, field: str, want: str) -> list[Any]:
    if not isinstance(rows, (list, tuple)) or not rows:
        raise BadInput(field, rows, "has no lines", "at least " + want)
    return list(rows)


def _ordered(rows: list[tuple[int, ...]], field: str) -> tuple[Any, ...]:
    sizes = [row[0] for row in rows]
    for size in sizes:
        if sizes.count(size) > 1:
            raise BadInput(field, size, "is listed twice", "one line for each size")
    return tuple(sorted(rows))


def card_as_dict(card: RateCard) -> dict[str, Any]:
    """Return the plain table that `card_from_dict` reads back to the same card; amounts as exact text in major units."""
    digits = minor_digits(card.currency)

    def text(minor: int) -> str:
        return f"{Decimal(minor).scaleb(-digits):.{digits}f}"

    return {
        "format": 1, "name": card.name, "currency": card.currency, "valid_from": card.valid_from, "invented": card.invented,
        "rounding": card.rounding, "round_total_to": text(card.round_total_to), "minimum_charge": text(card.minimum_charge),
        "tax": {"name": card.tax_name, "rate": f"{card.tax_rate:f}"},
        "charges": {name: text(card.charges[name]) for name in CHARGES},
        "costs": {name: text(card.costs[name]) for name in COSTS}
        | {"wear_per_metre": {c: text(v) for c, v in zip(DRILLING_CLASSES, card.wear, strict=True)}},
        "drilling": [{"diameter_mm": row[0]} | {c: text(v) for c, v in zip(DRILLING_CLASSES, row[1:], strict=True)} for row in card.drilling],
        "casing": [{"size_mm": row[0]} | {c: text(v) for c, v in zip(_CASING, row[1:], strict=True)} for row in card.casing],
    }


def card_from_toml(text: str) -> RateCard:
    """Return a rate card from TOML text; raises BadInput for text that is not TOML or a rate that cannot be used."""
    import tomllib

    try:
        return card_from_dict(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise BadInput("rate card", text[:40], f"is not TOML: {error}", "a TOML file as written by the program") from None


def card_to_toml(card: RateCard) -> str:
    """Return the card as TOML text."""
    import tomli_w

    return tomli_w.dumps(card_as_dict(card))


def card_version(card: RateCard) -> str:
    """Return the first sixteen hexadecimal digits of the SHA-256 of the card's content: equal exactly when every rate is equal."""
    return hashlib.sha256(json.dumps(card_as_dict(card), sort_keys=True, separators=(",", ":")).encode()).hexdigest()[:16]


def sample_card() -> RateCard:
    """Return a rate card in invented money, to start from and for the demo: no real firm charges this."""
    return card_from_dict({
        "format": 1, "name": "Sample rates (invented)", "currency": "AUD", "valid_from": "2026-07-01", "invented": True,
        "rounding": "half-even", "round_total_to": "1.00", "minimum_charge": "4500.00", "tax": {"name": "GST", "rate": "0.10"},
        "charges": {
            "set_up": "950.00", "travel_per_km": "4.40", "standing_per_hour": "320.00", "seal_per_metre": "28.00", "grout_bag": "24.00",
            "development_per_hour": "340.00", "test_per_hour": "180.00", "headworks": "620.00", "sealing_failed_hole": "450.00",
            "sealing_failed_per_metre": "9.00",
        },
        "costs": {
            "job": "480.00", "rig_and_crew_per_hour": "265.00", "travel_per_km": "2.60", "seal_per_metre": "14.00", "grout_bag": "13.50",
            "headworks": "310.00", "sealing_failed_per_metre": "5.00",
            "wear_per_metre": {"loose": "9.00", "soft": "11.00", "medium": "16.00", "hard": "24.00"},
        },
        "drilling": [
            {"diameter_mm": 165, "loose": "78.00", "soft": "82.00", "medium": "98.00", "hard": "126.00"},
            {"diameter_mm": 216, "loose": "98.00", "soft": "104.00", "medium": "128.00", "hard": "168.00"},
            {"diameter_mm": 254, "loose": "122.00", "soft": "130.00", "medium": "162.00", "hard": "214.00"},
            {"diameter_mm": 311, "loose": "158.00", "soft": "170.00", "medium": "214.00", "hard": "286.00"},
        ],
        "casing": [
            {"size_mm": 125, "per_metre": "34.00", "slotted_per_metre": "49.00", "cost_per_metre": "19.00", "cost_slotted_per_metre": "29.00"},
            {"size_mm": 141, "per_metre": "41.00", "slotted_per_metre": "57.00", "cost_per_metre": "24.00", "cost_slotted_per_metre": "35.00"},
            {"size_mm": 168, "per_metre": "56.00", "slotted_per_metre": "74.00", "cost_per_metre": "33.00", "cost_slotted_per_metre": "46.00"},
            {"size_mm": 200, "per_metre": "78.00", "slotted_per_metre": "104.00", "cost_per_metre": "47.00", "cost_slotted_per_metre": "64.00"},
            {"size_mm": 226, "per_metre": "92.00", "slotted_per_metre": "124.00", "cost_per_metre": "56.00", "cost_slotted_per_metre": "77.00"},
        ],
    })
