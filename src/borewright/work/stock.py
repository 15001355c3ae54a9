"""Stock to order: the materials of every accepted job that is designed and not yet built, summed."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from borewright.errors import BorewrightError

if TYPE_CHECKING:
    from borewright.construction import MaterialItem
    from borewright.storage import JobBook

__all__ = ["Order", "OrderRow", "materials_as_csv", "order_as_csv", "stock_to_order", "summed"]


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One thing to order: how much in all, and how much for each job by title."""

    item: str
    quantity: float
    unit: str
    jobs: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Order:
    """What to order, the jobs that it is for, and the accepted jobs without a design."""

    rows: tuple[OrderRow, ...]
    jobs: tuple[tuple[Any, str], ...]
    without_design: tuple[tuple[Any, str], ...]


def _stock_name(item: str) -> str:
    """Return the name of a thing in the yard: a length of pipe is the same whichever string it goes into."""
    return item.removeprefix("conductor ").removeprefix("production ")


def summed(designs: Iterable[tuple[str, Sequence[MaterialItem]]]) -> tuple[OrderRow, ...]:
    """Return the sum of materials over jobs, each a title with its materials; things of another unit are other things.

    Lengths and bags were rounded up for each job, so the sum has what each job needs whole.
    """
    found: dict[tuple[str, str], dict[str, float]] = {}
    for title, materials in designs:
        for one in materials:
            jobs = found.setdefault((_stock_name(one.item), one.unit), {})
            jobs[title] = jobs.get(title, 0.0) + one.quantity
    return tuple(OrderRow(item, sum(jobs.values()), unit, tuple(jobs.items())) for (item, unit), jobs in sorted(found.items()))


def stock_to_order(book: JobBook) -> Order:
    """Return what to order for the jobs that a customer accepted, that are open and whose production casing is not run."""
    from borewright.work.designing import last_design

    designs, jobs, without = [], [], []
    for line in book.jobs():
        job = book.job(line.id)
        built = any(f.body.string == "production" for hole in job.holes.values() for f in hole.casings)
        if job.accepted is None or built or job.outcome in ("no water", "closed"):
            continue
        try:
            design = last_design(job)
        except BorewrightError:
            without.append((job.id, job.title))
            continue
        title = f"{job.title} ({job.id.hex[-6:]})"
        designs.append((title, design.materials))
        jobs.append((job.id, job.title))
    return Order(summed(designs), tuple(jobs), tuple(without))


def _csv(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        # A spreadsheet would run a text that begins like a formula.
        writer.writerow(["'" + cell if isinstance(cell, str) and cell[:1] in "=+-@\t\r" else cell for cell in row])
    return out.getvalue()


def materials_as_csv(materials: Sequence[MaterialItem]) -> str:
    """Return materials as CSV: item, quantity, unit, note."""
    return _csv(("item", "quantity", "unit", "note"), ((m.item, f"{m.quantity:.6g}", m.unit, m.note) for m in materials))


def order_as_csv(rows: Sequence[OrderRow]) -> str:
    """Return an order as CSV: item, quantity, unit, and for which jobs."""
    return _csv(("item", "quantity", "unit", "jobs"), (
        (r.item, f"{r.quantity:.6g}", r.unit, "; ".join(f"{title}: {amount:.6g}" for title, amount in r.jobs)) for r in rows))
