"""Judging a water analysis for its use and writing both down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry

if TYPE_CHECKING:
    from borewright.record.fold import Fact, Job
    from borewright.storage import JobBook

__all__ = ["as_kept", "compared", "judge", "rows_of_csv", "rows_of_rig_sample"]


def judge(
    book: JobBook, job_id: UUID, values: Sequence[Mapping[str, Any]], *, use: str = "drinking", by: str, laboratory: str = "", sampled_on: str = "",
    guidelines: Sequence[str] | None = None, hole: int | None = None, at: datetime | None = None,
) -> Entry:
    """Judge an analysis against the guidelines for its use and write both down, the laboratory's own figures kept as they came.

    `values` are rows of name, value, unit and, where it was not found, below_detection; `guidelines` the keys of the sets, all of the use
    where not given; see `borewright.water.assess`.
    """
    from borewright.water import assess, assessment_as_dict

    job = book.job(job_id)
    number = hole if hole is not None else max(job.holes, default=1)
    samples = [f.body.temperature for f in job.holes[number].samples if f.body.temperature is not None] if number in job.holes else []
    # Scale depends on the warmth of the water, which a laboratory does not see and the rig does.
    found = assess([dict(row) for row in values], use, guidelines=guidelines, temperature=samples[-1] if samples else None)
    told = assessment_as_dict(found) | {"rows": [{"name": row["name"], "parameter": _canonical(str(row["name"]))} for row in values], "ion_balance": _balance(found.sample)}
    return book.write(job_id, "water.analysis", {
        "hole": number, "laboratory": laboratory, "sampled_on": sampled_on, "use": use, "values": [dict(row) for row in values], "assessment": told,
    }, by=by, at=at)


def _canonical(name: str) -> str | None:
    """Return the program's own name of what a laboratory names, or None where it is not known."""
    from borewright.water import parameter

    try:
        return parameter(name).name
    except BadInput:
        return None


def _balance(sample: Any) -> dict[str, Any]:
    """Return the balance of charge with its limit, or which major ion was not tested."""
    from borewright.water import ion_balance

    try:
        found = ion_balance(sample)
    except BadInput as error:
        return {"missing": str(error.value)}
    return {"cations": found.cations, "anions": found.anions, "error": found.error, "limit": found.limit, "acceptable": found.acceptable}


def as_kept(row: Mapping[str, str]) -> dict[str, Any]:
    """Return a row as an analysis keeps it, from the text of a form or a sheet: name, value ("<0.001", "not detected"), unit, form.

    Raises
    ------
    BadInput
        A value, unit or form that cannot be read; for a name that the program does not know, only the number must be one.
    """
    from borewright.water import result

    name, text, unit, form = (str(row.get(k) or "").strip() for k in ("name", "value", "unit", "form"))
    plain = text.removeprefix("less than ").removeprefix("<").strip()
    below = plain != text
    known = _canonical(name) is not None
    if known:
        read = result(name, text, unit, form=form)
        below = read.below_detection
    try:
        value = float(plain)
    except ValueError:
        if not known:
            raise BadInput(name or "name", text, "is not a result", 'a number, or a detection limit such as "<0.001"') from None
        value = 1.0  # "not detected" in a count: fewer than one in the bottle
    kept = {"name": name, "value": value, "unit": unit}
    return kept | ({"below_detection": True} if below else {}) | ({"form": form} if form else {})


def rows_of_csv(text: str) -> list[dict[str, str]]:
    """Return the rows of a laboratory's CSV as it wrote them, once all of it can be read: name, value, unit, form.

    Raises
    ------
    BadInput
        The line and the reason.
    """
    from borewright.water import read_analysis_csv, sheet_rows

    read_analysis_csv(text)
    return [row for _, row in sheet_rows(text)]


def rows_of_rig_sample(job: Job) -> list[dict[str, str]]:
    """Return what was read at the rig when the bottle was filled, as rows to begin an analysis with."""
    if job.hole is None or not job.hole.samples:
        return []
    body = job.hole.samples[-1].body
    read = (("temperature", body.temperature, "degC"), ("pH", body.ph, ""), ("conductivity", body.conductivity, "uS/cm"))
    return [{"name": name, "value": f"{value:g}", "unit": unit, "form": ""} for name, value, unit in read if value is not None]


def compared(analyses: Sequence[Fact]) -> dict[str, Any]:
    """Return several analyses of one bore side by side, oldest first: each thing in one unit, and how it moved.

    Returns
    -------
    dict
        `heads` one for each analysis; `rows` of (name, unit, values as (value, below detection) or None, change as a fraction of the first or None).
    """
    from borewright.water import analysis_from_values, units_for

    samples = [analysis_from_values([v.model_dump() for v in f.body.values]) for f in analyses]
    names = dict.fromkeys(name for sample in samples for name in sample.results)
    rows = []
    for name in names:
        found = [sample.results.get(name) for sample in samples]
        there = [r for r in found if r is not None and not r.below_detection]
        change = (there[-1].value - there[0].value) / there[0].value if len(there) > 1 and there[0].value else None
        rows.append({"name": name, "unit": units_for(name)[0], "values": [None if r is None else (r.value, r.below_detection) for r in found], "change": change})
    heads = [{"entry": str(f.entry.id), "sampled_on": f.body.sampled_on, "at": f.entry.at, "laboratory": f.body.laboratory, "use": f.body.use} for f in analyses]
    return {"heads": heads, "rows": rows}
