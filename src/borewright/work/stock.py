"""Stock to order: the materials of every accepted job that is designed and not yet built, summed, less what the yard holds.

What the yard holds is a table that the firm keeps beside its job book, `yard.csv`: item, unit, quantity. It is counted by a person and
changed by nobody else: running casing into a hole takes nothing off it.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput, BorewrightError

if TYPE_CHECKING:
    from borewright.construction import MaterialItem
    from borewright.storage import JobBook

__all__ = ["Order", "OrderRow", "keep_yard", "less_yard", "materials_as_csv", "order_as_csv", "stock_to_order", "summed", "yard_stock"]

YARD = "yard.csv"
_HEAD = ("item", "unit", "quantity")
_MOST_ROWS, _MOST = 2000, 1e6


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One thing that jobs need: how much in all, how much for each job by title, and what the yard holds of it."""

    item: str
    quantity: float
    unit: str
    jobs: tuple[tuple[str, float], ...]
    held: float = 0.0

    @property
    def to_order(self) -> float:
        """What is short of the need; never below nought."""
        return max(self.quantity - self.held, 0.0)


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


def less_yard(rows: Iterable[OrderRow], held: Mapping[tuple[str, str], float]) -> tuple[OrderRow, ...]:
    """Return the rows with what the yard holds of each; a thing in another unit is another thing."""
    return tuple(replace(row, held=held.get((row.item, row.unit), 0.0)) for row in rows)


def yard_stock(folder: Path) -> dict[tuple[str, str], float]:
    """Return what the yard holds by (item, unit): nothing where no count was kept.

    Raises
    ------
    BadInput
        A file that is not this table, by its row.
    """
    path = Path(folder) / YARD
    if not path.is_file():
        return {}
    want = "rows of item, unit, quantity below that heading"
    try:
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig")), strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadInput(YARD, str(error), "cannot be read", want) from None
    if not rows or tuple(rows[0]) != _HEAD:
        raise BadInput(YARD, ",".join(rows[0])[:80] if rows else "", "has another heading", ",".join(_HEAD))
    found: dict[tuple[str, str], float] = {}
    for number, row in enumerate(rows[1:], 2):
        if len(row) != 3:
            raise BadInput(f"{YARD} row {number}", ",".join(row)[:80], "has another number of cells", want)
        found[row[0], row[1]] = _held(f"{YARD} row {number}", row[2])
    return found


def _held(field: str, given: Any) -> float:
    """Return a quantity in the yard, from a number or the text of one."""
    try:
        value = float(str(given).strip())
    except ValueError:
        raise BadInput(field, given, "is not a number", "what the yard holds, such as 12") from None
    if not math.isfinite(value) or not 0 <= value <= _MOST:
        raise BadInput(field, given, "is not what a yard holds", f"0 to {_MOST:,.0f}")
    return value


def keep_yard(folder: Path, counts: Mapping[tuple[str, str], Any], *, dry_run: bool = False) -> dict[tuple[str, str], float]:
    """Keep counts of things in the yard beside those kept before, and return all; nought takes a thing off the list.

    Parameters
    ----------
    counts : mapping
        Of (item, unit), as a stock to order names them: a number or its text.
    dry_run : bool
        Check them and keep nothing.

    Raises
    ------
    BadInput
        A count that cannot be, or a thing without a name; nothing is kept then.
    """
    from borewright.storage.files import write_whole

    held = yard_stock(folder)
    for (item, unit), given in counts.items():
        if not (0 < len(item.strip()) <= 200 and item.isprintable() and 0 < len(unit.strip()) <= 40 and unit.isprintable()):
            raise BadInput("item", f"{item} [{unit}]"[:80], "is not the name of a thing in the yard", "an item and its unit as the stock to order names them")
        held[item, unit] = _held(item, given)
    held = {key: value for key, value in sorted(held.items()) if value > 0}
    if len(held) > _MOST_ROWS:
        raise BadInput("item", len(held), "are too many things", f"at most {_MOST_ROWS}")
    if dry_run:
        return held
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([_HEAD, *((item, unit, f"{value:.10g}") for (item, unit), value in held.items())])
    write_whole(Path(folder) / YARD, out.getvalue().encode())
    return held


def stock_to_order(book: JobBook) -> Order:
    """Return what the jobs need that a customer accepted, that are open and whose production casing is not run, less what the yard holds."""
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
    return Order(less_yard(summed(designs), yard_stock(book.folder)), tuple(jobs), tuple(without))


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
    """Return an order as CSV: item, quantity needed, unit, what the yard holds, what is to order, and for which jobs."""
    return _csv(("item", "quantity", "unit", "in_the_yard", "to_order", "jobs"), (
        (r.item, f"{r.quantity:.6g}", r.unit, f"{r.held:.6g}", f"{r.to_order:.6g}", "; ".join(f"{title}: {amount:.6g}" for title, amount in r.jobs)) for r in rows))
