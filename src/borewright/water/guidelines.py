"""Guideline tables by use, as dated data: who says what is the most, of what edition, and whether the number was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from borewright.errors import BadInput
from borewright.water.species import parameter, to_canonical

__all__ = ["USES", "GuidelineSet", "Infiltration", "Limit", "guideline_sets"]

USES = ("drinking", "stock", "irrigation")
_FILES = (
    "drinking_who", "drinking_nhmrc", "drinking_us_epa", "irrigation_fao29", "irrigation_drip", "stock_fao29", "stock_agvic", "stock_anzecc", "stock_nsw",
)
DERIVED = {"sodium adsorption ratio"}  # judged, though no laboratory reports it


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in canonical units (mg/L of the ion, uS/cm, per 100 mL, Bq/L).

    Attributes
    ----------
    text : str
        As the guideline prints it, "10 mg/L as nitrogen".
    kind : str
        "health", "taste", "crop", "clogging" or "animal".
    whom : str
        Animal or way of watering, or empty for all.
    words : str
        What being past it means.
    status : str
        "read" or "from memory".
    """

    parameter: str
    least: float | None
    most: float
    text: str
    kind: str
    whom: str
    words: str
    status: str


@dataclass(frozen=True, slots=True)
class Infiltration:
    """At a sodium adsorption ratio, the conductivity over which soil takes water in with ease, and under which badly [uS/cm]."""

    ratio_from: float
    ratio_to: float
    ease: float
    severe: float


@dataclass(frozen=True, slots=True)
class GuidelineSet:
    """One publisher's table for one use; never merged with another's."""

    key: str
    name: str
    title: str
    publisher: str
    year: int
    use: str
    source: str
    dated: str
    limits: tuple[Limit, ...]
    infiltration: tuple[Infiltration, ...] = ()


@cache
def _all() -> dict[str, GuidelineSet]:
    import tomllib
    from importlib.resources import files

    sets = {}
    for key in _FILES:
        data = tomllib.loads(files("borewright.water").joinpath(f"data/{key}.toml").read_text(encoding="utf-8"))
        bands = tuple(Infiltration(b["ratio"][0], b["ratio"][1], b["ease"] * 1000, b["severe"] * 1000) for b in data.get("infiltration", ()))
        sets[key] = GuidelineSet(key, data["name"], data["title"], data["publisher"], data["year"], data["use"], data["source"], data["dated"],
                                 tuple(_limit(row) for row in data["limit"]), bands)
    return sets


def _limit(row: dict) -> Limit:
    name, unit, form = row["parameter"], row.get("unit", ""), row.get("form", "")
    if name in DERIVED:
        least, most = row.get("least"), float(row["most"])
    else:
        name = parameter(name).name
        least = None if "least" not in row else to_canonical(name, row["least"], unit, form)
        most = to_canonical(name, row["most"], unit, form)
    said = f"{row['most']:g}" if least is None else f"{row['least']:g} to {row['most']:g}"
    if name == "E. coli":
        text = "none in 100 mL"
    else:
        text = " ".join(part for part in (said, unit, form) if part)
    return Limit(name, least, most, text, row["kind"], row.get("whom", ""), row.get("words", ""), row["status"])


def guideline_sets(use: str, keys: Sequence[str] | None = None) -> tuple[GuidelineSet, ...]:
    """Return the guideline sets of a use, or those named by key, in the order that they are shown.

    Raises
    ------
    BadInput
        A use or a key that is not known.
    """
    if use not in USES:
        raise BadInput("use", use, "is not a use that water is judged for", "one of " + ", ".join(USES))
    known = {key: one for key, one in _all().items() if one.use == use}
    if keys is None:
        return tuple(known.values())
    for key in keys:
        if key not in known:
            raise BadInput("guidelines", key, f"is not a set for {use}", "one of " + ", ".join(known))
    return tuple(known[key] for key in keys)
