"""The firm's own finished holes as a register: from the job books by themselves, counted with any register when asked."""

from __future__ import annotations

import csv
import hashlib
import io
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from borewright.record.fold import Hole, Job

if TYPE_CHECKING:
    from borewright.siting import LoadReport, Register
    from borewright.storage import JobBook

__all__ = ["DEMO_REGISTER", "OWN", "own_rows", "refresh_own_bores", "register_with_own"]

OWN = "own-bores"
DEMO_REGISTER = "orrin-vale"
_DEMO = "DEMO-"  # how references of the invented jobs begin
_HEADS = {
    "bores": ("bore_id", "lon", "lat", "elevation_m", "depth_m", "yield_lps", "static_level_m", "first_water_m", "drilled_on", "status", "picked_by"),
    "strikes": ("bore_id", "depth_m", "yield_lps"),
    "intervals": ("bore_id", "from_m", "to_m", "lithology"),
}


def _finished(hole: Hole) -> bool:
    return (hole.stopped is not None or hole.sealed_off is not None) and hole.depth > 0


def own_rows(jobs: Iterable[Job], *, demo: bool = False) -> dict[str, list[tuple]]:
    """Return the rows of bores, strikes and intervals of every finished hole that has a place, in the canonical columns.

    Parameters
    ----------
    jobs : iterable of Job
    demo : bool
        The invented jobs instead of the firm's own: never both, for invented water must not colour real odds.

    Notes
    -----
    A hole with no strike and no flow is dry; one with water struck and no flow measured has water and no figure, as a
    register's blank yield is never dry. The ground is given in the driller's own words.
    """
    rows: dict[str, list[tuple]] = {name: [] for name in _HEADS}
    taken: set[str] = set()
    for job in jobs:
        reference = job.opened.body.reference if job.opened else ""
        if reference.startswith(_DEMO) != demo:
            continue
        for number, hole in sorted(job.holes.items()):
            place = (job.spots.get(hole.started.body.spot) if hole.started else None) or job.spot or job.site
            if place is None or not _finished(hole):
                continue
            # The end of an id is chance, its beginning the time.
            name = f"{reference}-{number}" if reference else f"{str(job.id)[-8:]}-{number}"
            name = f"{name}-{str(job.id)[-8:]}" if name in taken else name
            taken.add(name)
            strikes = hole.strike_yields()
            flow = hole.last_flow.body.flow if hole.last_flow else None
            wet = bool(strikes) or bool(flow)
            end = hole.stopped or hole.sealed_off
            spot = job.spots.get(place.body.name) if place is not job.site else None
            rows["bores"].append((
                name, place.body.longitude, place.body.latitude, spot.body.elevation if spot and spot.body.elevation is not None else "", hole.depth,
                "" if flow is None else 1000.0 * flow, "" if hole.static_level is None else hole.static_level,
                min((d for d, _ in strikes), default=""), end.entry.at.date().isoformat(), "wet" if wet else "dry", spot.body.way_of_picking if spot else ""))
            rows["strikes"] += [(name, depth, "" if found is None else 1000.0 * found) for depth, found in strikes]
            rows["intervals"] += [(name, f.body.from_depth, f.body.to_depth, f.body.words) for f in hole.ground]
    return rows


def _as_csv(name: str, rows: list[tuple]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEADS[name])
    writer.writerows(rows)
    return text.getvalue()


def refresh_own_bores(book: JobBook, folder: Path | str, *, demo: bool = False) -> LoadReport | None:
    """Bring the register of the firm's own bores up to date with its job books; nothing is done where nothing changed.

    Parameters
    ----------
    folder : path
        The folder of registers.
    demo : bool
        The invented jobs' register (kept under a name of its own).

    Returns
    -------
    LoadReport or None
        None where it was up to date already, or no hole is finished.
    """
    from borewright.siting import load_register

    name, folder = _name(demo), Path(folder)
    rows = own_rows((book.job(line.id) for line in book.jobs()), demo=demo)
    if not rows["bores"]:
        return None
    files = {part: _as_csv(part, made) for part, made in rows.items()}
    mark = hashlib.sha256("\0".join(files.values()).encode()).hexdigest()
    kept = folder / name / "source.sha256"
    if kept.is_file() and kept.read_text(encoding="ascii") == mark:
        return None
    with tempfile.TemporaryDirectory() as made_in:
        paths = {}
        for part, text in files.items():
            paths[part] = Path(made_in) / f"{part}.csv"
            paths[part].write_text(text, encoding="utf-8")
        report = load_register(paths["bores"], name=name, folder=folder, strikes=paths["strikes"] if rows["strikes"] else None,
                               intervals=paths["intervals"] if rows["intervals"] else None)
    kept.write_text(mark, encoding="ascii")
    return report


def _name(demo: bool) -> str:
    return f"{OWN}-demo" if demo else OWN


def register_with_own(book: JobBook, name: str, folder: Path | str) -> Register:
    """Return a register with the firm's own finished bores counted in; the invented jobs join only the demo's own register."""
    from borewright.siting import joined, open_register

    register = open_register(name, folder)
    demo = name == DEMO_REGISTER
    refresh_own_bores(book, folder, demo=demo)
    if name == _name(demo) or not (Path(folder) / _name(demo) / "about.json").is_file():
        return register
    return joined(register, open_register(_name(demo), folder))
