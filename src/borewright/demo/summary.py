"""The demo's papers and a page that says what happened, beside what the hidden truth was."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from borewright.demo.jobs import DEEPEST, FAILED, FOUND, LOT_7, SCHOOL_ROAD, Place, Progress, demo_settings
from borewright.record.fold import Job

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["Summary", "summarise", "write_papers"]

DOCUMENTS = {
    FOUND: ("quote", "rig card", "safety sheet", "bore record", "test report", "water report", "handover pack", "invoice"),
    FAILED: ("quote", "rig card", "bore record", "invoice"),
}


@dataclass(frozen=True, slots=True)
class Summary:
    """What the demo shows: one table for each job, the papers, the folder."""

    jobs: tuple[dict[str, Any], ...]
    papers: tuple[str, ...]
    folder: str
    home: str

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON types."""
        return {"jobs": list(self.jobs), "papers": list(self.papers), "folder": self.folder, "home": self.home}

    def text(self) -> str:
        """Return it as a person reads it."""
        lines = ["Borewright demo: the invented Orrin Vale district. No real place, person, firm or money.", ""]
        for job in self.jobs:
            lines.append(job["title"])
            lines += [f"  {name:<28}{value}" for name, value in job["rows"]]
            lines.append("")
        lines += [f"Papers ({len(self.papers)}) are in {self.folder}:", *(f"  {name}" for name in self.papers), ""]
        lines += [f"The jobs are kept in {self.home}", "`python3 go.py serve` opens them in the app."]
        return "\n".join(lines)


def write_papers(book: JobBook, folder: Path, *, paper: str = "A4", progress: Progress | None = None) -> list[Path]:
    """Make every paper of both demo jobs in a folder and return their paths."""
    from borewright.papers import make_paper

    folder.mkdir(parents=True, exist_ok=True)
    wanted = [(reference, name) for reference, names in DOCUMENTS.items() for name in names]
    made = []
    for n, (reference, name) in enumerate(wanted):
        if progress:
            progress(n / len(wanted), f"{name}")
        made.append(make_paper(book.job(book.find(reference)), name, paper=paper, settings=demo_settings(), folder=folder / reference.lower()))
    return made


def summarise(book: JobBook, papers: Sequence[Path], folder: Path) -> Summary:
    """Return the summary and write it beside the papers as summary.txt and summary.json."""
    jobs = tuple(_rows(book.job(book.find(place.reference)), place) for place in (LOT_7, SCHOOL_ROAD))
    summary = Summary(jobs, tuple(str(p.relative_to(folder)) for p in papers), str(folder.resolve()), str(book.folder))
    (folder / "summary.json").write_text(json.dumps(summary.as_dict(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    (folder / "summary.txt").write_text(summary.text() + "\n", encoding="utf-8")
    return summary


def _rows(job: Job, place: Place) -> dict[str, Any]:
    from borewright.demo.district import truth_odds
    from borewright.pricing import show_minor
    from borewright.quantities import show

    hole = job.holes[max(job.holes)]
    quote = job.quote.body.content
    told = job.odds[-1].body.answer["odds"]
    at_depth = min(told["by_depth"], key=lambda r: abs(r["depth_m"] - DEEPEST))
    truth = float(truth_odds(place.longitude, place.latitude, DEEPEST, place.need["flow"])[0])
    currency = quote["currency"]

    def money(value: float) -> str:
        return show_minor(int(round(value)), currency)

    rows: list[tuple[str, str]] = [
        ("need", show(place.need["flow"], "flow")),
        (f"odds told, by {DEEPEST:g} m", f"{100 * at_depth['p']:.0f} in 100 ({100 * at_depth['low']:.0f} to {100 * at_depth['high']:.0f}); hidden truth {100 * truth:.0f}"),
        ("price foreseen", f"{money(quote['price']['p10'])} / {money(quote['price']['p50'])} / {money(quote['price']['p90'])} (P10 / P50 / P90)"),
    ]
    if quote["promise"]:
        rows.append(("price of the promise", money(quote["promise"]["price"])))
    rows.append(("drilled", f"{show(hole.depth, 'depth')}, {len(hole.strikes)} strike{'s' if len(hole.strikes) != 1 else ''}"))
    if hole.last_flow:
        rows.append(("flow at the collar", show(hole.last_flow.body.flow, "flow")))
    rows.append(("outcome", job.outcome if not hole.sealed_off else "not enough water; sealed, nothing charged under the promise"))
    if hole.rated and hole.rated.body.flow:
        rows.append(("rated yield", show(hole.rated.body.flow, "flow")))
    if hole.pump:
        rows.append(("pump", hole.pump.body.name or "none"))
    return {"reference": place.reference, "title": job.title, "rows": rows}
