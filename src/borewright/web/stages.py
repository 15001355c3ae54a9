"""The forms of each stage of a job, declared once; what they write is an entry or the act of a use-case."""

from __future__ import annotations

from importlib.util import find_spec

from borewright.record.bodies import USES, WAYS_OF_PICKING
from borewright.web import acts
from borewright.web.fields import Field, Form

__all__ = ["STAGES", "form_of", "forms_of"]

STAGES = ("enquiry", "ground", "quote", "bore", "rig", "test", "pump", "water", "papers")
_HOLE = Field("hole", "Hole number", "whole", default="1")
_FROM, _TO = Field("from_depth", "From", "depth", True, example="12 m"), Field("to_depth", "To", "depth", True, example="18 m")
_DEPTH = Field("depth", "Depth", "depth", True, example="42 m")
_SURE = Field("sure", "It is so: write it down as it is", "yes", help="Only where the program asks about it")

_FORMS: dict[str, tuple[Form, ...]] = {
    "enquiry": (
        Form("customer", "Customer", "Write down", (
            Field("name", "Name", required=True), Field("phone", "Phone"), Field("email", "Email"), Field("address", "Address", "long"),
        ), "enquiry.customer"),
        Form("need", "Need", "Write down", (
            Field("flow", "Flow they must have", "flow", True, example="15 L/min"), Field("daily_volume", "Volume a day", "volume", example="4000 L"),
            Field("use", "Use", "choice", choices=USES, default="house"), Field("people", "People", "whole"), Field("note", "Note", "long"),
        ), "enquiry.need"),
        Form("site", "Site", "Write down", (
            Field("place", "Where", "place", True, "Latitude, longitude in degrees", "-38.47, -18.22"), Field("name", "Name of the place"),
            Field("access", "Access for the rig", "long", help="Gates, slope, overhead lines, soft ground"),
            Field("distance_from_yard", "Road from the yard, one way", "length", example="34 km"),
            Field("pipe_run", "Pipe from spot to tank", "length", example="120 m"), Field("lift_to_tank", "Rise from spot to tank", "level", example="14 m"),
        ), "enquiry.site"),
        Form("close", "Close the job", "Close", (Field("reason", "Reason", "long", True),), "enquiry.closed"),
    ),
    "ground": (
        Form("spot", "Pick the spot", "Write down", (
            Field("name", "Name of the spot", default="A"), Field("place", "Where", "place", True, "Latitude, longitude in degrees", "-38.47, -18.22"),
            Field("way_of_picking", "How it was picked", "choice", choices=WAYS_OF_PICKING, default="driller's judgement"),
            Field("elevation", "Height above sea", "level", example="240 m"),
            Field("hazards", "Hazards near it", "rows", help="One a line: kind, distance in metres, note", example="septic tank, 35", columns=("kind", "distance:length", "note:word")),
            Field("note", "Note", "long"),
        ), "ground.spot", caution="Look up and dial before you dig: overhead lines and buried services end lives. Keep the setbacks that your local rules ask for."),
        Form("odds", "Work out the odds", "Work out", (
            Field("register_name", "Register", "choice", True), Field("own", "Count our own finished bores in as well", "yes"),
        ), act=acts.tell_odds, needs="borewright.work.ground",
             about="From the records of other bores near the spot. What is told is kept as it was told."),
    ),
    "quote": (
        Form("issue", "Work out a quote", "Work out", (
            Field("maximum_depth", "Deepest to plan for", "depth", default="120 m"),
            Field("contract", "Who carries the luck", "choice", choices=("per metre", "fixed", "promise"), default="per metre",
                  help="Per metre: the customer. Fixed: you. Promise: no usable water, no charge."),
            Field("price", "Fixed price before tax", help="Only for a fixed contract", example="14500.00"),
            Field("promise_price", "Price of the promise before tax", help="Only for a promise; empty: what makes up for its dry holes"),
            Field("deposit", "Deposit kept whatever happens", example="500.00"),
            Field("metres_cap", "Metres charged, at most", "depth", help="By the metre or on a promise", example="80 m"),
            Field("dry_hole_share", "Part charged for a dry hole", "number", help="From 0 (nothing) to 1 (all). Empty: nothing on a promise, all otherwise", example="0.25"),
            Field("least_depth", "Not given up above", "depth", help="Empty: half the greatest depth", example="60 m"),
        ), act=acts.issue_quote, needs="borewright.work.quoting", about="Ten thousand holes are drilled on paper under the stop rule; the price range is what came of them."),
        Form("accept", "The customer accepts", "Write down", (
            Field("name", "Who accepted", required=True), Field("way", "How", "choice", choices=("in person", "by phone", "by email", "signed paper"), default="in person"),
        ), act=acts.accept_quote, needs="borewright.work.quoting"),
        Form("vary", "A variation", "Write down", (
            Field("reason", "Reason", "long", True), Field("amount", "Amount, less with a minus", required=True, example="350.00"),
        ), act=acts.vary_quote),
    ),
    "bore": (
        Form("expected", "Design from the expected ground", "Work out", (), act=acts.design_expected, needs="borewright.work.bore"),
        Form("logged", "Design from the logged ground", "Work out", (), act=acts.design_logged, needs="borewright.work.bore",
             caution="A design is a proposal: casing, seal and grout follow your local code and a licensed driller's judgement."),
    ),
    "rig": (
        Form("advanced", "Drilled to", "Write down", (_HOLE, Field("to_depth", "Depth", "depth", True, example="42 m"), Field("rods", "Rods in the hole", "whole")), "rig.advanced"),
        Form("ground", "Ground", "Write down", (
            _HOLE, _FROM, _TO, Field("words", "What it is, in your words", required=True, example="weathered granite"), Field("colour", "Colour"),
            Field("grain", "Grain"), Field("strength", "Strength"), Field("weathering", "Weathering"),
        ), "rig.ground"),
        Form("struck", "Water struck", "Write down", (_HOLE, _DEPTH, Field("note", "Note")), "rig.struck"),
        Form("bucket", "Flow by bucket", "Work out and write down", (
            _HOLE, _DEPTH, Field("volume", "Bucket holds", "volume", True, example="20 L"),
            Field("fill_times", "Seconds to fill, repeats with commas", required=True, example="31, 32, 30.5"),
        ), act=acts.bucket, needs="borewright.rig.flow"),
        Form("notch", "Flow by V-notch", "Work out and write down", (
            _HOLE, _DEPTH, Field("heads", "Heads over the notch in mm, repeats with commas", required=True, example="62, 63"),
            Field("notch_angle", "Angle of the notch", "angle", default="90 deg"),
        ), act=acts.notch, needs="borewright.rig.flow"),
        Form("level", "Level dipped", "Write down", (
            _HOLE, Field("depth_to_water", "Depth to water", "level", True, "As measured; with a minus when it stands above", "11.4 m"),
            Field("state", "State", "choice", choices=("static", "pumping", "recovering", "drilling"), default="static"),
            Field("measured_from", "Measured from", "choice", choices=("ground", "top of casing"), default="ground"),
            Field("stick_up", "Casing above ground", "length", example="0.4 m"),
        ), "rig.level", act=acts.dip),
        Form("casing", "Casing run", "Write down", (
            _HOLE, Field("string", "String", "choice", choices=("conductor", "surface", "production"), default="production"), _FROM, _TO,
            Field("outside_diameter", "Outside diameter", "diameter", True, example="125 mm"), Field("wall", "Wall", "diameter", example="7 mm"),
            Field("material", "Material", example="PVC-U"), Field("joints", "Joints", "whole"), Field("slotted", "Slotted", "yes"),
            Field("aperture", "Slot width", "diameter", example="1 mm"),
        ), "rig.casing"),
        Form("annulus", "Seal, grout or pack", "Write down", (
            _HOLE, Field("what", "What", "choice", choices=("seal", "grout", "pack", "backfill"), default="grout"), _FROM, _TO,
            Field("material", "Material", required=True, example="neat cement"), Field("bags", "Bags", "number"), Field("bag_mass", "Mass of a bag", "mass", example="20 kg"),
            Field("density", "Density of the mix", "density", example="1.85 kg/L"), Field("volume", "Volume", "volume"),
        ), "rig.annulus", caution="Fresh grout pushes on casing from outside: keep it full of water until it sets, and follow your local code."),
        Form("airlift", "Airlift reading", "Write down", (
            _HOLE, Field("elapsed", "Air-lifting for", "time", True, "Work only, without rests", "45 min"), Field("turbidity", "Turbidity, NTU", "number"),
            Field("sand", "Sand", "concentration", example="12 mg/L"), Field("flow", "Flow", "flow", example="20 L/min"),
        ), "rig.airlift", caution="Compressed air kills: restrain every hose and keep clear of the collar when unloading."),
        Form("stopped", "Hole stopped", "Write down", (
            _HOLE, _DEPTH, Field("reason", "Reason", "choice", True, choices=("enough water", "walked away", "depth agreed", "hole lost", "other")), Field("words", "In words", "long"),
        ), "rig.stopped"),
        Form("note", "Note", "Write down", (_HOLE, Field("text", "Note", "long", True), Field("depth", "At depth", "depth")), "rig.note"),
    ),
    "test": (
        Form("run", "A test was run", "Write down", (
            _HOLE, Field("run", "Name of the test", required=True, example="constant 1"),
            Field("type", "Type", "choice", choices=("constant rate", "recovery", "step", "slug", "airlift"), default="constant rate"),
            Field("rate", "Rate", "flow", example="0.8 L/s"), Field("duration", "How long it was pumped", "time", example="24 h"),
            Field("static_level", "Static level", "level", example="11.4 m"), Field("radius", "Distance of the bore measured", "length", help="Leave empty for the pumped bore"),
            _SURE,
        ), act=acts.test_run),
        Form("levels", "Levels of a test", "Write down", (
            _HOLE, Field("run", "Name of the test", required=True, example="constant 1"),
            Field("rows", "Readings", "rows", True, "One a line: time in seconds, drawdown in metres", "60, 1.24", columns=("time:time", "drawdown:level")),
            _SURE,
        ), act=acts.test_levels),
        Form("fit", "Fit a test", "Work out", (_HOLE, Field("run", "Name of the test", required=True, example="constant 1")), act=acts.fit_run, needs="borewright.work.testing", slow=True),
        Form("rate", "Rate the bore", "Work out", (Field("dry_season_fall", "Fall of the level in a dry season", "level", example="3 m"),), act=acts.rate_job, needs="borewright.work.testing", about="The flow that it can give for years, with its band.", slow=True),
    ),
    "pump": (
        Form("chosen", "Pump put in", "Write down", (_HOLE, Field("name", "Pump", required=True), Field("intake_depth", "Intake at", "depth", example="54 m")), act=acts.pump_put_in,
             caution="Electrical work on pumps is for a licensed electrician."),
    ),
    "water": (),
    "papers": (),
}


def forms_of(stage: str) -> tuple[Form, ...]:
    """Return the forms of a stage whose use-case is there."""
    return tuple(form for form in _FORMS[stage] if not form.needs or _there(form.needs))


def form_of(stage: str, key: str) -> Form | None:
    """Return one form of a stage, or None."""
    return next((form for form in forms_of(stage) if form.key == key), None)


def _there(module: str) -> bool:
    try:
        return find_spec(module) is not None
    except ModuleNotFoundError:
        return False
