"""The water report: the analysis, what it was judged against, and what it means."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from borewright.papers.wording import Wording, advisories_of, heading, number, printed
from borewright.record.fold import Job

__all__ = ["content", "value_rows", "value_table"]

CAUTION = {"severity": "danger", "message": "An analysis speaks for one bottle on one day, and only of what was looked for. Whether water may be drunk is decided by the health authority's guidelines "
                                            "where you live; germs need their own sample, taken by someone trained to."}


def _plain(value: float) -> str:
    return f"{value:.10g}"


def _judged(assessment: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Return, by name, (guideline in words, verdict in words); where several guidelines were held, the first finding, which is the gravest."""
    found: dict[str, tuple[str, str]] = {}
    for row in assessment.get("findings") or ():
        if isinstance(row, Mapping) and row.get("name"):
            found.setdefault(str(row["name"]).lower(), (printed(str(row.get("guideline") or "")), str(row.get("verdict") or "")))
    return found


def value_rows(body: Any) -> list[list[str]]:
    """Return each value as it was reported: name, value with unit, guideline, verdict."""
    judged = _judged(body.assessment)
    rows = []
    for v in body.values:
        limit, verdict = judged.get(v.name.lower(), ("none held", ""))
        form = f" as {v.form.removeprefix('as ')}" if v.form else ""
        rows.append([v.name + form, printed(f"{'< ' if v.below_detection else ''}{_plain(v.value)} {v.unit}".strip()), limit or "none held", verdict or "–"])
    return rows


def value_table(body: Any, most: int = 200) -> dict[str, Any]:
    """Return the values as a table block; the guideline columns only where something was judged."""
    rows = value_rows(body)
    note = f"{len(rows) - most} values more stand in the water report." if len(rows) > most else ""
    if all(row[2] == "none held" for row in rows):
        return {"kind": "table", "head": ["what", "found"], "align": "lr", "widths": [3, 2], "rows": [row[:2] for row in rows[:most]], "note": note or "No guideline was held against these values."}
    return {"kind": "table", "head": ["what", "found", "guideline", "verdict"], "align": "lrll", "widths": [3, 2, 7, 2], "rows": rows[:most], "note": note}


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the water report's data."""
    hole = job.hole
    body = hole.analyses[-1].body
    a = body.assessment
    sampled = hole.samples[-1].body if hole.samples else None
    blocks: list[dict[str, Any]] = [{"kind": "facts", "rows": [
        ["For", w.customer()], ["Position", w.place(job.spot or job.site)], ["Laboratory", body.laboratory], ["Sampled", w.iso_day(body.sampled_on)],
        ["Judged for", body.use], ["Bottle", sampled.bottle if sampled else ""], [f"From the {w.word}", f"{w.depth(hole.depth)} deep"], ["At the rig", _at_rig(sampled, w)],
    ]}]
    if summary := _summary(a):
        blocks += [heading("In short"), {"kind": "text", "text": summary}]
    blocks += [heading("Cautions"), {"kind": "cautions", "items": [CAUTION, *advisories_of(a)]}]
    blocks += [heading("What was found"), value_table(body)]
    if past := [str(p) for p in a.get("exceedances") or ()]:
        blocks += [heading("Past a guideline"), {"kind": "list", "items": [printed(p) for p in past]}]
    if rows := _index_rows(a):
        blocks += [heading("What follows from it"), {"kind": "table", "head": ["what", "value", "meaning"], "align": "lrl", "widths": [3, 2, 5], "rows": rows}]
    for key, title in (("materials", "For casing, pump and pipes"), ("treatments", "If it is to be treated")):
        said = [f"{m['about']}: {m['words']}" if m.get("about") else str(m.get("words", "")) for m in a.get(key) or () if isinstance(m, Mapping) and m.get("words")]
        if said:
            blocks += [heading(title), {"kind": "list", "items": [printed(p) for p in said]}]
    missing = a.get("not_tested_health") or a.get("not_tested")
    if missing:
        blocks += [heading("Not tested"), {"kind": "text", "text": "In the guidelines and not in this analysis: " + ", ".join(str(m) for m in missing) + "."}]
    if again := [str(r) for r in a.get("retest") or ()]:
        blocks += [heading("Test again"), {"kind": "list", "items": again}]
    if sets := [g for g in a.get("guidelines") or () if isinstance(g, Mapping)]:
        blocks += [heading("Guidelines held against it"), {"kind": "list", "items": [", ".join(str(g[k]) for k in ("title", "publisher", "year") if g.get(k)) for g in sets]}]
    from borewright.drawing.charts import equivalents_of, trilinear_chart

    shares = equivalents_of({v.name: (v.value, v.unit) for v in body.values if not v.below_detection})
    if shares:
        svg = trilinear_chart([(job.title, shares)], width=300, height=250)
        blocks += [{"kind": "pair", "left": [heading("The kind of water"), {"kind": "text", "text": "Shares of the dissolved salts by chemical weight: metals left, acids right, both together in the diamond."}],
                    "right": [{"kind": "picture", "svg": svg, "alt": "Trilinear diagram of the main ions"}]}]
    if len(hole.analyses) > 1:
        blocks.append({"kind": "text", "text": f"The last of {len(hole.analyses)} analyses in the job book."})
    return {"title": "Water report", "blocks": blocks}


def _at_rig(sampled: Any, w: Wording) -> str:
    if sampled is None:
        return ""
    return ", ".join(p for p in (w.q(sampled.conductivity, "conductivity") if sampled.conductivity is not None else "", f"pH {sampled.ph:g}" if sampled.ph is not None else "",
                                 w.q(sampled.temperature, "temperature") if sampled.temperature is not None else "") if p)


def _summary(assessment: Mapping[str, Any]) -> str:
    return next((str(assessment[k]) for k in ("summary", "sentence", "verdict") if isinstance(assessment.get(k), str)), "")


def _index_rows(assessment: Mapping[str, Any]) -> list[list[str]]:
    """Return indices (hardness, sodium adsorption, saturation...) with what they mean, from a table of name to number or to a row."""
    rows = []
    given = assessment.get("indices") or {}
    items = given.items() if isinstance(given, Mapping) else [(r.get("name", ""), r) for r in given if isinstance(r, Mapping)]
    for name, held in items:
        value = number(held)
        if value is None:
            continue
        unit = str(held.get("unit", "")) if isinstance(held, Mapping) else ""
        meaning = str(held.get("meaning") or held.get("message") or held.get("sentence") or "") if isinstance(held, Mapping) else ""
        rows.append([str(name).replace("_", " "), printed(f"{value:.3g} {unit}".strip()), meaning or "–"])
    return rows
