"""How much water is wanted, whether the bore gives it, and how large a tank carries a dry spell."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, BadInput, OutOfDomain, require, require_non_negative, require_positive

__all__ = ["Demand", "DrySpell", "Enough", "bore_enough", "daily_demand", "demand_items", "dry_spell", "tank_for"]

DAY = 86400.0


@dataclass(frozen=True, slots=True)
class DemandItem:
    """One line of the demand table: litres a day for one, low to high, where from and whether it was read."""

    name: str
    low: float  # m3/d
    high: float
    source: str
    status: str


@cache
def _items() -> tuple[str, dict[str, DemandItem]]:
    import tomllib
    from importlib.resources import files

    data = tomllib.loads(files("borewright.pumping").joinpath("data/demand.toml").read_text(encoding="utf-8"))
    items = {i["name"]: DemandItem(i["name"], i["low"] / 1000, i["high"] / 1000, i["source"], i["status"]) for i in data["item"]}
    return str(data["dated"]), items


def demand_items() -> dict[str, DemandItem]:
    """Return the demand table by name; volumes are m3 a day for one."""
    return dict(_items()[1])


@dataclass(frozen=True, slots=True)
class Demand:
    """Water wanted in a day, low to high [m3], with its lines (name, number, low, high), sources and date of the table."""

    low: float
    high: float
    lines: tuple[tuple[str, float, float, float], ...]
    sources: tuple[str, ...]
    dated: str
    advisories: tuple[Advisory, ...]


def daily_demand(numbers: Mapping[str, float], *, extra: float = 0.0) -> Demand:
    """Return the water wanted in a day by numbers of people, stock and land.

    Parameters
    ----------
    numbers : mapping of name to number
        Names of `demand_items`.
    extra : float
        Other daily use [m3].

    Raises
    ------
    BadInput
        A name that is not in the table, or nothing asked for.
    """
    dated, items = _items()
    require_non_negative(extra=extra)
    lines = []
    for name, number in numbers.items():
        if name not in items:
            from difflib import get_close_matches

            raise BadInput("numbers", name, "is not in the demand table", "one of " + ", ".join(get_close_matches(name, items, n=4, cutoff=0.3) or items))
        require_non_negative(**{name.replace(" ", "_"): number})
        lines.append((name, float(number), items[name].low * number, items[name].high * number))
    low, high = sum(line[2] for line in lines) + extra, sum(line[3] for line in lines) + extra
    require(high > 0, "numbers", str(dict(numbers)), "ask for no water", "at least one number above zero")
    advisories = ()
    if any(items[line[0]].status == "no source" for line in lines if line[1] > 0):
        advisories = (Advisory("demand-without-source", "doubt", "Garden and irrigation figures are common practice: use the local figure for the crop and climate.", "numbers"),)
    return Demand(low, high, tuple(lines), tuple(dict.fromkeys(items[line[0]].source for line in lines)), dated, advisories)


@dataclass(frozen=True, slots=True)
class DrySpell:
    """A tank through a dry spell.

    Attributes
    ----------
    stored : ndarray, shape (days + 1,)
        At the start and at the end of each day [m3].
    short : ndarray, shape (days,)
        Wanted and not given on each day [m3].
    days_short : int
    lasts : int
        Whole days before the first that goes short; the whole spell where none does.
    """

    stored: np.ndarray
    short: np.ndarray
    days_short: int
    lasts: int


def dry_spell(tank: float, *, inflow: ArrayLike, demand: ArrayLike, days: int, outage: int = 0, start_full: float = 1.0) -> DrySpell:
    """Return how a tank fares, day by day.

    Parameters
    ----------
    tank : float
        Usable volume [m3].
    inflow, demand : float or array_like, shape (days,)
        That the bore gives and that is wanted in a day [m3].
    days : int
        Length of the spell.
    outage : int
        Days at the start with no pump: a breakdown at the worst time.
    start_full : float
        Share of the tank filled at the start.

    Notes
    -----
    Each day: stored' = min(tank, max(0, stored + inflow - demand)); the shortfall is what goes below zero.
    """
    require_non_negative(tank=tank, inflow=inflow, demand=demand, start_full=start_full)
    require(isinstance(days, int) and 1 <= days <= 3660, "days", days, "is not a length of a dry spell", "1 to 3660 whole days")
    require(isinstance(outage, int) and 0 <= outage <= days, "outage", outage, "is longer than the spell", f"0 to {days} whole days")
    require(start_full <= 1, "start_full", start_full, "is more than full", "a fraction from 0 to 1")
    given, wanted = _by_day(inflow, days, "inflow"), _by_day(demand, days, "demand")
    given[:outage] = 0.0
    stored, short = np.empty(days + 1), np.zeros(days)
    stored[0] = tank * start_full
    for i in range(days):
        after = stored[i] + given[i] - wanted[i]
        short[i] = max(0.0, -after)
        stored[i + 1] = min(tank, max(0.0, after))
    dry = np.flatnonzero(short > 1e-12 * max(1.0, float(wanted.max())))
    return DrySpell(stored, short, int(dry.size), int(dry[0]) if dry.size else days)


def _by_day(value: ArrayLike, days: int, field: str) -> np.ndarray:
    array = np.asarray(value, float)
    if array.ndim and array.shape != (days,):
        raise OutOfDomain(field, array.size, f"does not hold {days} days", "one number, or one for each day")
    return np.broadcast_to(array, (days,)).astype(float).copy()


def tank_for(*, inflow: ArrayLike, demand: ArrayLike, days: int, outage: int = 0) -> float:
    """Return the smallest tank, full at the start, that goes through a spell without running short [m3].

    Notes
    -----
    The deepest fall of cumulative inflow less demand below an earlier peak (the sequent peak), which `dry_spell` confirms.
    """
    require_non_negative(inflow=inflow, demand=demand)
    require(isinstance(days, int) and 1 <= days <= 3660, "days", days, "is not a length of a dry spell", "1 to 3660 whole days")
    require(isinstance(outage, int) and 0 <= outage <= days, "outage", outage, "is longer than the spell", f"0 to {days} whole days")
    given, wanted = _by_day(inflow, days, "inflow"), _by_day(demand, days, "demand")
    given[:outage] = 0.0
    running = np.concatenate([[0.0], np.cumsum(given - wanted)])
    return float(np.max(np.maximum.accumulate(running) - running))


@dataclass(frozen=True, slots=True)
class Enough:
    """Is this bore enough? `enough` is "yes", "with a tank" or "no"; `words` says it to the customer; volumes in m3, flows in m3/s."""

    enough: str
    words: str
    daily_yield: float
    tank: float
    days_of_demand: float
    advisories: tuple[Advisory, ...]


def bore_enough(
    rated_flow: float, demand: Demand, *, pumping_hours: float = 18.0, dry_days: int = 90, dry_yield: float = 1.0, outage_days: int = 3, peak_hours: float = 2.0,
) -> Enough:
    """Return whether a bore gives what is wanted, with the tank that it takes.

    Parameters
    ----------
    rated_flow : float
        The rating of the bore [m3/s].
    demand : Demand
        The high figure is held against the bore.
    pumping_hours : float
        In a day; rest keeps the level up (common practice, no source).
    dry_yield : float
        Share of the rating that is left in the spell.
    outage_days : int
        Without a pump, at the start of the spell.
    peak_hours : float
        In which a whole day's water may be drawn (Penn State Extension).
    """
    require_positive(rated_flow=rated_flow, peak_hours=peak_hours)
    require(0 < pumping_hours <= 24, "pumping_hours", pumping_hours, "are not hours of a day", "above 0 to 24")
    require(0 < dry_yield <= 1, "dry_yield", dry_yield, "is not a share of the rating", "above 0 to 1")
    daily = rated_flow * pumping_hours * 3600
    lean = daily * dry_yield
    tank = tank_for(inflow=lean, demand=demand.high, days=dry_days, outage=min(outage_days, dry_days))
    direct = rated_flow * peak_hours * 3600 >= demand.high
    held = tank / demand.high
    peak_store = max(0.0, demand.high - rated_flow * peak_hours * 3600)
    wanted = f"{demand.low * 1000:,.0f} to {demand.high * 1000:,.0f} L a day are wanted and the bore gives about {lean * 1000:,.0f} L a day in a dry spell"
    if lean < demand.low:
        answer, words = "no", (f"No: {wanted}. A tank only puts off the day: to last {dry_days} dry days it would have to hold {tank * 1000:,.0f} L. "
                               "Use less, add another source, or drill again.")
    elif lean < demand.high:
        answer, words = "with a tank", f"Only with care: {wanted}. A tank of {tank * 1000:,.0f} L carries the highest use through {dry_days} dry days with {outage_days} without a pump."
    elif direct:
        answer, words = "yes", f"Yes: {wanted}, and it keeps up even when the day's water is drawn in {peak_hours:g} hours. {tank * 1000:,.0f} L of tank covers {outage_days} days without a pump."
    else:
        tank = max(tank, peak_store)
        answer, words = "with a tank", (f"Yes, with a tank: {wanted}, but not all at once. A tank of {math.ceil(tank * 10) * 100:,} L covers the busy hours and {outage_days} days "
                                        "without a pump.")
    return Enough(answer, words, lean, tank, max(held, tank / demand.high), (*demand.advisories,
                  Advisory("fire-water", "note", "Water to fight fire is not counted: ask your local fire authority.", "tank")))
