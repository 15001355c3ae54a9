"""What the customer pays when the hole finds water and when it does not: by the metre, at a fixed price, on a promise, and mixtures."""

from __future__ import annotations

from dataclasses import dataclass

from borewright.errors import BadInput, require_non_negative

__all__ = ["CONTRACTS", "Contract", "fixed_price", "per_metre", "promise"]

CONTRACTS = ("per metre", "fixed", "promise")


@dataclass(frozen=True, slots=True)
class Contract:
    """Terms of payment; all money before tax, in whole minor units of the rate card's currency.

    Attributes
    ----------
    kind : str
        "per metre" (the rate card's items), "fixed" (one price for a bore that meets the need) or "promise" (the rate card's
        items plus the price of the promise, and `dry_hole_share` of the items when the need is not met).
    fixed : int, optional
        The fixed price.
    dry_hole_share : float
        Part of the full charge that is due when the need is not met, from 0 to 1.
    promise_price : int, optional
        Added when the need is met under a promise; None lets the program work it out.
    deposit : int
        Kept whatever happens: the charge for a hole that ends the job is never less.
    metres_cap : float, optional
        Drilled metres beyond this are not charged [m].
    least_depth : float, optional
        The driller does not give the hole up above this depth [m]; under a promise or a fixed price the customer does not call it off
        above it either. Without one, the cheapest way to keep a promise is to leave early. None: half the greatest depth (our choice).
    currency : str, optional
        Checked against the rate card's when given.
    """

    kind: str
    fixed: int | None = None
    dry_hole_share: float = 1.0
    promise_price: int | None = None
    deposit: int = 0
    metres_cap: float | None = None
    least_depth: float | None = None
    currency: str | None = None

    def __post_init__(self) -> None:
        if self.kind not in CONTRACTS:
            raise BadInput("contract", self.kind, "is not a kind of contract", "one of " + ", ".join(CONTRACTS))
        if not 0.0 <= self.dry_hole_share <= 1.0:
            raise BadInput("dry_hole_share", self.dry_hole_share, "must lie from 0 to 1", "the part of the charge due for a dry hole")
        for name in ("fixed", "promise_price", "deposit"):
            value = getattr(self, name)
            if value is not None and (isinstance(value, bool) or not isinstance(value, int) or value < 0):
                raise BadInput(name, value, "is not an amount in whole minor units", "an integer, zero or more")
        if (self.kind == "fixed") != (self.fixed is not None):
            raise BadInput("fixed", self.fixed, f"does not go with a contract of kind {self.kind!r}", "a price for a fixed contract, none for others")
        if self.promise_price is not None and self.kind != "promise":
            raise BadInput("promise_price", self.promise_price, f"does not go with a contract of kind {self.kind!r}", "none, or a contract of kind promise")
        if self.metres_cap is not None and not self.metres_cap > 0:
            raise BadInput("metres_cap", self.metres_cap, "must be above zero", "the most metres that are charged")
        require_non_negative(least_depth=self.least_depth or 0.0)


def per_metre(
    *, deposit: int = 0, metres_cap: float | None = None, dry_hole_share: float = 1.0, least_depth: float | None = None
) -> Contract:
    """Return a contract by the metre: the customer carries the luck of the ground."""
    return Contract("per metre", deposit=deposit, metres_cap=metres_cap, dry_hole_share=dry_hole_share, least_depth=least_depth)


def fixed_price(price: int, *, dry_hole_share: float = 1.0, deposit: int = 0, least_depth: float | None = None) -> Contract:
    """Return a contract at one price, however deep: the driller carries the depth [minor units]."""
    return Contract("fixed", fixed=price, dry_hole_share=dry_hole_share, deposit=deposit, least_depth=least_depth)


def promise(
    *, promise_price: int | None = None, dry_hole_share: float = 0.0, deposit: int = 0, metres_cap: float | None = None, least_depth: float | None = None
) -> Contract:
    """Return a promise: no usable water, no charge (or a reduced share of it)."""
    return Contract("promise", promise_price=promise_price, dry_hole_share=dry_hole_share, deposit=deposit, metres_cap=metres_cap, least_depth=least_depth)
