"""What every design of the firm starts from: its design settings and its supplier's casing figures, kept beside the job book."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput

if TYPE_CHECKING:
    from borewright.construction import BoreDesign, CasingChoice, Catalogue, DesignSettings
    from borewright.record.entries import Entry
    from borewright.record.fold import Job
    from borewright.storage import JobBook

__all__ = ["CasingOffer", "catalogue_of", "compare_offers", "design_settings", "keep_by_hand", "drop_supplier_file", "keep_design_settings", "keep_supplier_file",
           "last_design", "near_sizes", "settings_from", "supplier_file"]

SETTINGS, SUPPLIER = "design.json", "casing_supplier.toml"
LARGEST_FILE = 1 << 20


def supplier_file(folder: Path) -> Path:
    """Return where the supplier's casing file is kept, whether it is there or not."""
    return Path(folder) / SUPPLIER


def catalogue_of(folder: Path) -> Catalogue:
    """Return the casing that designs choose from: ours, with the supplier's file laid over it where one is kept."""
    from borewright.construction import read_catalogue, standard_catalogue

    path = supplier_file(folder)
    return read_catalogue(path) if path.is_file() else standard_catalogue()


def keep_supplier_file(folder: Path, data: bytes) -> Catalogue:
    """Keep a supplier's casing file (TOML) and return the catalogue with it; a file that cannot be read is refused and the old one stays.

    Raises
    ------
    BadInput
        See `construction.read_catalogue`; a file above 1 MB.
    """
    from borewright.construction import read_catalogue
    from borewright.storage.files import write_whole

    if len(data) > LARGEST_FILE:
        raise BadInput("supplier_file", len(data), "is too large", "a TOML file of at most 1 MB")
    with tempfile.TemporaryDirectory() as place:
        tried = Path(place) / SUPPLIER
        tried.write_bytes(data)
        try:
            found = read_catalogue(tried)
        except BadInput as error:
            raise BadInput("supplier_file", error.field, str(error.problem).replace(str(tried), SUPPLIER), error.want) from error
    write_whole(supplier_file(folder), data)
    return found


def drop_supplier_file(folder: Path) -> None:
    """Go back to the casing that comes with the program."""
    supplier_file(folder).unlink(missing_ok=True)


def settings_from(given: Mapping[str, Any], *, base: DesignSettings) -> DesignSettings:
    """Return design settings with some values put in place of the base's; BadInput names one that is not a setting or not possible."""
    from borewright.construction import DesignSettings, read_settings

    known = {f.name for f in fields(DesignSettings)}
    for name, value in given.items():
        if name not in known:
            raise BadInput(name, value, "is no design setting", "one of " + ", ".join(sorted(known)))
    return read_settings({**asdict(base), "bits": list(base.bits), **given})


def design_settings(folder: Path) -> DesignSettings:
    """Return the firm's design settings; until it has its own, common practice with the firm's bag of cement."""
    from borewright.construction import DesignSettings
    from borewright.storage import load_settings

    base = DesignSettings(bag_mass=load_settings(folder).bag_mass)
    path = Path(folder) / SETTINGS
    if not path.is_file():
        return base
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BadInput(SETTINGS, str(error), "cannot be read", "a JSON object of design settings, or no such file") from error
    return settings_from(kept, base=base)


def keep_design_settings(folder: Path, given: Mapping[str, Any]) -> DesignSettings:
    """Keep the values that the firm sets itself, and return the settings that new designs use."""
    from borewright.storage.files import write_whole

    path = Path(folder) / SETTINGS
    kept = json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    found = settings_from({**kept, **given}, base=design_settings(folder))
    write_whole(path, json.dumps({**kept, **given}, indent=1, sort_keys=True).encode())
    return found


def last_design(job: Job) -> BoreDesign:
    """Return the design last kept on a job; BadInput when there is none."""
    from borewright.construction import design_from_dict

    if job.design is None:
        raise BadInput("design", None, "is not made on this job", "a design first")
    return design_from_dict(job.design.body.design)


def keep_by_hand(book: JobBook, job_id: UUID, design: BoreDesign, *, by: str) -> Entry:
    """Write down a design made by hand, with volumes, stages, materials and advisories reckoned anew."""
    from borewright.construction import recheck
    from borewright.work.bore import keep_design

    whole = recheck(replace(design, basis="by hand"), catalogue=catalogue_of(book.folder))
    return keep_design(book, job_id, whole, basis="by hand", by=by)


@dataclass(frozen=True, slots=True)
class CasingOffer:
    """One casing in a design with what it costs and risks over the bore's life, money in whole minor units; None where a price is not known."""

    choice: CasingChoice
    price_per_metre: int | None
    risk: int | None
    whole_cost: int | None


def near_sizes(design: BoreDesign, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the design's own production casing by name, after the next lighter and before the next heavier of the same diameter."""
    from borewright.construction import casing_of

    pipe = design.string("production") or design.strings[0]
    now = casing_of(catalogue, pipe.material, pipe.outside_diameter, pipe.wall).name
    same = [c for c in catalogue.of(pipe.material) if abs(c.outside_diameter - pipe.outside_diameter) < 5e-4]
    names = [c.name for c in same]
    if now not in names:
        return tuple(names[:2])
    at = names.index(now)
    return tuple(names[max(at - 1, 0):at + 2])


def compare_offers(
    design: BoreDesign, offers: Sequence[tuple[str, int | None]], *, catalogue: Catalogue, worth: int | None = None,
) -> tuple[CasingOffer, ...]:
    """Return casings side by side: what each costs, and its chance of collapse times what the bore is worth.

    Parameters
    ----------
    design : BoreDesign
    offers : sequence of (name, price of a metre)
        Stock sizes with what a metre costs, in minor units of money, or None.
    catalogue : Catalogue
    worth : int, optional
        What a lost bore costs to drill again, in minor units.
    """
    from borewright.construction import compare_casings

    prices = {name: price for name, price in offers if price is not None}
    found = []
    for choice in compare_casings(design, [name for name, _ in offers], price_per_metre_minor=prices, catalogue=catalogue):
        risk = None if worth is None else round(choice.chance_of_collapse * worth)
        whole = None if risk is None or choice.cost_minor is None else choice.cost_minor + risk
        found.append(CasingOffer(choice, prices.get(choice.casing), risk, whole))
    return tuple(found)
