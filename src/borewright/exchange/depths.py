"""Whether the depths of a bore that comes from elsewhere can stand together: nothing below the bottom, no ground logged twice, no level in rock."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import Bore

__all__ = ["check_depths"]

SLACK = 0.01  # m: depths that were carried over from feet may differ by their last digit
# table -> (column, field) of the depths that cannot lie below the bottom
_WITHIN = {
    "bits": (("from_m", "from_depth"),), "intervals": (("to_m", "to_depth"),), "strikes": (("depth_m", "depth"),), "flows": (("depth_m", "depth"),),
    "casing": (("to_m", "to_depth"),), "annulus": (("to_m", "to_depth"),), "samples": (("depth_m", "depth"),), "sealed": (("to_m", "intervals.to_depth"),),
}
_SPANS = {"intervals": ("from_depth", "to_depth"), "casing": ("from_depth", "to_depth"), "annulus": ("from_depth", "to_depth"), "sealed": ("intervals.from_depth", "intervals.to_depth")}


def check_depths(bore: Bore) -> None:
    """Raise BadInput, named by table, row and column, for the first depth that cannot be.

    An interval that ends above its beginning; ground, or a filling of a sealed hole, given twice for one depth; anything below the bottom of the bore; a water
    level or a drawdown that ends below it. Without a depth of the bore only the order of depths can be told.
    """
    def bad(table: str, number: int, column: str, value: Any, problem: str, want: str) -> BadInput:
        return BadInput(f"bore {bore.id}, {table} row {number}: {column}", value, problem, want)

    for table, (start, end) in _SPANS.items():
        for number, row in enumerate(bore.table(table), 1):
            top, bottom = row[start], row[end]
            if top is not None and bottom is not None and bottom < top:
                raise bad(table, number, "to_m", bottom, f"ends above its beginning at {top:g} m", "depths from above to below")
    for table in ("intervals", "sealed"):
        for number, top, other, bottom in _overlaps(bore, table):
            raise bad(table, number, "from_m", top, f"begins within row {other}, which goes down to {bottom:g} m", "intervals that do not cross")
    if bore.depth is None:
        return
    floor = bore.depth + SLACK
    for table, columns in _WITHIN.items():
        for number, row in enumerate(bore.table(table), 1):
            for column, name in columns:
                if row[name] is not None and row[name] > floor:
                    part = "a screen" if table == "casing" and row["slotted"] else "it"
                    raise bad(table, number, column, row[name], f"lies below the bottom of the bore at {bore.depth:g} m", f"{part} within the bore, or the bore's own depth mended")
    for number, row in enumerate(bore.table("levels"), 1):
        if row["depth_to_water"] > floor:
            raise bad("levels", number, "depth_to_water_m", row["depth_to_water"], f"lies below the bottom of the bore at {bore.depth:g} m", "a water level within the bore")
    _check_tests(bore, floor, bad)


def _overlaps(bore: Bore, table: str) -> Iterator[tuple[int, float, int, float]]:
    """Yield (row, its top, the row it crosses, that row's bottom)."""
    start, end = _SPANS[table]
    spans = sorted((row[start], row[end], number) for number, row in enumerate(bore.table(table), 1) if row[start] is not None and row[end] is not None)
    deepest, by = float("-inf"), 0
    for top, bottom, number in spans:
        if top < deepest - SLACK:
            yield number, top, by, deepest
        if bottom > deepest:
            deepest, by = bottom, number


def _check_tests(bore: Bore, floor: float, bad: Any) -> None:
    rests: dict[str, float] = {}
    for number, row in enumerate(bore.table("tests"), 1):
        rest = row["static_level"]
        if rest is not None and rest > floor:
            raise bad("tests", number, "static_level_m", rest, f"lies below the bottom of the bore at {bore.depth:g} m", "a level at rest within the bore")
        rests[row["run"]] = rest if rest is not None else bore.static_level if bore.static_level is not None else 0.0
    for number, row in enumerate(bore.table("test_levels"), 1):
        # Another bore that was watched has a bottom of its own.
        if row["radius"] is None and row["well"] == "pumped" and rests.get(row["run"], 0.0) + row["drawdown"] > floor:
            raise bad("test_levels", number, "drawdown_m", row["drawdown"], f"takes the water below the bottom of the bore at {bore.depth:g} m", "a drawdown within the bore")
