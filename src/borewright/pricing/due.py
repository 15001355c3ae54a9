"""What is due for work that was done, and what it cost the firm: the rate card on the quantities of a log, under the agreed contract."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from borewright.errors import BadInput, Refused, require_non_negative
from borewright.ground import DRILLING_CLASSES
from borewright.pricing.contract import Contract
from borewright.pricing.money import Line, amounts, round_ratio, round_to_step
from borewright.pricing.ratecard import CHARGES, RateCard

__all__ = ["Bill", "Variation", "WorkDone", "bill_for", "cost_of"]


@dataclass(frozen=True, slots=True)
class WorkDone:
    """What was done in one hole.

    Attributes
    ----------
    number : int
    depth : float
        Drilled [m].
    bits : tuple of (from_depth, diameter)
        [m], [m].
    ground : tuple of (from_depth, to_depth, drilling class)
        As logged; "" where the words name no class [m], [m].
    casings : tuple of (string, slotted, outside_diameter, length)
        The string is "conductor", "surface" or "production" [m], [m].
    seal, grout_bags : float
        Length of seal [m], bags.
    development, test, standing : float
        Hours' worth [s].
    sealed : bool
        Whether the hole was sealed as one that failed.
    """

    number: int
    depth: float
    bits: tuple[tuple[float, float], ...] = ()
    ground: tuple[tuple[float, float, str], ...] = ()
    casings: tuple[tuple[str, bool, float, float], ...] = ()
    seal: float = 0.0
    grout_bags: float = 0.0
    development: float = 0.0
    test: float = 0.0
    standing: float = 0.0
    sealed: bool = False


@dataclass(frozen=True, slots=True)
class Variation:
    """A change that was agreed: why, and how much before tax [minor units]."""

    reason: str
    amount: int
    currency: str


@dataclass(frozen=True, slots=True)
class Bill:
    """The lines due; they sum to `total` to the minor unit, of which `tax` is the tax."""

    lines: tuple[Line, ...]
    total: int
    tax: int


def _drilled(hole: WorkDone, cap: float | None = None) -> list[tuple[float, float, str]]:
    """Return (diameter, metres, drilling class or "") of each interval down to the depth or the cap; "" is ground that nobody logged."""
    depth = min(hole.depth, cap) if cap is not None else hole.depth
    bits = sorted(hole.bits)
    if not bits:
        raise Refused(f"Hole {hole.number} has no bit recorded, so its metres have no rate: record the diameter drilled.")
    marks = sorted({0.0, depth, *(at for at, _ in bits), *(v for top, bottom, _ in hole.ground for v in (top, bottom))})
    found = []
    for a, b in zip(marks, marks[1:], strict=False):
        if b > depth:
            break
        middle = 0.5 * (a + b)
        diameter = next((size for at, size in reversed(bits) if at <= middle), bits[0][1])
        found.append((diameter, b - a, next((name for top, bottom, name in hole.ground if top <= middle < bottom), "")))
    return found


def bill_for(
    card: RateCard, contract: Contract, holes: Sequence[WorkDone], *, need_met: bool, distance: float = 0.0, variations: Iterable[Variation] = (),
) -> Bill:
    """Return what the customer owes for the work as it was done.

    Parameters
    ----------
    card, contract : RateCard, Contract
        Those of the quote that was agreed.
    holes : sequence of WorkDone
    need_met : bool
        Whether the flow agreed was found.
    distance : float
        Yard to site, one way [m].
    variations : iterable of Variation
        Those in another currency stay out.

    Returns
    -------
    Bill

    Raises
    ------
    Refused
        Metres with no diameter to charge by, or the card has no line for what was done.

    Notes
    -----
    Lines are those of the quote (`itemised`) on what was logged: metres by bit and by class of ground (the lowest rate where nobody logged it),
    casing, seals, grout bags, hours of air-lifting, of pumping tests and of standing by. Then, in this order: the minimum charge, the contract
    (fixed price; promise; reduced charge for a dry hole; deposit), variations, tax, rounding.
    """
    require_non_negative(distance=distance)
    lines: list[Line] = []

    def put(key: str, label: str, quantity: float, unit: str, rate: int) -> None:
        thousandths = round(quantity * 1000)
        if thousandths:
            lines.append(Line(key, label, thousandths, unit, rate, int(amounts(thousandths, rate, card.rounding))))

    def charge(key: str, quantity: float, unit: str) -> None:
        put(key, CHARGES[key].split(", per")[0], quantity, unit, card.charges[key])

    charge("set_up", 1.0, "job")
    charge("travel_per_km", 2.0 * distance / 1000.0, "km")
    for hole in holes:
        try:
            _hole_lines(hole, card, contract, put, charge)
        except BadInput as error:
            raise Refused(f"The rate card has no line for what was done in hole {hole.number}: {error}.") from error
    total = sum(line.amount_minor for line in lines)

    def adjust(key: str, label: str, to: int) -> None:
        nonlocal total
        if to != total:
            lines.append(Line(key, label, 1000, "job", to - total, to - total))
            total = to

    adjust("minimum", "Up to the minimum charge", max(total, card.minimum_charge))
    if contract.kind == "fixed":
        adjust("fixed", "To the fixed price", int(contract.fixed or 0))
    if need_met:
        adjust("promise", "Price of the promise", total + int(contract.promise_price or 0))
    else:
        label = "Not charged: the need was not met" if contract.dry_hole_share == 0 else "Reduced: the need was not met"
        adjust("dry_hole", label, int(round_ratio(total * round(Decimal(str(contract.dry_hole_share)) * 10**6), 10**6, card.rounding)))
    adjust("deposit", "Deposit kept", max(total, contract.deposit))
    for change in variations:
        if change.currency == card.currency:
            adjust("variation", f"Variation: {change.reason}", total + change.amount)
    tax = int(round_ratio(total * int(card.tax_rate * 10**6), 10**6, card.rounding))
    adjust("tax", f"{card.tax_name} {(card.tax_rate * 100).normalize():f} %", total + tax)
    adjust("rounding", "Rounding", int(round_to_step(total, card.round_total_to, card.rounding)))
    return Bill(tuple(lines), total, tax)


def _hole_lines(hole: WorkDone, card: RateCard, contract: Contract, put, charge) -> None:
    metres: dict[tuple[int, str], tuple[float, int]] = {}
    for diameter, length, name in _drilled(hole, contract.metres_cap):
        size, rates = card.drilling_rates(diameter)
        rate = rates[DRILLING_CLASSES.index(name)] if name else min(rates)
        metres[size, name] = (metres.get((size, name), (0.0, rate))[0] + length, rate)
    for (size, name), (length, rate) in metres.items():
        put(f"drilling.{name or 'not logged'}", f"Drilling {size} mm, {name} ground" if name else f"Drilling {size} mm, ground not logged (lowest rate)", length, "m", rate)
    casing: dict[tuple[str, int], tuple[float, int]] = {}
    for string, slotted, outside, length in hole.casings:
        row = card.casing_rates(outside)
        kind = "Slotted casing" if slotted else "Casing" if string == "production" else "Surface casing"
        held, rate = casing.get((kind, row[0]), (0.0, row[2] if slotted else row[1]))
        casing[kind, row[0]] = (held + length, rate)
    for (kind, size), (length, rate) in casing.items():
        put("casing", f"{kind} {size} mm", length, "m", rate)
    charge("seal_per_metre", hole.seal, "m")
    charge("grout_bag", hole.grout_bags, "bag")
    charge("development_per_hour", hole.development / 3600.0, "h")
    charge("test_per_hour", hole.test / 3600.0, "h")
    charge("standing_per_hour", hole.standing / 3600.0, "h")
    if hole.sealed:
        charge("sealing_failed_hole", 1.0, "hole")
        charge("sealing_failed_per_metre", hole.depth, "m")
    elif hole.casings:
        charge("headworks", 1.0, "job")


def cost_of(card: RateCard, holes: Sequence[WorkDone], *, hours: float, distance: float = 0.0) -> int:
    """Return what the work cost the firm by its own rate card [minor units].

    Parameters
    ----------
    hours : float
        Of rig and crew, on site and on the road [s].
    distance : float
        Yard to site, one way [m].

    Raises
    ------
    Refused
        Metres with no diameter recorded, or a casing that the card does not list.

    Notes
    -----
    Ground that nobody logged wears bits at the lowest rate, so the cost is then a floor.
    """
    require_non_negative(hours=hours, distance=distance)
    total = card.costs["job"] + round(hours / 3600.0 * card.costs["rig_and_crew_per_hour"])

    def add(quantity: float, rate: int) -> None:
        nonlocal total
        total += int(amounts(round(quantity * 1000), rate, card.rounding))

    add(2.0 * distance / 1000.0, card.costs["travel_per_km"])
    for hole in holes:
        for _, length, name in _drilled(hole):
            add(length, card.wear[DRILLING_CLASSES.index(name)] if name else min(card.wear))
        for _, slotted, outside, length in hole.casings:
            try:
                row = card.casing_rates(outside)
            except BadInput as error:
                raise Refused(f"The rate card has no line for what was done in hole {hole.number}: {error}.") from error
            add(length, row[4] if slotted else row[3])
        add(hole.seal, card.costs["seal_per_metre"])
        add(hole.grout_bags, card.costs["grout_bag"])
        if hole.sealed:
            add(hole.depth, card.costs["sealing_failed_per_metre"])
        elif hole.casings:
            total += card.costs["headworks"]
    return total
