"""The rig page: a shell that a phone keeps, and the pack of jobs that goes with it."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from borewright.record import entry_to_json
from borewright.web.clocks import Clocks, clocks_of
from borewright.web.present import STATIC, TEMPLATES, desk_of, name_of, page
from borewright.web.section import job_section

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
WEEK = timedelta(days=7)
MOST_JOBS = 30
_FONTS = ("Barlow-Regular.ttf", "Barlow-SemiBold.ttf", "BarlowCondensed-SemiBold.ttf", "BarlowCondensed-Regular.ttf")


@lru_cache(maxsize=1)
def _shell() -> tuple[str, list[str]]:
    """Return the fingerprint of everything the phone keeps, and its addresses."""
    files = sorted(p for p in (STATIC / "rig").iterdir() if p.is_file() and p.name != "sw.js")
    digest = sha256()
    for path in (*files, STATIC / "rig" / "sw.js", TEMPLATES / "rig.html"):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12], ["/rig", "/rig/manifest.webmanifest", *(f"/static/rig/{p.name}" for p in files), *(f"/static/fonts/{n}" for n in _FONTS)]


@router.get("/rig")
def rig(request: Request) -> Response:
    """The rig page."""
    return page(request, "rig.html")


@router.get("/rig/sw.js")
def worker() -> Response:
    """The worker that keeps the page on the phone; its text changes whenever a file of the page does."""
    mark, shell = _shell()
    text = (STATIC / "rig" / "sw.js").read_text(encoding="utf-8")
    head = f"const MARK = {json.dumps(mark)};\nconst SHELL = {json.dumps(shell)};\n"
    return Response(head + text, media_type="text/javascript", headers={"Service-Worker-Allowed": "/rig"})


@router.get("/rig/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to put the page on its home screen."""
    about = {
        "name": "Borewright rig page", "short_name": "Rig", "id": "/rig", "start_url": "/rig", "scope": "/rig", "display": "standalone",
        "background_color": "#ffffff", "theme_color": "#17262b", "lang": "en",
        "icons": [{"src": f"/static/rig/icon-{n}.png", "sizes": f"{n}x{n}", "type": "image/png", "purpose": "any maskable"} for n in (192, 512)],
    }
    return Response(json.dumps(about), media_type="application/manifest+json")


@router.get("/api/rig/pack")
def pack(request: Request) -> JSONResponse:
    """Return the jobs of the week with everything that the rig needs offline."""
    from borewright.rig import COMPRESSED_AIR_CAUTION, CRITERIA
    from borewright.work.rigpack import air_tables, lift_table

    desk = desk_of(request)
    settings = desk.settings
    since = datetime.now(UTC) - WEEK
    wanted = [line for line in desk.book.jobs() if line.outcome == "open" or line.updated >= since][:MOST_JOBS]
    kits = _firm_kits(settings)
    clocks = clocks_of(desk.folder)
    jobs = [_packed(desk.book.job(line.id), line, settings, set(kits), clocks) for line in wanted]
    altitudes = sorted({one["air_altitude"] for one in jobs})
    return JSONResponse({
        "units": settings.unit_system, "word": settings.word, "bag_mass": settings.bag_mass, "name": name_of(request),
        "start_of_day": settings.start_of_day, "criteria": CRITERIA, "lift": lift_table(), "air_caution": COMPRESSED_AIR_CAUTION,
        "air": {
            "rods": settings.rod_diameters, "compressors": settings.compressor_values,
            "tables": {str(int(a)): air_tables(kits, altitude=a) for a in altitudes},
        },
        "jobs": jobs, "made": datetime.now(UTC).isoformat(),
    })


def _firm_kits(settings: Any) -> list[tuple[float, float, float, float]]:
    """Return every bit with each rod and compressor that the firm has."""
    from borewright.work.rigpack import bits_of

    return [(bit, rod, *air) for bit in bits_of(settings.unit_system) for rod in settings.rod_diameters for air in settings.compressor_values]


@router.get("/rig/{job}")
def rig_job(request: Request, job: str) -> Response:
    """The same page: the phone reads the job from the address."""
    return page(request, "rig.html")


def _packed(job: Any, line: Any, settings: Any, common: set[tuple[float, ...]], clocks: Clocks) -> dict[str, Any]:
    from borewright.work.rigpack import air_altitude, air_tables, clearing, kit_of

    system = settings.unit_system
    design = dict(job.design.body.design) if job.design else {}
    spot = job.spot or job.site
    altitude = air_altitude(job)
    kits = [kit for kit in (kit_of(hole) for hole in job.holes.values()) if kit is not None and kit not in common]
    return {
        "id": str(job.id), "title": job.title, "customer": line.customer, "outcome": job.outcome, "updated": line.updated.isoformat(),
        "need": job.need.body.flow if job.need else None, "access": job.site.body.access if job.site else "",
        "hazards": [{"kind": h.kind, "distance": h.distance} for h in job.spot.body.hazards] if job.spot else [],
        "spot": {"latitude": spot.body.latitude, "longitude": spot.body.longitude} if spot else None,
        "table": job.quote.body.content.get("table") if job.quote else None,
        "strings": design.get("strings", []), "annulus": design.get("annulus", []),
        "air_altitude": int(altitude), "air_kits": air_tables(kits, altitude=altitude)["kits"],
        "clearing": [{"hole": number} | told for number in job.holes for told in clearing(job, number)],
        "section": job_section(job, width=360.0, height=560.0, units=system),
        "entries": [
            entry_to_json(e) | ({"clock_off": off} if (off := clocks.off(e)) else {})
            for e, _ in job.history if e.kind.startswith("rig.") or e.kind == "struck_out"
        ],
    }
