"""Money as whole minor units with a currency beside it: exact sums, a named rounding rule, tax."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput

__all__ = ["ROUNDINGS", "Line", "Money", "amounts", "decimal_fraction", "minor_digits", "read_minor", "round_ratio", "round_to_step", "show_minor"]

if TYPE_CHECKING:
    import numpy as np

# Names in this program -> the rounding modes of IEEE 754-2008 section 4.3 (ties to even, ties away from zero, toward +inf, toward -inf).
ROUNDINGS = {"half-even": ROUND_HALF_EVEN, "half-up": ROUND_HALF_UP, "up": ROUND_CEILING, "down": ROUND_FLOOR}
# ISO 4217 minor units other than two digits.
_DIGITS = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}


def minor_digits(currency: str) -> int:
    """Return how many decimal places the minor unit of an ISO 4217 currency has."""
    if not (isinstance(currency, str) and len(currency) == 3 and currency.isascii() and currency.isupper() and currency.isalpha()):
        raise BadInput("currency", currency, "is not a currency code", "three capital letters of ISO 4217, such as AUD")
    return _DIGITS.get(currency, 2)


def _decimal(raw: Any, field: str, want: str) -> Decimal:
    if isinstance(raw, (bool, float)) or not isinstance(raw, (str, int, Decimal)):
        raise BadInput(field, raw, "is not exact", want)
    try:
        value = Decimal(raw.strip() if isinstance(raw, str) else raw)
    except InvalidOperation:
        raise BadInput(field, raw, "is not a number", want) from None
    if not value.is_finite():
        raise BadInput(field, raw, "is not a finite number", want)
    return value


def read_minor(raw: Any, currency: str, *, field: str, allow_negative: bool = False) -> int:
    """Return whole minor units from an exact amount in major units.

    Parameters
    ----------
    raw : str, int or Decimal
        Amount such as "85.00"; a binary float is refused because it is not exact.
    currency : str
        ISO 4217 code.

    Raises
    ------
    BadInput
        Not exact, negative, beyond a thousand million, or finer than the currency's minor unit.
    """
    digits = minor_digits(currency)
    want = f'an amount in {currency} as text, such as "{Decimal(85).quantize(Decimal(1).scaleb(-digits))}"'
    value = _decimal(raw, field, want)
    if value < 0 and not allow_negative:
        raise BadInput(field, str(raw), "must not be below zero", want)
    if abs(value) > 10**9:
        raise BadInput(field, str(raw), "is beyond a thousand million", want)
    scaled = value.scaleb(digits)
    if scaled != scaled.to_integral_value():
        raise BadInput(field, str(raw), f"is finer than the {digits} decimal places of {currency}", want)
    return int(scaled)


def decimal_fraction(raw: Any, *, field: str) -> Decimal:
    """Return an exact fraction from 0 to 1, such as a tax rate "0.10"."""
    want = 'a fraction from 0 to 1 as text, such as "0.10"'
    value = _decimal(raw, field, want)
    if not 0 <= value <= 1:
        raise BadInput(field, str(raw), "must lie from 0 to 1", want)
    if value.as_tuple().exponent < -6:
        raise BadInput(field, str(raw), "has more than six decimal places", want)
    return value


def show_minor(minor: int, currency: str) -> str:
    """Return an amount as a person reads it, such as "AUD 12,340.50"."""
    digits = minor_digits(currency)
    return f"{currency} {Decimal(int(minor)).scaleb(-digits):,.{digits}f}"


def round_ratio(numerator: Any, denominator: int, rounding: str = "half-even") -> np.ndarray | int:
    """Return numerator / denominator rounded to whole numbers in exact integer arithmetic.

    Parameters
    ----------
    numerator : int or array_like of int
    denominator : int
        Above zero.
    rounding : str
        "half-even" (IEEE 754-2008 roundTiesToEven), "half-up" (roundTiesToAway), "up" (roundTowardPositive) or "down".

    Returns
    -------
    ndarray of int64, or int for an int

    References
    ----------
    IEEE 754-2008, section 4.3, rounding-direction attributes.
    """
    if rounding not in ROUNDINGS:
        raise BadInput("rounding", rounding, "is not a rounding rule", "one of " + ", ".join(ROUNDINGS))
    if type(numerator) is int:
        top = numerator
        whole, rest = divmod(top, denominator)
    else:
        import numpy as np

        top = np.asarray(numerator)
        if top.dtype.kind not in "iu":
            raise BadInput("numerator", str(top.dtype), "is not whole", "integers, so that money stays exact")
        top = top.astype(np.int64)
        whole, rest = np.divmod(top, np.int64(denominator))  # floor division: rest is 0 or above
    if rounding == "up":
        return whole + (rest > 0)
    if rounding == "down":
        return whole
    tie = (whole % 2 != 0) if rounding == "half-even" else (top > 0)
    return whole + ((2 * rest > denominator) | ((2 * rest == denominator) & tie))


def amounts(quantity_thousandths: Any, rate_minor: int, rounding: str = "half-even") -> np.ndarray | int:
    """Return what quantities in thousandths (millimetres, thousandths of an hour) come to at a rate per whole unit [minor units]."""
    if type(quantity_thousandths) is int:
        return round_ratio(quantity_thousandths * rate_minor, 1000, rounding)
    import numpy as np

    return round_ratio(np.asarray(quantity_thousandths, dtype=np.int64) * np.int64(rate_minor), 1000, rounding)


def round_to_step(minor: Any, step_minor: int, rounding: str = "half-even") -> np.ndarray | int:
    """Return amounts rounded to a whole number of steps, such as whole dollars or five cents [minor units]."""
    return round_ratio(minor, step_minor, rounding) * step_minor


@dataclass(frozen=True, slots=True)
class Money:
    """An exact amount: whole minor units and an ISO 4217 code. Two currencies never add."""

    minor: int
    currency: str

    def __post_init__(self) -> None:
        minor_digits(self.currency)
        if isinstance(self.minor, bool) or not isinstance(self.minor, int):
            raise BadInput("minor", self.minor, "is not whole minor units", "an integer")

    def _same(self, other: Money) -> None:
        if not isinstance(other, Money) or other.currency != self.currency:
            raise BadInput("currency", str(other), f"does not mix with {self.currency}", f"an amount in {self.currency}")

    def __add__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.minor + other.minor, self.currency)

    def __sub__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.minor - other.minor, self.currency)

    def __str__(self) -> str:
        return show_minor(self.minor, self.currency)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a price: what, how much of it, the unit, the rate and the amount in whole minor units."""

    key: str
    label: str
    quantity_thousandths: int
    unit: str
    rate_minor: int
    amount_minor: int
