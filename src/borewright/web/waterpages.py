"""Water analyses on the desk: entering one row by row or from the laboratory's file, the result in plain words, and several side by side."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError, NotFound
from borewright.water import PARAMETERS, USES, guideline_sets, parameter, units_for
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, posted_with_files, read_fields
from borewright.web.jobs import job_id
from borewright.web.present import desk_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
FORM = Form("analysis", "Water analysis", "Judge and write down", (
    Field("use", "What the water is for", "choice", choices=USES, default="drinking"), Field("laboratory", "Laboratory"), Field("sampled_on", "Sampled on", "date"),
    Field("hole", "Hole number", "whole", default="1"),
))
# What a usual laboratory sheet for a bore begins with, so that a driller on a phone fills in values only.
USUAL = (
    "pH", "conductivity", "calcium", "magnesium", "sodium", "potassium", "bicarbonate", "chloride", "sulfate", "nitrate", "fluoride", "iron", "manganese", "arsenic", "E. coli",
)
SPARE, MOST = 4, 120
_FORMS = ("as nitrate", "as nitrite", "as nitrogen", "as phosphate", "as phosphorus")
_COLUMNS = ("name", "value", "unit", "form")


@cache
def _units() -> tuple[str, ...]:
    """Return every unit that a laboratory's row may have, in the order that they are met."""
    return tuple(u for u in dict.fromkeys(u for name in PARAMETERS for u in units_for(name)) if u)


@cache
def _units_by_word() -> str:
    """Return, as JSON for the page's script, the units and forms of each thing by every word for it."""
    table = {word.lower(): [list(units_for(p.name)), list(p.forms)] for p in PARAMETERS.values() for word in (p.name, *p.also)}
    return json.dumps(table, separators=(",", ":"))


def _row(name: str = "", value: str = "", unit: str | None = None, form: str = "") -> dict[str, str]:
    if unit is None:
        unit = units_for(name)[0] if name else ""
    return {"name": name, "value": value, "unit": unit, "form": form}


def _beginning(folded: Any) -> list[dict[str, str]]:
    """Return the rows that the form begins with: the usual things, with what was read at the rig filled in."""
    from borewright.work.water import rows_of_rig_sample

    read = {row["name"]: row for row in rows_of_rig_sample(folded)}
    rows = [read.pop(name, None) or _row(name) for name in USUAL]
    return [*read.values(), *rows, *(_row() for _ in range(SPARE))]


@router.get("/jobs/{job}/water/analysis")
def ask(request: Request, job: str) -> Response:
    """The form of an analysis."""
    folded = desk_of(request).book.job(job_id(job))
    given = {f.name: f.default for f in FORM.fields if f.default}
    if folded.hole is not None:
        given["hole"] = str(folded.hole.number)
    sampled = folded.hole.samples[-1] if folded.hole and folded.hole.samples else None
    return _show(request, folded, Filled(FORM, given), _beginning(folded), note="pH, conductivity and temperature stand as they were read at the rig: put the laboratory's in their place where it gives them." if sampled else "")


def _show(request: Request, folded: Any, filled: Filled, rows: list[dict[str, str]], *, wrong: Mapping[int, BadInput] | None = None, note: str = "", strange: bool = False, status: int = 200,
          pasted: str = "", sheet: BadInput | None = None, asked: str = "") -> Response:
    words = sorted({word for p in PARAMETERS.values() for word in (p.name, *p.also) if len(word) > 3 or word == p.name}, key=str.lower)
    return job_page(request, folded, "water_analysis.html", "water", status=status, filled=filled, rows=rows, wrong=wrong or {}, note=note, words=words, units=_units(), forms=_FORMS,
                    table=_units_by_word(), sets=_sets(filled), strange=strange, pasted=pasted, sheet=sheet, asked=asked)


@router.post("/jobs/{job}/water/analysis")
async def post(request: Request, job: str) -> Response:
    """Read a laboratory's sheet into rows to look over, add rows, or judge what stands there and write it down."""
    trouble = None
    try:
        given, files = await posted_with_files(request)
    except BadInput as error:
        given, files, trouble = {}, {}, error
    return await run_in_threadpool(_post, request, job, given, files, trouble)


def _post(request: Request, job: str, given: dict[str, str], files: dict[str, str], trouble: BadInput | None) -> Response:
    desk, which = desk_of(request), job_id(job)
    folded = desk.book.job(which)
    filled = Filled(FORM, given)
    rows = _rows(given) or _beginning(folded)
    if trouble is not None:
        return _show(request, folded, filled, rows, sheet=trouble, status=422)
    text = files.get("sheet_file", "") or given.get("sheet", "")
    if given.get("step") == "read" or (text.strip() and given.get("step") != "more"):
        return _read_sheet(request, folded, filled, rows, text)
    if given.get("step") == "more":
        return _show(request, folded, filled, [*rows, *(_row() for _ in range(SPARE * 2))][:MOST])
    return _judge(request, folded, given, rows)


def _sets(filled: Filled) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return the guideline sets of each use, those ticked that are to be held against: all until some were chosen."""
    chosen = filled.given.get("sets") == "chosen"
    return [(use, [{"key": one.key, "name": one.name, "year": one.year, "publisher": one.publisher, "dated": one.dated,
                    "on": not chosen or filled.given.get(f"set_{one.key}") == "yes"} for one in guideline_sets(use)]) for use in USES]


def _chosen_sets(given: Mapping[str, str], use: str) -> list[str] | None:
    """Return the keys of the sets ticked for a use, None where the form did not ask; raise BadInput where none is."""
    if given.get("sets") != "chosen" or use not in USES:
        return None
    keys = [one.key for one in guideline_sets(use) if given.get(f"set_{one.key}") == "yes"]
    if not keys:
        raise BadInput("sets", "", f"holds no guideline for {use}", f"one or more of those for {use} ticked")
    return keys


def _rows(given: Mapping[str, str]) -> list[dict[str, str]]:
    return [{part: given.get(f"{part}_{n}", "").strip() for part in _COLUMNS} for n in range(MOST) if any(f"{part}_{n}" in given for part in _COLUMNS)]


def _read_sheet(request: Request, folded: Any, filled: Filled, rows: list[dict[str, str]], text: str) -> Response:
    """Show what a sheet says as rows that can be mended before they are judged."""
    from borewright.work.water import rows_of_csv

    try:
        if not text.strip():
            raise BadInput("sheet", "", "is missing", "a CSV file, or its lines pasted")
        read = rows_of_csv(text)
        if len(read) > MOST:
            raise BadInput("sheet", len(read), "holds more rows than an analysis", f"at most {MOST}")
    except BadInput as error:
        if error.field.startswith("line"):
            error = BadInput("sheet", error.value, f"{error.field} {error.problem}", error.want)
        return _show(request, folded, filled, rows, sheet=error, pasted=text, status=422)
    unknown = [row["name"] for row in read if _unknown(row["name"])]
    note = f"{len(read)} results read. Look them over, then judge." + (f" Not known to this program, kept and not judged: {', '.join(unknown)}." if unknown else "")
    there = {parameter(row["name"]).name for row in read if not _unknown(row["name"])}
    from borewright.work.water import rows_of_rig_sample

    rig = [row for row in rows_of_rig_sample(folded) if row["name"] not in there]
    if rig:
        note += f" {', '.join(row['name'] for row in rig)} added from the rig: the sheet does not give {'them' if len(rig) > 1 else 'it'}."
    return _show(request, folded, filled, [*read, *rig, *(_row() for _ in range(SPARE))], note=note, strange=bool(unknown))


def _unknown(name: str) -> bool:
    try:
        parameter(name)
    except BadInput:
        return True
    return False


def _judge(request: Request, folded: Any, given: dict[str, str], rows: list[dict[str, str]]) -> Response:
    from borewright.work.water import as_kept, judge

    desk = desk_of(request)
    values, wrong = read_fields(FORM, given, desk.settings.unit_system)
    faults: dict[int, BadInput] = {}
    kept, strange, seen = [], False, {}
    for place, row in enumerate(rows):
        if not row["value"] and (not row["name"] or row["name"] in USUAL or not row["form"]):
            if row["name"] and row["name"] not in USUAL and not _optional(row["name"]):
                faults[place] = BadInput(row["name"], "", "has no value", 'a number, a limit such as "<0.001", or an empty name')
            continue
        if not row["name"]:
            faults[place] = BadInput("name", "", "is missing", "what was tested, such as calcium")
            continue
        if _unknown(row["name"]):
            strange = True
            if given.get("keep_strange") != "yes":
                try:
                    parameter(row["name"])
                except BadInput as error:
                    faults[place] = BadInput(row["name"], row["name"], error.problem, error.want + "; or tick below to keep it unjudged")
                continue
        else:
            name = parameter(row["name"]).name
            if name in seen:
                faults[place] = BadInput(row["name"], row["value"], "stands twice in the analysis", "each thing tested once")
                continue
            seen[name] = place
        try:
            kept.append(as_kept(row))
        except BadInput as error:
            faults[place] = error
    other = ""
    keys = None
    try:
        keys = _chosen_sets(given, values.get("use", "drinking"))
    except BadInput as error:
        wrong["sets"] = error
    if not kept and not faults and not wrong:
        other = "There is no value yet: type what the laboratory found beside what it looked for."
    asked = "" if faults or wrong or other or given.get("units_sure") == "yes" else _doubtful_units(kept)
    if asked:
        return _show(request, folded, Filled(FORM, given), rows, asked=asked, strange=strange, status=422)
    if not faults and not wrong and not other:
        try:
            entry = judge(desk.book, folded.id, kept, use=values.get("use", "drinking"), by=desk.by, guidelines=keys, laboratory=values.get("laboratory", ""), sampled_on=values.get("sampled_on", ""),
                          hole=values.get("hole", 1))
            return RedirectResponse(f"/jobs/{folded.id}/water/analysis/{entry.id}", status_code=303)
        except BadInput as error:
            if error.field in {f.name for f in FORM.fields}:
                wrong = {error.field: error}
            else:
                other = str(error)
        except BorewrightError as error:
            other = str(error).strip("'\"")
    return _show(request, folded, Filled(FORM, given, wrong, other), rows, wrong=faults, strange=strange, status=422)


def _doubtful_units(kept: list[dict[str, Any]]) -> str:
    """Return what makes the units look wrong, to be asked before an analysis is written down; nothing where they look right."""
    from borewright.water import analysis_from_values, check_analysis

    try:
        doubts = check_analysis(analysis_from_values(kept))
    except BadInput:
        return ""  # told beside its row when it is judged
    return " ".join(a.message for a in doubts if a.code in ("unit-suspected", "solids-against-conductivity", "ions-against-conductivity"))


def _optional(name: str) -> bool:
    """Return whether a row without a value may be passed over: one that the form itself offered from the rig."""
    return name in ("temperature",)


@router.get("/jobs/{job}/water/analysis/{entry}")
def result(request: Request, job: str, entry: str) -> Response:
    """One analysis as it was told: what is past a guideline first."""
    folded = desk_of(request).book.job(job_id(job))
    facts = [f for hole in folded.holes.values() for f in hole.analyses]
    fact = next((f for f in facts if str(f.entry.id) == entry), None)
    if fact is None:
        raise NotFound("That analysis is not in this job.")
    return job_page(request, folded, "water_result.html", "water", fact=fact, several=len(facts) > 1, **told(fact, folded.title))


def told(fact: Any, title: str) -> dict[str, Any]:
    """Return what a page shows of an analysis: exceedances once each, a table for each guideline set, the balance, the diagrams."""
    a = fact.body.assessment
    findings = list(a.get("findings") or ())
    by_set: dict[str, list[Any]] = {}
    for one in findings:
        by_set.setdefault(one.get("set", ""), []).append(one)
    sets = [(g, by_set.get(g.get("key"), [])) for g in a.get("guidelines") or ()]
    return {"a": a, "past": _grouped([f for f in findings if f.get("past")]), "unsure": [f for f in findings if f.get("verdict") == "cannot tell"], "sets": sets, "balance": a.get("ion_balance"),
            "figures": water_figures([(title, a.get("diagrams"))])}


def _grouped(past: list[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return each thing that is past a guideline once for each kind, the first sentence whole and the other guidelines named after it."""
    from borewright.quantities import rounded

    groups: dict[tuple[Any, ...], dict[str, Any]] = {}
    for one in past:
        key = (one.get("name"), one.get("kind"))
        found = f"{'<' if one.get('below_detection') else ''}{rounded(one['value'], 4)} {one.get('unit', '')}".strip()
        typed = str(one.get("typed") or "")
        held = groups.setdefault(key, {"kind": one.get("kind", ""), "sentence": one.get("sentence", ""), "found": found, "typed": "" if typed.startswith(found) else typed, "also": []})
        if held["sentence"] != one.get("sentence"):
            held["also"].append(one.get("guideline", ""))
    return list(groups.values())


def water_figures(waters: list[tuple[str, Mapping[str, Any] | None]]) -> list[tuple[str, Markup]]:
    """Return the diagrams of waters with their captions; nothing where the main ions are not known."""
    from borewright.drawing.charts import parallel_chart, radial_chart, trilinear_chart

    drawn = [(name, d) for name, d in waters if d]
    if not drawn:
        return []
    made = [("Trilinear: shares of the ions, metals left, acids right, both together in the diamond.",
             trilinear_chart([(name, d["meq_per_l"]) for name, d in drawn], width=380.0, height=330.0, medium="page"))]
    if len(drawn) == 1:
        made.append(("Radial: each spoke as long as the weight of its ion.", radial_chart(drawn[0][1]["radial"], width=380.0, height=280.0)))
    made.append(("Parallel lines: the shape tells waters apart at a glance.", parallel_chart([(name, d["parallel"]) for name, d in drawn], width=380.0, height=90.0 + 110.0 * len(drawn))))
    return [(words, Markup(svg)) for words, svg in made]


@router.get("/jobs/{job}/water/compare")
def compare(request: Request, job: str) -> Response:
    """The analyses of one bore side by side, oldest first."""
    from borewright.work.water import compared

    folded = desk_of(request).book.job(job_id(job))
    facts = sorted((folded.hole.analyses if folded.hole else []), key=lambda f: (f.body.sampled_on or f.entry.at.date().isoformat(), f.entry.at))[-8:]
    if not facts:
        raise NotFound("No analysis stands in this job yet.")
    named = [(f.body.sampled_on or f"analysis {n}", f.body.assessment.get("diagrams")) for n, f in enumerate(facts, 1)]
    return job_page(request, folded, "water_compare.html", "water", table=compared(facts), figures=water_figures(named))
