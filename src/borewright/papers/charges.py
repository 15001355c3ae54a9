"""What is due for a job as it was done: the quote's rate card on the quantities that the job book holds, under the agreed contract."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput, Refused
from borewright.ground import DRILLING_CLASSES, GROUND, classify
from borewright.record.fold import Hole, Job

if TYPE_CHECKING:
    from borewright.pricing import RateCard

__all__ = ["charge_lines", "need_met"]


def need_met(job: Job) -> bool:
    """Return whether the flow measured last in any hole that stands open reached the need that was quoted."""
    need = job.quote.body.content["need"]
    return any(h.last_flow is not None and h.last_flow.body.flow >= need and not h.sealed_off for h in job.holes.values())


def _drilled(hole: Hole, card: RateCard, cap: float | None) -> dict[tuple[int, str], tuple[float, int]]:
    """Return {(diameter on the card in mm, drilling class or ""): (metres, rate)}; "" is ground that nobody logged, at the lowest rate."""
    depth = min(hole.depth, cap) if cap is not None else hole.depth
    bits = sorted(hole.bits, key=lambda f: f.body.from_depth)
    if not bits:
        raise Refused(f"Hole {hole.number} has no bit recorded, so its metres have no rate: record the diameter drilled.")
    marks = sorted({0.0, depth, *(f.body.from_depth for f in bits), *(v for f in hole.ground for v in (f.body.from_depth, f.body.to_depth))})
    found: dict[tuple[int, str], tuple[float, int]] = {}
    for a, b in zip(marks, marks[1:], strict=False):
        if b > depth:
            break
        middle = 0.5 * (a + b)
        bit = next((f for f in reversed(bits) if f.body.from_depth <= middle), bits[0])
        size, rates = card.drilling_rates(bit.body.diameter)
        words = next((f.body for f in hole.ground if f.body.from_depth <= middle < f.body.to_depth), None)
        ground = (GROUND.get(words.ground_class) or classify(words.words)) if words else None
        name = ground.drilling if ground else ""
        rate = rates[DRILLING_CLASSES.index(name)] if name else min(rates)
        metres = found.get((size, name), (0.0, rate))[0]
        found[size, name] = (metres + b - a, rate)
    return found


def charge_lines(job: Job) -> tuple[list[dict[str, Any]], int]:
    """Return the lines due and their sum, whole minor units; the sum of the lines is the total to the minor unit.

    Raises
    ------
    Refused
        The quote carries no rate card, metres have no diameter to charge by, or the card has no line for what was done.

    Notes
    -----
    Lines are those of the quote (`borewright.pricing.itemised`) on what was logged: metres by bit and by the class of the ground logged, casing,
    seals, grout bags, hours of air-lifting, of pumping tests and of standing by. Then, in this order: the minimum charge, the contract (fixed price;
    promise; reduced charge for a dry hole; deposit), agreed variations, tax, rounding.
    """
    from borewright.pricing import card_from_dict
    from borewright.pricing.money import amounts, round_ratio, round_to_step
    from borewright.pricing.ratecard import CHARGES

    content = job.quote.body.content
    if not content.get("rate_card"):
        raise Refused("The quote carries no rate card, so nothing can be charged by it: issue the quote again.")
    card, contract = card_from_dict(content["rate_card"]), content["contract"]
    lines: list[dict[str, Any]] = []

    def put(label: str, quantity: float, unit: str, rate: int) -> None:
        thousandths = round(quantity * 1000)
        if thousandths:
            lines.append({"label": label, "quantity_thousandths": thousandths, "unit": unit, "rate_minor": rate, "amount_minor": int(amounts(thousandths, rate, card.rounding))})

    def charge(key: str, quantity: float, unit: str) -> None:
        put(CHARGES[key].split(", per")[0], quantity, unit, card.charges[key])

    charge("set_up", 1.0, "job")
    charge("travel_per_km", 2.0 * float(content.get("distance") or 0.0) / 1000.0, "km")
    for hole in job.holes.values():
        try:
            _hole_lines(hole, card, contract, put, charge)
        except BadInput as error:
            raise Refused(f"The rate card has no line for what was done in hole {hole.number}: {error}.") from error

    total = sum(line["amount_minor"] for line in lines)

    def adjust(label: str, to: int) -> None:
        nonlocal total
        if to != total:
            lines.append({"label": label, "quantity_thousandths": 1000, "unit": "job", "rate_minor": to - total, "amount_minor": to - total})
            total = to

    adjust("Up to the minimum charge", max(total, card.minimum_charge))
    if contract["kind"] == "fixed":
        adjust("To the fixed price", int(contract["fixed"] or 0))
    if need_met(job):
        adjust("Price of the promise", total + int(contract.get("promise_price") or 0))
    else:
        share = contract.get("dry_hole_share", 1.0)
        label = "Not charged: the need was not met" if share == 0 else "Reduced: the need was not met"
        adjust(label, int(round_ratio(total * round(Decimal(str(share)) * 10**6), 10**6, card.rounding)))
    adjust("Deposit kept", max(total, int(contract.get("deposit") or 0)))
    for fact in job.variations:
        if fact.body.currency == card.currency:
            adjust(f"Variation: {fact.body.reason}", total + fact.body.amount_minor)
    adjust(f"{card.tax_name} {(card.tax_rate * 100).normalize():f} %", total + int(round_ratio(total * int(card.tax_rate * 10**6), 10**6, card.rounding)))
    adjust("Rounding", int(round_to_step(total, card.round_total_to, card.rounding)))
    return lines, total


def _hole_lines(hole: Hole, card: RateCard, contract: Mapping[str, Any], put: Any, charge: Any) -> None:
    for (size, name), (metres, rate) in _drilled(hole, card, contract.get("metres_cap")).items():
        put(f"Drilling {size} mm, {name} ground" if name else f"Drilling {size} mm, ground not logged (lowest rate)", metres, "m", rate)
    casing: dict[tuple[str, int], list] = {}
    for fact in hole.casings:
        body = fact.body
        row = card.casing_rates(body.outside_diameter)
        kind = "Slotted casing" if body.slotted else "Casing" if body.string == "production" else "Surface casing"
        held = casing.setdefault((kind, row[0]), [0.0, row[2] if body.slotted else row[1]])
        held[0] += body.to_depth - body.from_depth
    for (kind, size), (metres, rate) in casing.items():
        put(f"{kind} {size} mm", metres, "m", rate)
    charge("seal_per_metre", sum(f.body.to_depth - f.body.from_depth for f in hole.annulus if f.body.what == "seal"), "m")
    charge("grout_bag", sum(f.body.bags or 0.0 for f in hole.annulus if f.body.what == "grout"), "bag")
    charge("development_per_hour", max((f.body.elapsed for f in hole.airlift), default=0.0) / 3600.0, "h")
    charge("test_per_hour", sum(t.run.body.duration or 0.0 for t in hole.tests.values() if t.run.body.type in ("constant rate", "step")) / 3600.0, "h")
    charge("standing_per_hour", sum(f.body.duration or 0.0 for f in hole.stood_by) / 3600.0, "h")
    if hole.sealed_off:
        charge("sealing_failed_hole", 1.0, "hole")
        charge("sealing_failed_per_metre", hole.depth, "m")
    elif hole.casings:
        charge("headworks", 1.0, "job")
