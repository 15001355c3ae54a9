"""The JSON API: entries in with receipts, jobs and calculations out. Errors are 422 {"error": {field, value, problem, want}}."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Request, Response
from fastapi.responses import JSONResponse

from borewright.errors import BadInput, NotFound
from borewright.record import entry_from_json, entry_to_json
from borewright.web.clocks import heard
from borewright.web.present import allow, desk_of, name_of
from borewright.web.signed import add_signed

__all__ = ["router"]

router = APIRouter(prefix="/api")
MOST = 1000  # entries in one request
_ENTRY = {
    "type": "object", "required": ["id", "job", "kind", "at", "by", "device", "counter"],
    "properties": {
        "id": {"type": "string", "format": "uuid"}, "job": {"type": "string", "format": "uuid"}, "kind": {"type": "string"},
        "at": {"type": "string", "format": "date-time"}, "by": {"type": "string"}, "device": {"type": "string"}, "counter": {"type": "integer"},
        "version": {"type": "integer"}, "body": {"type": "object"}, "strikes_out": {"type": ["string", "null"], "format": "uuid"},
    },
}


async def json_of(request: Request) -> Any:
    """Return the JSON of a request; raise BadInput for another media type or text that is not JSON."""
    media = request.headers.get("content-type", "").partition(";")[0].strip()
    if media != "application/json":
        raise BadInput("Content-Type", media, "is not JSON", "application/json")
    raw = await request.body()
    try:
        return json.loads(raw, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise BadInput("body", raw[:60].decode("utf-8", "replace"), f"is not JSON ({error})", "a JSON document with finite numbers") from None


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not a JSON number")


@router.post("/entries", openapi_extra={"requestBody": {"required": True, "content": {"application/json": {"schema": {"type": "array", "items": _ENTRY}}}}})
def post_entries(request: Request, given: Annotated[Any, Depends(json_of)]) -> JSONResponse:
    """Keep entries, all or none, and answer with a receipt for each: it is on the disk. Sending one again changes nothing.

    Where people sign in, `by` is set to who is signed in; a phone's own count, clock and device stay as sent.
    """
    if isinstance(given, dict) and set(given) == {"entries"}:
        given = given["entries"]
    if not isinstance(given, list):
        raise BadInput("entries", str(given)[:80], "is not a list", "a JSON list of entries")
    if len(given) > MOST:
        raise BadInput("entries", len(given), "are too many at once", f"at most {MOST} in one request")
    entries = []
    for place, one in enumerate(given):
        if not isinstance(one, dict):
            raise BadInput(f"entries[{place}]", str(one)[:80], "is not an object", "an entry")
        try:
            if "received" in one or "sequence" in one:  # the store's to say
                one = {k: v for k, v in one.items() if k not in ("received", "sequence")}
            entries.append(entry_from_json(one))
        except BadInput as error:
            raise BadInput(f"entries[{place}].{error.field}", error.value, error.problem, error.want) from None
    book = desk_of(request).book
    if any(_asks(book, entry, entries) == "write" for entry in entries):
        allow(request, "write")
    heard(desk_of(request).folder, request.headers.get("x-device", ""), request.headers.get("x-device-clock", ""))
    receipts = add_signed(book, entries, name_of(request))
    return JSONResponse({"receipts": [
        {"id": str(r.id), "sequence": r.sequence, "received": r.received.isoformat(), "fresh": r.fresh} for r in receipts
    ]})


def _asks(book: Any, entry: Any, beside: list[Any]) -> str:
    """Return the leave that an entry needs: "rig" for the rig log and a line through an entry of it, else "write".

    A line through what the desk never had is the phone's own affair: an entry that was refused here and struck out there.
    """
    if entry.kind != "struck_out":
        return "rig" if entry.kind.startswith("rig.") else "write"
    struck = next((e for e in beside if e.id == entry.strikes_out), None)
    if struck is None and entry.strikes_out is not None:
        try:
            struck = book.entry(entry.strikes_out)
        except NotFound:
            return "rig"
    return "rig" if struck is not None and struck.kind.startswith("rig.") else "write"


@router.post("/attachments")
async def post_attachment(request: Request) -> JSONResponse:
    """Keep a file sent as the body and answer with its SHA-256, by which entries name it."""
    from starlette.concurrency import run_in_threadpool

    data = await request.body()
    if not data:
        raise BadInput("body", "", "is empty", "the bytes of a photo or a file")
    return JSONResponse({"sha256": await run_in_threadpool(desk_of(request).book.attach, data), "size": len(data)})


@router.get("/jobs")
def get_jobs(request: Request) -> list[dict[str, Any]]:
    """Return every job in one line each, the one written to last first."""
    return [
        {"id": str(line.id), "title": line.title, "customer": line.customer, "stage": line.stage, "outcome": line.outcome,
         "updated": line.updated.isoformat(), "latitude": line.latitude, "longitude": line.longitude, "depth_m": line.depth, "flow_m3_per_s": line.flow}
        for line in desk_of(request).book.jobs()
    ]


@router.get("/jobs/{job}")
def get_job(request: Request, job: str) -> dict[str, Any]:
    """Return a job with its whole history; an entry that was struck out names the entry that did it."""
    book = desk_of(request).book
    folded = book.job(book.find(job))
    return {
        "id": str(folded.id), "title": folded.title, "stage": folded.stage, "outcome": folded.outcome,
        "history": [entry_to_json(entry) | {"struck_out_by": str(striker.id) if striker else None} for entry, striker in folded.history],
    }


@router.get("/bench")
def get_bench() -> list[dict[str, str]]:
    """Return the single calculations."""
    from borewright.bench.declare import calculations

    return [{"name": c.name, "title": c.title, "stage": c.stage, "about": c.about} for c in calculations().values()]


@router.post("/bench/{name}")
def post_bench(name: str, given: Annotated[dict[str, Any], Body()]) -> Response:
    """Run one calculation; each has its own path and schema in /api/openapi.json."""
    from borewright.bench.declare import answer

    return JSONResponse(answer(name, given))


def describe_bench(schema: dict[str, Any]) -> dict[str, Any]:
    """Return the OpenAPI document with a path and a schema for each declared calculation."""
    from borewright.bench.declare import calculations, input_fields, result_fields

    for one in calculations().values():
        properties = {}
        for face in input_fields(one):
            what = {"description": f"{face.help}. {face.kind}, such as {face.example}".strip()}
            if face.kind == "choice":
                properties[face.name] = what | {"type": "string", "enum": list(face.choices)}
            elif face.many:
                properties[face.name] = what | {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": ["string", "number"]}}]}
            else:
                pair = {"type": "object", "required": ["value"], "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": list(face.units)}}}
                properties[face.name] = what | {"anyOf": [{"type": "string"}, {"type": "number"}, pair]}
        value = {"type": "object", "properties": {"value": {}, "unit": {"type": "string"}}}
        results = {face.name: value | {"description": face.help} for face in result_fields(one)}
        words = {"type": "array", "items": {"type": "string"}}
        answered = {"type": "object", "properties": {
            "calculation": {"const": one.name}, "inputs": {"type": "object"}, "results": {"type": "object", "properties": results},
            "source": words, "cautions": words, "limits": words,
        }}
        wanted = {"type": "object", "additionalProperties": False, "properties": properties,
                  "required": [f.name for f in input_fields(one) if f.required]}
        schema["paths"][f"/api/bench/{one.name}"] = {"post": {
            "summary": one.title, "description": one.about, "operationId": "bench_" + one.name.replace("-", "_"),
            "requestBody": {"required": True, "content": {"application/json": {"schema": wanted}}},
            "responses": {
                "200": {"description": "The answer, in SI", "content": {"application/json": {"schema": answered}}},
                "422": {"description": "An input that cannot be used", "content": {"application/json": {"schema": {"$ref": "#/components/schemas/BadInput"}}}},
            },
        }}
    schema["paths"].pop("/api/bench/{name}", None)
    schema.setdefault("components", {}).setdefault("schemas", {})["BadInput"] = {
        "type": "object", "required": ["error"], "properties": {"error": {
            "type": "object", "required": ["field", "value", "problem", "want"],
            "properties": {"field": {"type": ["string", "null"]}, "value": {}, "problem": {"type": "string"}, "want": {"type": ["string", "null"]}},
        }},
    }
    return schema
