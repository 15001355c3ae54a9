"""What a paper still needs before it can be issued. A half-finished truth can always be saved; it cannot always be signed."""

from __future__ import annotations

from dataclasses import dataclass

from borewright.errors import BadInput
from borewright.record.fold import Hole, Job

__all__ = ["PAPERS", "Problem", "problems"]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something missing or contradictory: what, in which stage, and whether the paper can go out without it."""

    stage: str
    message: str
    blocks: bool = True


PAPERS = ("quote", "rig card", "safety sheet", "bore record", "field sheet", "test report", "water report", "handover pack", "invoice")


def problems(job: Job, paper: str) -> list[Problem]:
    """Return what keeps a paper of the job from being complete, the blocking ones first. Raises BadInput for an unknown paper."""
    if paper not in PAPERS:
        raise BadInput("paper", paper, "is not a paper", "one of " + ", ".join(PAPERS))
    found: list[Problem] = []
    hole = job.hole

    def need(there: object, stage: str, message: str, blocks: bool = True) -> None:
        if not there:
            found.append(Problem(stage, message, blocks))

    need(job.customer, "enquiry", "No customer is named.", paper in ("quote", "invoice"))
    if paper in ("quote", "rig card"):
        need(job.need, "enquiry", "The need (flow) is not stated.")
        need(job.quote, "quote", "No quote has been worked out.")
    if paper == "safety sheet":
        need(job.site, "enquiry", "The site is not stated.", False)
    if paper in ("bore record", "field sheet", "handover pack", "invoice"):
        need(hole, "rig", "No hole has been logged.")
    if hole and paper in ("bore record", "handover pack"):
        need(job.site or job.spot, "enquiry", "The position of the bore is not stated.")
        need(hole.ground, "rig", "No ground is logged.")
        need(hole.stopped, "rig", "The hole is not recorded as stopped.", False)
        found.extend(_column(hole))
        if not hole.sealed_off:
            need([c for c in hole.casings if c.body.string == "production"], "rig", "No production casing is recorded.", False)
            need([a for a in hole.annulus if a.body.what in ("grout", "seal")], "rig", "No seal or grout is recorded.", False)
            need(hole.levels, "rig", "No static level is recorded.", False)
    if paper == "handover pack" and hole and not hole.sealed_off:
        need(hole.rated, "test", "The bore has no rated yield.", False)
        need(hole.analyses, "water", "No water analysis is recorded.", False)
    if paper == "test report":
        need(hole and hole.tests, "test", "No test is recorded.")
    if paper == "water report":
        need(hole and hole.analyses, "water", "No water analysis is recorded.")
    if paper == "invoice":
        need(job.quote, "quote", "No quote says what was agreed.")
    return sorted(found, key=lambda p: not p.blocks)


def _column(hole: Hole) -> list[Problem]:
    found = []
    last = 0.0
    for fact in hole.ground:
        if fact.body.from_depth > last + 0.01:
            found.append(Problem("rig", f"No ground is logged from {last:g} to {fact.body.from_depth:g} m.", False))
        if fact.body.from_depth < last - 0.01:
            found.append(Problem("rig", f"Two logs of ground overlap above {last:g} m.", False))
        last = max(last, fact.body.to_depth)
    if hole.ground and hole.depth > last + 0.01:
        found.append(Problem("rig", f"No ground is logged from {last:g} m to the bottom at {hole.depth:g} m.", False))
    return found
