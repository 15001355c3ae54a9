"""Invented jobs for the tests of drawings and papers: made entry by entry, folded by the program. Nobody and nothing here is real."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from functools import lru_cache
from uuid import UUID

import numpy as np

from borewright.record.entries import Entry, entry_from_json
from borewright.record.fold import Job, fold

START = datetime(2026, 3, 2, 7, 30, tzinfo=timezone(timedelta(hours=10)))
JOB = UUID("0192f1a2-0000-7000-8000-0000000000aa")


class Notebook:
    """Writes entries one after another, ten minutes apart."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []

    def write(self, kind: str, /, **body) -> None:
        n = len(self.entries)
        self.entries.append(entry_from_json({
            "id": str(UUID(int=JOB.int + n + 1)), "job": str(JOB), "kind": kind, "at": (START + timedelta(minutes=10 * n)).isoformat(),
            "by": "R. Tester", "device": "rig tablet", "counter": n, "body": body,
        }))

    def job(self) -> Job:
        return fold(self.entries)


def column() -> dict:
    """An expected column of clay, weathered rock and granite."""
    edges = [0.0, 2.0, 6.0, 10.0, 16.0, 24.0, 40.0, 70.0, 120.0]
    rows = [[0.9, 0.1, 0.0], [0.7, 0.25, 0.05], [0.45, 0.4, 0.15], [0.2, 0.5, 0.3], [0.05, 0.4, 0.55], [0.0, 0.15, 0.85], [0.0, 0.05, 0.95], [0.0, 0.05, 0.95]]
    return {"depth_edges": edges, "classes": ["clay", "weathered rock", "granite"], "probability": rows,
            "rockhead_quantiles": {"0.1": 5.0, "0.5": 11.0, "0.9": 22.0}, "effective_records": 31.4}


def odds() -> dict:
    """Odds by depth with a band."""
    depths = np.arange(10.0, 121.0, 10.0)
    chance = 0.86 * (1 - np.exp(-((depths - 4) / 45) ** 1.5))
    return {"by_depth": [{"depth_m": float(d), "p": float(p), "low": float(max(p - 0.09, 0)), "high": float(min(p + 0.08, 1))} for d, p in zip(depths, chance, strict=True)],
            "sentence": "By 100 m about 82 of 100 such holes give 15 L/min."}


@lru_cache(maxsize=4)
def quote(contract: str = "per metre") -> tuple[dict, str]:
    """A quote worked out by the program from the invented sample card."""
    from borewright.pricing import make_quote, per_metre, promise, quote_as_dict, sample_card
    from borewright.siting.prospect import ExpectedColumn, WaterProspect

    c = column()
    ground = ExpectedColumn(np.array(c["depth_edges"]), tuple(c["classes"]), np.array(c["probability"]), {float(q): d for q, d in c["rockhead_quantiles"].items()}, 31.4)
    prospect = WaterProspect(np.linspace(0, 120, 25), np.full(24, 0.035), 4.0, 4.0, -8.6, 0.8, 31.4)
    made = make_quote(prospect, ground, sample_card(), need=0.25e-3, contract=per_metre() if contract == "per metre" else promise(), maximum_depth=90.0, distance=38000.0,
                      holes=2000, step=2.0)
    from borewright.pricing import card_as_dict

    return quote_as_dict(made) | {"rate_card": card_as_dict(sample_card())}, made.content_hash


def design() -> dict:
    """A bore design as plain data."""
    return {
        "strings": [
            {"string": "conductor", "from_depth": 0.0, "to_depth": 15.0, "outside_diameter": 0.2, "wall": 0.0064, "material": "steel", "slotted_from": None, "slotted_to": None},
            {"string": "production", "from_depth": 0.0, "to_depth": 66.0, "outside_diameter": 0.125, "wall": 0.0083, "material": "PVC-U PN 12", "slotted_from": 36.0, "slotted_to": 63.0},
        ],
        "slots": [{"from_depth": 36.0, "to_depth": 42.0, "aperture": 0.001}, {"from_depth": 57.0, "to_depth": 63.0, "aperture": 0.001}],
        "hole": [{"from_depth": 0.0, "to_depth": 15.0, "diameter": 0.254}, {"from_depth": 15.0, "to_depth": 66.0, "diameter": 0.165}],
        "annulus": [
            {"what": "grout", "from_depth": 0.0, "to_depth": 15.0, "material": "cement", "volume": 0.55, "bags": 22},
            {"what": "seal", "from_depth": 30.0, "to_depth": 33.0, "material": "bentonite", "volume": 0.05, "bags": 3},
            {"what": "pack", "from_depth": 33.0, "to_depth": 66.0, "material": "2–4 mm gravel", "volume": 0.5, "bags": None},
        ],
        "stages": [
            {"stage": "grouting", "string": "production", "depth": 33.0, "pressure": 140e3, "resistance": 640e3, "factor": 4.6, "required": 1.5, "verdict": "holds", "source": "ASTM F480"},
            {"stage": "airlifting", "string": "production", "depth": 60.0, "pressure": 480e3, "resistance": 640e3, "factor": 1.33, "required": 1.5, "verdict": "does not hold", "source": "ASTM F480"},
        ],
        "materials": [{"item": "casing PVC-U 125 mm", "quantity": 54, "unit": "m", "note": ""}, {"item": "slotted casing 125 mm", "quantity": 12, "unit": "m", "note": "1 mm slots"},
                      {"item": "cement", "quantity": 22, "unit": "bags", "note": "20 kg"}],
        "advisories": [{"code": "grout-heat", "severity": "doubt", "message": "Cement warms as it sets; keep water in the casing while it does.", "where": "grouting"}],
    }


def enquiry(n: Notebook, *, customer: str = "Mara Ellison-Tay (invented)", title: str = "Lot 7 orchard house") -> Notebook:
    n.write("enquiry.opened", title=title, reference="HR-0107")
    n.write("enquiry.customer", name=customer, phone="000 555 0107", email="mara@example.invalid", address="Lot 7, Orrin Vale Road")
    n.write("enquiry.need", flow=0.25e-3, daily_volume=4.0, use="house", people=5, typed={"flow": "15 L/min"})
    n.write("enquiry.site", latitude=-38.4701, longitude=-18.2203, name="Lot 7", access="Firm track; gate 3.6 m wide.", distance_from_yard=38000.0, pipe_run=180.0, lift_to_tank=12.0)
    return n


def before(contract: str = "per metre") -> Notebook:
    n = enquiry(Notebook())
    n.write("ground.spot", name="A", latitude=-38.4702, longitude=-18.2201, elevation=212.0, way_of_picking="lineament",
            hazards=[{"kind": "septic tank", "distance": 62.0, "note": "uphill"}, {"kind": "overhead line", "distance": 28.0}])
    n.write("ground.odds", register_name="Orrin Vale", need=0.25e-3, answer={"odds": odds(), "column": column()}, sentence=odds()["sentence"])
    content, content_hash = quote(contract)
    n.write("quote.issued", number="Q-0107", revision=1, valid_until="2026-04-01", content=content, content_hash=content_hash)
    n.write("quote.accepted", number="Q-0107", revision=1, name="Mara Ellison-Tay", content_hash=content_hash, way="signed")
    n.write("bore.design", basis="expected", design=design())
    return n


def drilling() -> Notebook:
    n = before()
    n.write("rig.day_started", checks={"overhead lines seen and kept off": True, "buried services asked for": True, "extinguisher": True}, crew=["R. Tester", "A. Hand"])
    n.write("rig.hole_started", rig="Rig 2", method="air rotary, down-hole hammer", rod_length=3.0)
    n.write("rig.bit", diameter=0.254, kind="drag bit", from_depth=0.0)
    n.write("rig.ground", from_depth=0.0, to_depth=0.4, words="dark loam", ground_class="topsoil")
    n.write("rig.ground", from_depth=0.4, to_depth=6.5, words="stiff red-brown sandy clay")
    n.write("rig.ground", from_depth=6.5, to_depth=9.2, words="clay with gravel, damp")
    n.write("rig.ground", from_depth=9.2, to_depth=17.8, words="rotten granite, crumbly", weathering="highly weathered")
    n.write("rig.casing", string="conductor", from_depth=0.0, to_depth=18.5, outside_diameter=0.2, wall=0.0064, material="steel", joints=3)
    n.write("rig.annulus", what="grout", from_depth=0.0, to_depth=18.5, material="cement", bags=26, bag_mass=20.0, density=1820.0, volume=0.66)
    n.write("rig.bit", diameter=0.165, kind="hammer", from_depth=18.5)
    n.write("rig.ground", from_depth=17.8, to_depth=37.0, words="grey granite, hard")
    n.write("rig.struck", depth=38.4, note="cuttings wet")
    n.write("rig.flow", depth=39.0, method="bucket", readings={"volume": 0.01, "time": 83.0}, flow=0.12e-3, standard_uncertainty=0.005e-3)
    n.write("rig.ground", from_depth=37.0, to_depth=41.0, words="broken granite, iron stained", ground_class="broken rock")
    n.write("rig.ground", from_depth=41.0, to_depth=57.6, words="grey granite, very hard")
    n.write("rig.advanced", to_depth=57.6, rods=19)
    return n


def built(*, customer: str | None = None, title: str | None = None) -> Notebook:
    n = drilling()
    if customer is not None:
        n.write("enquiry.customer", name=customer)
    if title is not None:
        n.write("enquiry.opened", title=title)
    n.write("rig.struck", depth=59.1, note="")
    n.write("rig.ground", from_depth=57.6, to_depth=60.5, words="shattered granite with quartz", ground_class="broken rock")
    n.write("rig.flow", depth=61.0, method="V-notch", readings={"angle": 90, "head": 0.043}, flow=0.53e-3, standard_uncertainty=0.02e-3)
    n.write("rig.ground", from_depth=60.5, to_depth=66.3, words="dark schist, some quartz")
    n.write("rig.stopped", depth=66.3, reason="enough water", words="Rule on the card met.")
    n.write("rig.casing", string="production", from_depth=0.0, to_depth=36.3, outside_diameter=0.125, wall=0.0083, material="PVC-U PN 12", joints=7)
    n.write("rig.casing", string="production", from_depth=36.3, to_depth=42.3, outside_diameter=0.125, wall=0.0083, material="PVC-U PN 12", slotted=True, aperture=0.001)
    n.write("rig.casing", string="production", from_depth=42.3, to_depth=57.3, outside_diameter=0.125, wall=0.0083, material="PVC-U PN 12")
    n.write("rig.casing", string="production", from_depth=57.3, to_depth=63.3, outside_diameter=0.125, wall=0.0083, material="PVC-U PN 12", slotted=True, aperture=0.001)
    n.write("rig.casing", string="production", from_depth=63.3, to_depth=66.3, outside_diameter=0.125, wall=0.0083, material="PVC-U PN 12")
    n.write("rig.annulus", what="backfill", from_depth=18.5, to_depth=30.0, material="cuttings")
    n.write("rig.annulus", what="seal", from_depth=30.0, to_depth=33.0, material="bentonite pellets", bags=3)
    n.write("rig.annulus", what="pack", from_depth=33.0, to_depth=66.3, material="2–4 mm gravel", volume=0.53)
    for minute, sand, clear in ((10, 180.0, False), (30, 60.0, False), (60, 14.0, False), (120, 3.0, True)):
        n.write("rig.airlift", elapsed=60.0 * minute, flow=0.5e-3, sand=sand, clear=clear)
    n.write("rig.level", depth_to_water=12.35, state="static")
    n.write("rig.sample", depth=61.0, conductivity=620.0, ph=7.1, temperature=16.4, bottle="OV-107-1")
    time, drawdown = drawdowns()
    n.write("test.run", run="constant 1", type="constant rate", rate=0.45e-3, duration=86400.0, static_level=12.35)
    n.write("test.levels", run="constant 1", time=[float(t) for t in time], drawdown=[float(d) for d in drawdown])
    n.write("test.fitted", run="constant 1", result={
        "fits": [{"solution": "theis", "parameters": {"transmissivity_m2_per_d": {"value": 3.41, "low": 3.2, "high": 3.7}, "storativity": {"value": 2.1e-4, "low": 1e-4, "high": 5e-4}},
                  "aicc": -210.4, "rmse_m": 0.031, "curve": {"time_s": [float(t) for t in time], "drawdown_m": [float(d) for d in fitted(time)]},
                  "sentence": "The water level falls steadily with the logarithm of time: nothing near by feeds or blocks the bore."}],
        "best": "theis"})
    n.write("test.rated", rating={"flow": 0.38e-3, "low": 0.3e-3, "high": 0.47e-3, "pumping_level": 31.2, "guard_depth": 54.0, "basis": "24 h constant-rate test",
                                  "advisories": [{"code": "dry-season", "severity": "doubt", "message": "The static level was measured in a wet month.", "where": "rating"}]}, flow=0.38e-3)
    n.write("pump.chosen", name="4 inch submersible, 0.75 kW (invented)", intake_depth=54.0,
            duty={"flow": 0.38e-3, "head": 68.0, "power": 750.0, "pumping_level": 31.2, "running_cost_per_kl_minor": 41})
    n.write("water.analysis", laboratory="Vale Laboratory (invented)", sampled_on="2026-03-05", use="drinking", values=[
        {"name": "pH", "value": 7.1, "unit": ""}, {"name": "conductivity", "value": 620.0, "unit": "uS/cm"}, {"name": "calcium", "value": 42.0, "unit": "mg/L"},
        {"name": "magnesium", "value": 14.0, "unit": "mg/L"}, {"name": "sodium", "value": 61.0, "unit": "mg/L"}, {"name": "potassium", "value": 2.4, "unit": "mg/L"},
        {"name": "chloride", "value": 88.0, "unit": "mg/L"}, {"name": "sulfate", "value": 21.0, "unit": "mg/L"}, {"name": "bicarbonate", "value": 176.0, "unit": "mg/L"},
        {"name": "nitrate", "value": 3.2, "unit": "mg/L"}, {"name": "arsenic", "value": 0.001, "unit": "mg/L", "below_detection": True}, {"name": "iron", "value": 0.9, "unit": "mg/L"}],
        assessment={"advisories": [{"code": "iron", "severity": "note", "message": "Iron above 0.3 mg/L stains; aerate and filter.", "where": "iron"}]})
    return n


def drawdowns() -> tuple[np.ndarray, np.ndarray]:
    """Invented readings: the closed form of a straight line in log time with a small wave."""
    time = np.geomspace(60, 86400, 32)
    return time, np.round(fitted(time) + 0.03 * np.sin(5 * np.log(time)), 3)


def fitted(time: np.ndarray) -> np.ndarray:
    return 2.08 * np.log10(time) + 1.3


def sealed() -> Notebook:
    n = before("promise")
    n.write("rig.hole_started", rig="Rig 2")
    n.write("rig.bit", diameter=0.165, kind="hammer", from_depth=0.0)
    n.write("rig.ground", from_depth=0.0, to_depth=8.0, words="red clay")
    n.write("rig.ground", from_depth=8.0, to_depth=21.0, words="weathered schist")
    n.write("rig.ground", from_depth=21.0, to_depth=84.0, words="tight blue schist")
    n.write("rig.struck", depth=44.0)
    n.write("rig.flow", depth=45.0, method="estimate", flow=0.02e-3)
    n.write("rig.stopped", depth=84.0, reason="walked away", words="Card says leave.")
    n.write("rig.sealed_off", intervals=[
        {"from_depth": 0.0, "to_depth": 2.0, "material": "clean soil, mounded"}, {"from_depth": 2.0, "to_depth": 30.0, "material": "cement grout", "bags": 28, "volume": 0.62},
        {"from_depth": 30.0, "to_depth": 84.0, "material": "bentonite chips", "bags": 46}], reason="Need not met; sealed to keep the surface water out.")
    return n


def nothing() -> Notebook:
    n = Notebook()
    n.write("enquiry.opened", title="Only a name")
    return n
