"""The bench in the browser: the list, a form with its result, and the page on where a calculation comes from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from borewright.errors import BadInput
from borewright.web.benchfigures import bench_figure
from borewright.web.jobs import Posted
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/bench")
def bench(request: Request) -> Response:
    """Every single calculation, by stage."""
    from borewright.bench.declare import calculations

    stages: dict[str, list[Any]] = {}
    for one in calculations().values():
        stages.setdefault(one.stage, []).append(one)
    return page(request, "bench.html", by_stage=stages)


def _faces(one: Any) -> tuple[Any, Any]:
    from borewright.bench.declare import input_fields, result_fields

    return input_fields(one), result_fields(one)


@router.get("/bench/{name}")
def bench_one(request: Request, name: str) -> Response:
    """A calculation's form; values in the address are worked out at once, so a result can be kept as a link."""
    from borewright.bench.declare import calculation

    given = {k: v for k, v in request.query_params.items() if v.strip()}
    return _bench(request, calculation(name), given, run=bool(given))


@router.post("/bench/{name}")
def bench_run(request: Request, name: str, given: Posted) -> Response:
    """Work it out and show the form again with the result, or with the message beside the field."""
    from borewright.bench.declare import calculation

    return _bench(request, calculation(name), {k: v for k, v in given.items() if v.strip()}, run=True)


def _bench(request: Request, one: Any, given: dict[str, str], *, run: bool) -> Response:
    from borewright.bench.declare import answer

    inputs, results = _faces(one)
    wrong: BadInput | None = None
    answered = None
    if run:
        try:
            answered = answer(one.name, _with_units(given, inputs))
        except BadInput as error:
            wrong = error
    shown = result_rows(answered, results, desk_of(request).settings.unit_system) if answered else []
    only = "part.html" if request.headers.get("x-part") == "result" else "bench_one.html"
    return page(request, only, status=422 if wrong else 200, one=one, inputs=inputs, given=given, wrong=wrong, answered=answered, shown=shown, figure=bench_figure(answered))


def _with_units(given: dict[str, str], inputs: Any) -> dict[str, str]:
    """A bare number is read in the unit that the form shows beside the field."""
    units = {face.name: face.unit for face in inputs if face.kind != "choice" and face.unit}
    return {
        name: f"{text} {units[name]}" if name in units and text.strip()[-1:].isdigit() else text for name, text in given.items()
    }


def result_rows(answered: Mapping[str, Any], results: Any, system: str) -> list[dict[str, str]]:
    """Return the results as label, value and unit words, in the firm's units."""
    from borewright.quantities import rounded, show

    rows = []
    for face in results:
        found = answered["results"].get(face.name)
        if found is None:
            continue
        value = found["value"]
        if face.kind == "choice":
            text = str(value)
        elif face.many:
            text = ", ".join(rounded(v, 4) for v in value) + f" {found['unit']}"
        elif system == "metric" and face.unit:
            text = show(value, face.kind, unit=face.unit, digits=4)
        else:
            text = show(value, face.kind, system=system, digits=4)
        rows.append({"label": face.label, "text": text, "help": face.help})
    return rows


@router.get("/bench/{name}/how")
def bench_how(request: Request, name: str) -> Response:
    """How a calculation is done: inputs with their limits, results, source, limits, cautions, and how to call it."""
    from borewright.bench.declare import calculation

    one = calculation(name)
    inputs, results = _faces(one)
    return page(request, "bench_how.html", one=one, inputs=inputs, results=results)
