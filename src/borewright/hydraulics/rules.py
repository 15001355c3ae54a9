"""Published rules of thumb for rating a bore and for turning specific capacity into transmissivity: shown beside a rating, never in place of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from borewright.errors import require_positive
from borewright.hydraulics.confined import JACOB

__all__ = [
    "Rule", "hundred_day_flow", "logan_transmissivity", "moell_flow", "q20_flow", "rules_beside", "specific_capacity",
    "specific_capacity_transmissivity", "taylor_flow",
]

SAFETY = 0.7
TWENTY_YEARS = 20 * 365.25 * 86400.0


@dataclass(frozen=True, slots=True)
class Rule:
    """One published rule: the flow it gives [m3/s], where it comes from, what to know of it."""

    rule: str
    flow: float
    source: str
    note: str


def specific_capacity(rate: float, drawdown: float) -> float:
    """Return flow for each metre of drawdown [m2/s]."""
    require_positive(rate=rate, drawdown=drawdown)
    return rate / drawdown


def logan_transmissivity(rate: float, drawdown: float) -> float:
    """Return T = 1.22 Q/s of a confined aquifer at rest in its pumping level [m2/s]. Source: Logan (1964) Ground Water 2(1):35-37 (from memory)."""
    return 1.22 * specific_capacity(rate, drawdown)


def specific_capacity_transmissivity(
    rate: float, drawdown: float, *, time: float, bore_radius: float, storativity: float, well_loss: float = 0.0,
) -> float:
    """Return T from one pumping level by solving T = Q/(4 pi s) ln(2.2458 T t/(r2 S)), loss at the bore C Q2 taken off first [m2/s].

    Source: Theis, Brown & Meyer (1963) USGS WSP 1536-I. S moves T little: a guess within ten times is enough.
    """
    require_positive(rate=rate, drawdown=drawdown, time=time, bore_radius=bore_radius, storativity=storativity)
    left = drawdown - well_loss * rate**2
    require_positive(drawdown_less_loss=left)
    factor = rate / (4.0 * math.pi * left)
    inner = JACOB * time / (bore_radius**2 * storativity)
    # The rising root of T = factor ln(inner T): fixed point from above converges where it exists.
    value = max(factor * 30.0, math.e / inner)
    for _ in range(200):
        new = factor * math.log(max(inner * value, math.e))
        if abs(new - value) <= 1e-13 * value:
            break
        value = new
    return value


def q20_flow(transmissivity: float, available: float) -> float:
    """Return Farvolden's Q20 = 0.68 T H_a 0.7 [m3/s]. Source: Farvolden (1959) (from memory); 0.68 = 4 pi/(2.303 x 8 log cycles), checked."""
    require_positive(transmissivity=transmissivity, available=available)
    return 4.0 * math.pi / (math.log(10.0) * 8.0) * transmissivity * available * SAFETY


def moell_flow(rate: float, at_hundred_minutes: float, growth: float, available: float) -> float:
    """Return the modified Moell flow Q H_a 0.7/(s_100min + 5.02 ds), `growth` ds a log cycle [m3/s]. Source: Maathuis & van der Kamp (2006)."""
    require_positive(rate=rate, at_hundred_minutes=at_hundred_minutes, growth=growth, available=available)
    return rate * available * SAFETY / (at_hundred_minutes + math.log10(TWENTY_YEARS / 6000.0) * growth)


def hundred_day_flow(rate: float, at_one_day: float, growth: float, available: float) -> float:
    """Return the 100-day flow without recharge, 0.7 Q H_a/(s_24h + 2 ds) [m3/s]. Source: practice of British Columbia (from memory)."""
    require_positive(rate=rate, at_one_day=at_one_day, growth=growth, available=available)
    return SAFETY * rate * available / (at_one_day + 2.0 * growth)


def taylor_flow(rate: float, at_end: float, first_slope: float, second_slope: float, end: float, available: float, *, boundaries: int = 0) -> float:
    """Return Q H_a/s(2 years), s carried on from the end of the test by its log slopes [m3/s].

    s + s1 x + s2 x2/2 with x = log10(2 years/end), slopes a log10 cycle; each assumed no-flow boundary adds s1 x once more.
    Source: the flow characteristics idea of van Tonder et al. (2001) J. Hydrology 241:70-90 (formula from memory).
    """
    require_positive(rate=rate, at_end=at_end, end=end, available=available)
    x = max(math.log10(2 * 365.25 * 86400.0 / end), 0.0)
    later = at_end + (1 + boundaries) * first_slope * x + max(second_slope, 0.0) * x**2 / 2.0
    return rate * available / later


def rules_beside(*, rate: float, transmissivity: float, at_hundred_minutes: float, at_one_day: float, growth: float, available: float) -> tuple[Rule, ...]:
    """Return the rules that a test allows, for the page beside the rating."""
    rules = [Rule("Q20 (Farvolden)", q20_flow(transmissivity, available), "Farvolden (1959), from memory", "20 years, transmissivity only; 30 % of the head held back")]
    if at_hundred_minutes > 0 and growth > 0:
        rules.append(Rule("Q20 (modified Moell)", moell_flow(rate, at_hundred_minutes, growth, available), "Maathuis & van der Kamp (2006), from memory",
                          "drawdown at 100 minutes plus radial flow to 20 years; 30 % held back"))
    if at_one_day > 0 and growth > 0:
        rules.append(Rule("100 days", hundred_day_flow(rate, at_one_day, growth, available), "British Columbia practice, from memory",
                          "no recharge for 100 days; 30 % held back"))
    return tuple(rules)
