"""The bridge from a form's values to a use-case: each act takes the desk, the job and the values, and gives back the entry written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry

__all__ = ["Desk"]


@dataclass(frozen=True, slots=True)
class Desk:
    """What every page works with: the job book, the folder of settings, and who writes."""

    book: Any
    folder: Path
    by: str = "office"

    @property
    def settings(self) -> Any:
        """The firm's settings as they stand."""
        from borewright.storage import load_settings

        return load_settings(self.folder)

    @property
    def card(self) -> Any:
        """The rate card in use; the sample card in invented money until the firm has its own."""
        from borewright.pricing import sample_card
        from borewright.storage import current_rate_card

        return current_rate_card(self.folder) or sample_card()

    @property
    def registers(self) -> Path:
        """The folder of registers."""
        return self.folder / "registers"


def tell_odds(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.siting import open_register
    from borewright.work.ground import tell_odds as tell
    from borewright.work.ownbores import register_with_own

    name = values["register_name"]
    register = register_with_own(desk.book, name, desk.registers) if values.get("own") else open_register(name, desk.registers)
    return tell(desk.book, job, register, by=desk.by)


def issue_quote(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.pricing import fixed_price, per_metre, promise, read_minor
    from borewright.work.quoting import issue_quote as issue

    card = desk.card
    kind = values.get("contract", "per metre")
    terms: dict[str, Any] = {name: values[name] for name in ("dry_hole_share", "least_depth", "metres_cap") if name in values}
    for name in ("deposit", "promise_price"):
        if values.get(name):
            terms[name] = read_minor(values[name], card.currency, field=name)
    if kind == "fixed":
        if not values.get("price"):
            raise BadInput("price", "", "is missing", "the fixed price before tax, such as 14500.00")
        if "metres_cap" in terms:
            raise BadInput("metres_cap", values["metres_cap"], "does not go with a fixed price, which holds however deep", "a contract by the metre or a promise")
        terms["price"] = read_minor(values["price"], card.currency, field="price")
    elif values.get("price"):
        raise BadInput("price", values["price"], f"does not go with a contract {kind}", "a fixed contract, or no price")
    if kind != "promise" and "promise_price" in terms:
        raise BadInput("promise_price", values["promise_price"], f"does not go with a contract {kind}", "a promise, or no price for one")
    contract = {"fixed": fixed_price, "promise": promise}.get(kind, per_metre)(**terms)
    return issue(desk.book, job, by=desk.by, card=card, contract=contract, maximum_depth=values.get("maximum_depth", 120.0),
                 valid_days=desk.settings.quote_valid_days)


def accept_quote(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.quoting import accept_quote as accept

    return accept(desk.book, job, name=values["name"], way=values.get("way", "in person"), by=desk.by)


def vary_quote(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.pricing import read_minor

    quote = desk.book.job(job).quote
    if quote is None:
        raise BadInput("reason", values.get("reason"), "has no quote to vary", "a quote first")
    currency = quote.body.content.get("currency") or desk.card.currency
    amount = read_minor(values["amount"], currency, field="amount", allow_negative=True)
    body = {"number": quote.body.number, "reason": values["reason"], "amount_minor": amount, "currency": currency}
    return desk.book.write(job, "quote.varied", body, by=desk.by)


def design_expected(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.bore import design_expected as design

    return design(desk.book, job, by=desk.by)


def design_logged(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.bore import design_logged as design

    return design(desk.book, job, by=desk.by)


def _readings(text: str, name: str, factor: float = 1.0) -> list[float]:
    from borewright.quantities import parse

    parts = [p for p in text.replace(";", ",").split(",") if p.strip()]
    return [parse(p, "number", field=name).si * factor for p in parts]


def bucket(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.onrig import measure_flow

    readings = {"volume": values["volume"], "fill_times": _readings(values["fill_times"], "fill_times")}
    return measure_flow(desk.book, job, "bucket", readings, depth=values["depth"], hole=values.get("hole", 1), by=desk.by)


def notch(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.onrig import measure_flow

    readings = {"heads": _readings(values["heads"], "heads", 1e-3), "notch_angle": values.get("notch_angle", 90.0)}
    return measure_flow(desk.book, job, "V-notch", readings, depth=values["depth"], hole=values.get("hole", 1), by=desk.by)


def dip(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    """Keep a level below ground, whatever it was measured from."""
    body = {k: v for k, v in values.items() if v not in ("", None)}
    if body.get("measured_from") == "top of casing":
        if "stick_up" not in body:
            raise BadInput("stick_up", "", "is missing", "how far the casing stands above ground, such as 0.4 m")
        body["depth_to_water"] -= body["stick_up"]
    return desk.book.write(job, "rig.level", body, by=desk.by)


def test_run(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    """Write down a run; what is unusual in it is asked first."""
    from borewright.work.testdoubts import confirmed, doubts_of_run

    body = {k: v for k, v in values.items() if v not in ("", None) and k != "sure"}
    confirmed(doubts_of_run(desk.book.job(job).holes.get(body.get("hole", 1)), body), values.get("sure", False))
    return desk.book.write(job, "test.run", body, by=desk.by)


def test_levels(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    """Write down levels of a run that is there; what is unusual in them is asked first."""
    from borewright.work.facts import the_hole
    from borewright.work.testdoubts import confirmed, doubts_of_levels

    rows = values["rows"]
    body = {"hole": values.get("hole", 1), "run": values["run"], "time": [r["time"] for r in rows], "drawdown": [r["drawdown"] for r in rows]}
    confirmed(doubts_of_levels(the_hole(desk.book.job(job), body["hole"]), body["run"], body["time"], body["drawdown"]), values.get("sure", False))
    return desk.book.write(job, "test.levels", body, by=desk.by)


def fit_run(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.testing import fit_run as fit

    return fit(desk.book, job, values["run"], hole=values.get("hole"), by=desk.by)


def rate_job(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    from borewright.work.testing import rate_job as rate

    return rate(desk.book, job, by=desk.by, dry_season_fall=values.get("dry_season_fall"))


def pump_put_in(desk: Desk, job: UUID, values: dict[str, Any]) -> Entry:
    """Write down the pump that went in; what was worked out for the bore stays beside it, with the name of the pump that it was worked out for."""
    body = {k: v for k, v in values.items() if v not in ("", None)}
    hole = desk.book.job(job).holes.get(body.get("hole", 1))
    before = hole.pump.body if hole and hole.pump else None
    if before is not None and before.duty:
        body["duty"] = dict(before.duty)
        if before.intake_depth is not None:
            body.setdefault("intake_depth", before.intake_depth)
    return desk.book.write(job, "pump.chosen", body, by=desk.by)
