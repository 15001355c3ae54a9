"""The water report: the analysis, what it was judged against, and what it means."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from borewright.papers.wording import Wording, advisories_of, heading, number, printed
from borewright.quantities import rounded
from borewright.record.fold import Job

__all__ = ["content", "value_rows", "value_table"]

def _plain(value: float) -> str:
    return f"{value:.10g}"


def _judged(assessment: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Return, by name, (guideline in words, verdict in words); where several guidelines were held, the first finding, which is the gravest."""
    found: dict[str, tuple[str, str]] = {}
    for row in assessment.get("findings") or ():
        if isinstance(row, Mapping) and row.get("name"):
            found.setdefault(str(row["name"]).lower(), (str(row.get("guideline") or ""), str(row.get("verdict") or "")))
    return found


def _names(assessment: Mapping[str, Any]) -> dict[str, str]:
    """Return the program's own name by the name that the laboratory wrote, both small; nothing for an entry that kept none."""
    return {str(row["name"]).lower(): str(row["parameter"]).lower() for row in assessment.get("rows") or () if isinstance(row, Mapping) and row.get("name") and row.get("parameter")}


def value_rows(body: Any, w: Wording) -> list[list[str]]:
    """Return each value as it was reported: name, value with unit, guideline, verdict."""
    judged, names = _judged(body.assessment), _names(body.assessment)
    none = w.say("none_held")
    rows = []
    for v in body.values:
        limit, verdict = judged.get(names.get(v.name.lower(), v.name.lower()), ("", ""))
        form = " " + w.say("as", form=v.form.removeprefix('as ')) if v.form else ""
        found = w.figures(printed(f"{'< ' if v.below_detection else ''}{_plain(v.value)} {v.unit}".strip()))
        rows.append([printed(w.told(v.name) + form), found, printed(w.told(limit)) if limit else none, w.told(verdict) if verdict else "–"])
    return rows


def value_table(body: Any, w: Wording, most: int = 200) -> dict[str, Any]:
    """Return the values as a table block; the guideline columns only where something was judged."""
    rows = value_rows(body, w)
    note = w.say("values_more_stand_in_the_water", count=len(rows) - most) if len(rows) > most else ""
    if not any(limit for limit, _ in _judged(body.assessment).values()):
        return {"kind": "table", "head": [w.say("what"), w.say("found")], "align": "lr", "widths": [3, 2], "rows": [row[:2] for row in rows[:most]], "note": note or w.say("No_guideline_was_held_against_these")}
    return {"kind": "table", "head": [w.say("what"), w.say("found"), w.say("guideline"), w.say("verdict")], "align": "lrll", "widths": [3, 2, 7, 2], "rows": rows[:most], "note": note}


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the water report's data."""
    hole = job.hole
    body = hole.analyses[-1].body
    a = body.assessment
    sampled = hole.samples[-1].body if hole.samples else None
    blocks: list[dict[str, Any]] = [{"kind": "facts", "rows": [
        [w.say("For"), w.customer()], [w.say("Position"), w.place(job.spot or job.site)], [w.say("Laboratory"), body.laboratory], [w.say("Sampled"), w.iso_day(body.sampled_on)],
        [w.say("Judged_for"), w.term(body.use)], [w.say("Bottle"), sampled.bottle if sampled else ""], [w.say("From_the"), w.say("deep_2", depth=w.depth(hole.depth))], [w.say("At_the_rig"), _at_rig(sampled, w)],
    ]}]
    if summary := _summary(a):
        blocks += [heading(w.say("In_short")), {"kind": "text", "text": w.told(summary)}]
    if past := [str(p) for p in a.get("exceedances") or ()]:
        blocks += [heading(w.say("Past_a_guideline")), {"kind": "list", "items": [printed(w.told(p)) for p in past]}]
    blocks += [heading(w.say("Cautions")), {"kind": "cautions", "items": [*w.cautions("water"), *advisories_of(w, a)]}]
    blocks += [heading(w.say("What_was_found")), value_table(body, w)]
    if rows := _index_rows(a, w):
        blocks += [heading(w.say("What_follows_from_it")), {"kind": "table", "head": [w.say("what"), w.say("value"), w.say("meaning")], "align": "lrl", "widths": [3, 2, 5], "rows": rows}]
    for key, title in (("materials", w.say("For_casing_pump_and_pipes")), ("treatments", w.say("If_it_is_to_be_treated"))):
        said = [w.say("about_and_words", about=w.told(str(m["about"])), words=w.told(str(m["words"]))) if m.get("about") else w.told(str(m["words"]))
                for m in a.get(key) or () if isinstance(m, Mapping) and m.get("words")]
        if said:
            blocks += [heading(title), {"kind": "list", "items": [printed(p) for p in said]}]
    missing = a.get("not_tested_health") or a.get("not_tested")
    if missing:
        listed = ", ".join(w.told(str(m)) for m in missing)
        blocks += [heading(w.say("Not_tested")), {"kind": "text", "text": w.say("In_the_guidelines_and_not_in", listed=listed)}]
    if again := [str(r) for r in a.get("retest") or ()]:
        blocks += [heading(w.say("Test_again")), {"kind": "list", "items": [w.told(r) for r in again]}]
    if sets := [g for g in a.get("guidelines") or () if isinstance(g, Mapping)]:
        blocks += [heading(w.say("Guidelines_held_against_it")), {"kind": "list", "items": [", ".join(str(g[k]) for k in ("title", "publisher", "year") if g.get(k)) for g in sets]}]
    blocks += _diagrams(job, body, w)
    if len(hole.analyses) > 1:
        blocks.append({"kind": "text", "text": w.say("The_last_of_analyses_in_the", count=len(hole.analyses))})
    return {"title": w.say("Water_report"), "blocks": blocks}


def _diagrams(job: Job, body: Any, w: Wording) -> list[dict[str, Any]]:
    """Return the diagrams of the main ions as the assessment keeps them; of an older entry only what its own figures give."""
    from borewright.drawing.charts import equivalents_of, parallel_chart, radial_chart, trilinear_chart

    held = body.assessment.get("diagrams")
    held = held if isinstance(held, Mapping) else {}
    shares = held.get("meq_per_l") or equivalents_of({v.name: (v.value, v.unit) for v in body.values if not v.below_detection})
    if not shares:
        return []
    svg = trilinear_chart([(job.title, shares)], width=270, height=205)
    blocks: list[dict[str, Any]] = [{"kind": "pair", "left": [heading(w.say("The_kind_of_water")), {"kind": "text", "text": w.say("Shares_of_the_dissolved_salts_by")}],
                                     "right": [{"kind": "picture", "svg": svg, "alt": w.say("Trilinear_diagram_of_the_main_ions")}]}]
    if held.get("radial") and held.get("parallel"):
        drawn = ((w.say("Radial_diagram_of_the_main_ions"), radial_chart(held["radial"], width=247, height=140, medium="paper")),
                 (w.say("Parallel_line_diagram_of_the_main_ions"), parallel_chart([(job.title, held["parallel"])], width=247, height=140, medium="paper")))
        left, right = ([{"kind": "picture", "svg": svg, "alt": words, "caption": words}] for words, svg in drawn)
        blocks.append({"kind": "pair", "left": left, "right": right})
    return [{"kind": "together", "blocks": blocks}]


def _at_rig(sampled: Any, w: Wording) -> str:
    if sampled is None:
        return ""
    return ", ".join(p for p in (w.q(sampled.conductivity, "conductivity") if sampled.conductivity is not None else "", w.say("ph", ph=w.n(sampled.ph)) if sampled.ph is not None else "",
                                 w.q(sampled.temperature, "temperature") if sampled.temperature is not None else "") if p)


def _summary(assessment: Mapping[str, Any]) -> str:
    return next((str(assessment[k]) for k in ("summary", "sentence", "verdict") if isinstance(assessment.get(k), str)), "")


def _index_rows(assessment: Mapping[str, Any], w: Wording) -> list[list[str]]:
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
        rows.append([w.told(str(name).replace("_", " ")), printed(w.told(f"{rounded(value, 3)} {unit}".strip())), w.told(meaning) if meaning else "–"])
    return rows
