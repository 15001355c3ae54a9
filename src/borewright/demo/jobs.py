"""The two demo jobs, from the call to the papers: one hole that finds water, one that does not and is sealed.

Everything is INVENTED (district, firm, people, money, water), but nothing is made up where the program can work it out: the odds
come from the district's register, the holes are drilled out of its hidden truth under the program's own stop rule, the pumping
test is drawn from a hidden aquifer with noise, and every figure that follows is reckoned from what was logged.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np

from borewright.demo.district import orrin_vale, write_district
from borewright.demo.drill import Drilled, drill
from borewright.demo.hole import TrueHole, true_hole

if TYPE_CHECKING:
    from borewright.storage import JobBook, Settings

__all__ = ["FAILED", "FOUND", "REGISTER", "Progress", "demo_settings", "make_demo"]

REGISTER = "orrin-vale"
FOUND, FAILED = "DEMO-LOT-7", "DEMO-SCHOOL-ROAD"
ZONE = timezone(timedelta(hours=-1))
BY, DRILLER = "office (invented)", "driller (invented)"
Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a demo job lies, what its draw of the truth is, and what its customer needs."""

    reference: str
    title: str
    customer: dict[str, str]
    latitude: float
    longitude: float
    seed: int
    need: dict[str, Any]
    way_of_picking: str
    called: datetime


LOT_7 = Place(
    FOUND, "Lot 7 orchard house (invented)",
    {"name": "A. Grower (invented)", "phone": "000 0000", "address": "Lot 7, Quince Lane, Orrin Vale (invented)"},
    -38.46526, -18.22786, 514, {"flow": 25e-3 / 60, "daily_volume": 6.0, "use": "house", "people": 4, "typed": {"flow": "25 L/min", "daily_volume": "6 m3"}},
    "lineament", datetime(2026, 9, 7, 9, 30, tzinfo=ZONE),
)
SCHOOL_ROAD = Place(
    FAILED, "School Road paddock (invented)",
    {"name": "B. Keeper (invented)", "phone": "000 0001", "address": "School Road, Orrin Vale (invented)"},
    -38.39339, -18.33116, 14, {"flow": 20e-3 / 60, "use": "stock", "typed": {"flow": "20 L/min"}},
    "customer's choice", datetime(2026, 9, 9, 11, 0, tzinfo=ZONE),
)
DEEPEST = 90.0


def demo_settings() -> Settings:
    """Return the settings of the invented firm, used for the demo's papers only."""
    from borewright.storage import Settings

    return Settings(
        firm="Hollow Reed Bores (invented)", owner="C. Reed (invented)", address="Yard 3, Mill Flat, Orrin Vale (invented)", phone="000 0002",
        email="office@hollow-reed.invalid", licence="none: invented", zone="Etc/GMT+1",
    )


def make_demo(book: JobBook, folder: Path, *, progress: Progress | None = None) -> UUID:
    """Make the register and both jobs in a job book and return the id of the job that finds water; made before, they are left alone.

    Parameters
    ----------
    book : JobBook
    folder : Path
        The data folder; the register is kept in its "registers".
    progress : callable, optional
        Told (fraction done, what is being done).
    """
    from borewright.errors import NotFound

    tell = progress or (lambda done, doing: None)
    tell(0.0, "reading the register of the invented district")
    register = _register(folder)
    found: dict[str, UUID] = {}
    for start, place, job_of in ((0.15, LOT_7, _job_that_finds), (0.6, SCHOOL_ROAD, _job_that_fails)):
        try:
            found[place.reference] = book.find(place.reference)
        except NotFound:
            found[place.reference] = job_of(book, register, place, lambda share, doing, a=start: tell(a + 0.38 * share, doing))
    tell(1.0, "done")
    return found[FOUND]


def _register(folder: Path) -> Any:
    import tempfile

    from borewright.errors import NotFound
    from borewright.siting import load_register, open_register
    from borewright.work.trackrecord import first_record

    registers = folder / "registers"
    try:
        return open_register(REGISTER, registers)
    except NotFound:
        with tempfile.TemporaryDirectory() as made:
            paths = write_district(made)
            load_register(paths["bores"], strikes=paths["strikes"], intervals=paths["intervals"], name=REGISTER, folder=registers)
        first_record(REGISTER, registers)
        return open_register(REGISTER, registers)


def _open(book: JobBook, register: Any, place: Place, tell: Progress) -> tuple[UUID, TrueHole]:
    """Take the call, pick the spot, tell the odds, design from the expected column, issue and accept a promise."""
    from borewright.pricing import promise, sample_card
    from borewright.work.bore import design_expected
    from borewright.work.enquiry import open_job
    from borewright.work.ground import tell_odds
    from borewright.work.quoting import accept_quote, issue_quote

    at = place.called
    job = open_job(
        book, place.title, by=BY, reference=place.reference, customer=place.customer, need=place.need, at=at,
        site={"latitude": place.latitude, "longitude": place.longitude, "name": place.customer["address"], "distance_from_yard": 18_000.0,
              "pipe_run": 85.0, "lift_to_tank": 6.0, "zone": "Etc/GMT+1", "access": "firm track, gate 4 m wide"},
    )
    book.write(job, "ground.spot", {
        "name": "A", "latitude": place.latitude, "longitude": place.longitude, "way_of_picking": place.way_of_picking,
        "hazards": [{"kind": "septic trench", "distance": 62.0, "note": "downhill of the bore"}, {"kind": "overhead line", "distance": 45.0, "note": "240 V service to the shed"}],
    }, by=BY, at=at + timedelta(days=1))
    tell(0.05, f"{place.title}: odds from the register")
    tell_odds(book, job, register, by=BY, at=at + timedelta(days=1, minutes=20))
    tell(0.15, f"{place.title}: design from the expected ground")
    design_expected(book, job, by=BY, at=at + timedelta(days=1, minutes=30))
    tell(0.2, f"{place.title}: pricing ten thousand holes")
    issue_quote(book, job, by=BY, card=sample_card(), contract=promise(least_depth=60.0), maximum_depth=DEEPEST, at=at + timedelta(days=1, minutes=40))
    accept_quote(book, job, name=place.customer["name"], by=BY, way="on paper", at=at + timedelta(days=3))
    return job, true_hole(orrin_vale(), place.longitude, place.latitude, deepest=DEEPEST, seed=place.seed)


def _drill(book: JobBook, job: UUID, truth: TrueHole, place: Place) -> Drilled:
    from borewright.work.bore import place_conductor

    def conductor(clock: datetime) -> datetime:
        place_conductor(book, job, to_depth=conductor_depth, by=DRILLER, at=clock)
        return clock + timedelta(hours=3)  # running, grouting and the wait

    # The conductor is keyed into the first sound rock, to the rod.
    sound = next(top for top, _, words in truth.ground if top >= truth.rockhead - 0.05 and "weathered" not in words)
    conductor_depth = float(np.ceil((sound + 1.0) / 3.0) * 3.0)
    upper, *_, main = (piece["diameter"] for piece in book.job(job).design.body.design["hole"])
    return drill(
        book, job, truth, by=DRILLER, start=place.called + timedelta(days=7, hours=-2), deepest=DEEPEST, seed=place.seed, conductor=conductor,
        conductor_depth=conductor_depth, upper_bit=upper, main_bit=main,
    )


def _job_that_finds(book: JobBook, register: Any, place: Place, tell: Progress) -> UUID:
    from borewright.work.bore import design_logged, place_design

    job, truth = _open(book, register, place, tell)
    tell(0.5, f"{place.title}: drilling")
    drilled = _drill(book, job, truth, place)
    clock = drilled.clock
    book.write(job, "rig.stopped", {"depth": drilled.depth, "reason": "enough water", "words": "The rig card says stop: the need is met."}, by=DRILLER, at=clock)
    book.write(job, "rig.level", {"depth_to_water": truth.static_level, "state": "static"}, by=DRILLER, at=clock + timedelta(minutes=40))
    tell(0.6, f"{place.title}: design from the logged hole")
    design_logged(book, job, by=BY, at=clock + timedelta(minutes=50))
    morning = clock.replace(hour=7, minute=30, second=0, microsecond=0)
    place_design(book, job, by=DRILLER, leave_out=("conductor",), at=morning + timedelta(days=1, hours=3))
    _develop(book, job, drilled, morning + timedelta(days=3))  # the grout has had its time
    tell(0.7, f"{place.title}: pumping test")
    clock = morning + timedelta(days=4)
    _test(book, job, truth, drilled, clock, tell)
    _water(book, job, place, clock + timedelta(days=2))
    return job


def _develop(book: JobBook, job: UUID, drilled: Drilled, clock: datetime) -> None:
    """Air-lift until it runs clean: invented turbidity that decays, read every ten minutes."""
    rng = np.random.default_rng(7)
    for minutes in range(10, 101, 10):
        turbidity = round(float(420.0 * np.exp(-minutes / 19.0) + 2.0) * float(np.exp(0.08 * rng.standard_normal())), 1)
        book.write(job, "rig.airlift", {
            "elapsed": 60.0 * minutes, "flow": round(drilled.flow * (0.93 + 0.04 * float(rng.random())), 7), "turbidity": turbidity, "clear": turbidity < 8.0,
        }, by=DRILLER, at=clock + timedelta(minutes=minutes))
    book.write(job, "rig.sample", {"conductivity": 640.0, "ph": 7.1, "temperature": 16.2, "bottle": "1"}, by=DRILLER, at=clock + timedelta(minutes=100))


def _test(book: JobBook, job: UUID, truth: TrueHole, drilled: Drilled, clock: datetime, tell: Progress) -> None:
    """Pump at a little above the need for eight hours, watch it come back, and rate it; the aquifer is hidden and known."""
    from borewright.hydraulics import drawdown as theis_drawdown
    from borewright.work.pump import choose
    from borewright.work.testing import fit_run, rate_job

    rng = np.random.default_rng(11)
    rate = round(0.9 * drilled.flow * 60e3) / 60e3
    pumped, watched = 8 * 3600.0, 4 * 3600.0
    transmissivity, storativity, radius, skin = 9.0 / 86400, 2.0e-4, 0.0825, 1.5
    during = np.unique(np.round(np.geomspace(30, pumped, 42) / 30) * 30)
    after = np.unique(np.round(np.geomspace(30, watched, 34) / 30) * 30)

    def drawdown(at: np.ndarray) -> np.ndarray:
        on = theis_drawdown(at, radius, rate=rate, transmissivity=transmissivity, storativity=storativity)
        off = np.zeros_like(at)
        late = at > pumped
        off[late] = theis_drawdown(at[late] - pumped, radius, rate=rate, transmissivity=transmissivity, storativity=storativity)
        loss = skin * rate / (2 * np.pi * transmissivity) * ~late
        return on - off + loss

    level = book.job(job).holes[1]
    stick = [f.body for f in level.levels][-1].depth_to_water
    book.write(job, "test.run", {"run": "constant 1", "type": "constant rate", "rate": rate, "duration": pumped, "static_level": stick, "radius": radius}, by=DRILLER, at=clock)
    book.write(job, "test.levels", _levels("constant 1", during, drawdown(during), rng), by=DRILLER, at=clock + timedelta(seconds=pumped))
    book.write(job, "test.run", {"run": "recovery 1", "type": "recovery", "rate": rate, "duration": pumped, "static_level": stick, "radius": radius}, by=DRILLER,
               at=clock + timedelta(seconds=pumped))
    book.write(job, "test.levels", _levels("recovery 1", after, drawdown(pumped + after), rng), by=DRILLER, at=clock + timedelta(seconds=pumped + watched))
    done = clock + timedelta(hours=14)
    for run in ("constant 1", "recovery 1"):
        fit_run(book, job, run, by=BY, at=done)
    tell(0.85, "rating the bore")
    rate_job(book, job, by=BY, at=done)
    choose(book, job, by=BY, at=done + timedelta(minutes=20))


def _levels(run: str, time: np.ndarray, drawdown: np.ndarray, rng: np.random.Generator) -> dict[str, Any]:
    dipped = np.maximum(0.0, np.round(drawdown + 0.01 * rng.standard_normal(len(time)), 2))
    return {"run": run, "time": [float(t) for t in time], "drawdown": [float(d) for d in dipped]}


def _water(book: JobBook, job: UUID, place: Place, at: datetime) -> None:
    """An invented laboratory's sheet: hard, a little iron, one figure above a guideline so that the report has something to say."""
    from borewright.work.water import judge

    rows = (("pH", 7.1, "", False), ("conductivity", 640, "uS/cm", False), ("calcium", 58, "mg/L", False), ("magnesium", 19, "mg/L", False),
            ("sodium", 47, "mg/L", False), ("potassium", 2.6, "mg/L", False), ("chloride", 61, "mg/L", False), ("sulfate", 34, "mg/L", False),
            ("bicarbonate", 255, "mg/L", False), ("nitrate", 6.2, "mg/L", False), ("fluoride", 0.6, "mg/L", False), ("iron", 0.9, "mg/L", False),
            ("manganese", 0.11, "mg/L", False), ("arsenic", 0.001, "mg/L", True), ("lead", 0.001, "mg/L", True), ("Escherichia coli", 1, "/100 mL", True))
    values = [{"name": n, "value": v, "unit": u, "below_detection": b} | ({"form": "as nitrate"} if n == "nitrate" else {}) for n, v, u, b in rows]
    judge(book, job, values, use="drinking", laboratory="Vale Laboratory (invented)",
          sampled_on=at.date().isoformat(), by=BY, at=at)


def _job_that_fails(book: JobBook, register: Any, place: Place, tell: Progress) -> UUID:
    from borewright.work.bore import seal_failed

    job, truth = _open(book, register, place, tell)
    tell(0.6, f"{place.title}: drilling")
    drilled = _drill(book, job, truth, place)
    book.write(job, "rig.level", {"depth_to_water": truth.static_level, "state": "static"}, by=DRILLER, at=drilled.clock + timedelta(minutes=30))
    book.write(job, "rig.stopped", {"depth": drilled.depth, "reason": "walked away", "words": "The rig card says walk away; under the promise nothing is charged."},
               by=DRILLER, at=drilled.clock + timedelta(minutes=35))
    tell(0.9, f"{place.title}: sealing the failed hole")
    seal_failed(book, job, by=DRILLER, reason="The need was not met; sealed the same day.", at=drilled.clock + timedelta(hours=2))
    return job
