"""`borewright stock`: what the accepted jobs need, less what the yard holds, and the yard's count."""

from __future__ import annotations

import argparse
import re

from borewright.errors import BadInput

__all__ = ["add_stock", "run_stock"]


def add_stock(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--have", action="append", default=[], metavar="COUNT", help='what the yard holds, such as "cement, 20 kg bags [bags]=40"; again for more; 0 takes a thing off')
    parser.add_argument("--yard", action="store_true", help="list what the yard holds and no more")
    parser.add_argument("--csv", action="store_true", help="print the order as CSV")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def _counts(given: list[str]) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], str] = {}
    for text in given:
        parts = re.fullmatch(r"(.+?)\s*\[([^\[\]]+)\]\s*=\s*(.*)", text.strip())
        if not parts:
            raise BadInput("have", text, "does not say a thing, its unit and how many", '"cement, 20 kg bags [bags]=40", as the stock to order names it')
        key = (parts[1], parts[2].strip())
        if key in found:
            raise BadInput("have", parts[1], "is counted twice", "each thing once")
        found[key] = parts[3]
    return found


def run_stock(arguments: argparse.Namespace) -> int:
    """Keep the counts that were given, then print what is to order."""
    from borewright.cli.output import print_json
    from borewright.storage import open_job_book
    from borewright.work.stock import keep_yard, order_as_csv, stock_to_order, yard_stock

    counts = _counts(arguments.have)
    with open_job_book() as book:
        held = keep_yard(book.folder, counts) if counts else yard_stock(book.folder)
        if arguments.yard:
            rows = [{"item": item, "unit": unit, "quantity": value} for (item, unit), value in sorted(held.items())]
            if arguments.json:
                print_json(rows)
            else:
                print("\n".join(f"{r['item']:<60} {r['quantity']:>8.6g} {r['unit']}" for r in rows) or "The yard's count is empty.")
            return 0
        order = stock_to_order(book)
    if arguments.csv:
        print(order_as_csv(order.rows), end="")
    elif arguments.json:
        print_json({"rows": [{"item": r.item, "unit": r.unit, "needed": r.quantity, "in_the_yard": r.held, "to_order": r.to_order, "jobs": dict(r.jobs)} for r in order.rows],
                    "without_design": [{"id": str(job), "title": title} for job, title in order.without_design]})
    else:
        for r in order.rows:
            print(f"{r.item:<60} {r.to_order:>8.6g} {r.unit:<8} of {r.quantity:.6g} needed, {r.held:.6g} in the yard")
        if not order.rows:
            print("Nothing to order: no accepted job waits to be built.")
        if order.without_design:
            print("Accepted without a design, so not counted: " + ", ".join(title for _, title in order.without_design))
    return 0
