"""Single calculations of pricing: the hours of a hole, what a promise must cost, the season's reserve, the ledger of dry holes."""

from __future__ import annotations

import numpy as np

from borewright import pricing
from borewright.bench.declare import BenchModel, Calculation, Outcome, declare, quantity
from borewright.errors import Advisory
from borewright.ground import DRILLING_CLASSES
from borewright.pricing.seasons import NOT_INSURANCE

INSURANCE = NOT_INSURANCE.message


def _metres(name: str):
    return quantity("depth", "m", f"Metres of {name} ground", at_least=0, at_most=3000, default=0.0, example="12 m")


class HoursInputs(BenchModel):
    loose: float = _metres("loose")
    soft: float = _metres("soft")
    medium: float = _metres("medium")
    hard: float = _metres("hard")
    rod_length: float = quantity("length", "m", "Length of a rod", above=0, at_most=20, default=3.0, example="3 m")
    add_rod: float = quantity("time", "min", "Time to add a rod", at_least=0, at_most=36000, default=300.0, example="5 min")
    pull_rod: float = quantity("time", "min", "Time to pull a rod", at_least=0, at_most=36000, default=180.0, example="3 min")


class HoursResults(BenchModel):
    time: float = quantity("time", "h", "Drilling and rods, in and out, on average")
    drilling: float = quantity("time", "h", "Of that, the bit turning")
    low: float = quantity("time", "h", "One job in ten is as quick")
    high: float = quantity("time", "h", "One job in ten is slower")


def _hours(given: HoursInputs) -> Outcome:
    model = pricing.prior_time_model(rod_length=given.rod_length, add_rod=given.add_rod, pull_rod=given.pull_rod)
    metres = np.array([getattr(given, name) for name in DRILLING_CLASSES])
    mean = float(model.making_hole(metres, metres.sum()))
    paces = model.sample_paces(20_000, np.random.default_rng(1))
    rods = mean - float((metres * model.paces()).sum())
    low, high = np.quantile(paces @ metres, (0.1, 0.9)) + rods
    return Outcome(HoursResults(time=mean, drilling=mean - rods, low=float(low), high=float(high)))


declare(Calculation(
    name="drilling-hours", title="Hours to drill a hole", stage="pricing",
    about="Time to drill so many metres of each class of ground with the rods in and out: the mean and the luck of the job.",
    inputs=HoursInputs, results=HoursResults, compute=_hours,
    source=("Rates of penetration: our own wide guess before a firm's own metres, no source; "
            "checked against common practice (no source): 24 m of soft to medium rock in about four hours",),
    limits=("Casing, grout, set-up and travel are not in it.", "A firm's own metres replace the rates in its quotes, not here."),
))


class PromiseInputs(BenchModel):
    chance: float = quantity("fraction", "%", "Chance that a hole meets the need", above=0, at_most=1, example="70 %")
    cost_dry: float = quantity("number", "", "What a dry hole costs you, in your money", at_least=0, example="7000")
    cost_found: float = quantity("number", "", "What a bore that works costs you, in your money", at_least=0, default=0.0, example="10000")
    paid_dry: float = quantity("number", "", "What is still paid for a dry hole, in your money", at_least=0, default=0.0, example="0")


class PromiseResults(BenchModel):
    addition: float = quantity("number", "", "To add to the price of each bore that works, to make the dry ones good")
    holes_per_bore: float = quantity("number", "", "Holes drilled for each bore that works")
    cost_per_bore: float = quantity("number", "", "What each bore that works costs you with its dry holes")


def _promise(given: PromiseInputs) -> Outcome:
    odds_against = (1.0 - given.chance) / given.chance
    lost = max(given.cost_dry - given.paid_dry, 0.0)
    doubts = () if given.chance >= 0.3 else (Advisory(
        "thin-odds", "doubt", "At such odds a few jobs in a row will come out dry; look at the season's reserve before promising."),)
    return Outcome(PromiseResults(addition=odds_against * lost, holes_per_bore=1.0 / given.chance,
                                  cost_per_bore=given.cost_found + odds_against * given.cost_dry), doubts)


declare(Calculation(
    name="promise-price", title="Price of \"no usable water, no charge\"", stage="pricing",
    about="What to add to each bore that works so that the dry holes are paid for on average.",
    inputs=PromiseInputs, results=PromiseResults, compute=_promise,
    source=("The mean of a geometric number of failures, (1 - p) / p; check: p 0.7, 10,000 and 7,000 give 13,000 a bore",),
    limits=("One stopping depth: a quote works out the best rule as well.", "No profit on the risk is in it."), cautions=(INSURANCE,),
))


class ReserveInputs(BenchModel):
    jobs: float = quantity("number", "", "Jobs on a promise in the season", at_least=1, at_most=1000, example="30")
    chance_dry: float = quantity("fraction", "%", "Chance of a dry hole on each", at_least=0, at_most=1, example="30 %")
    profit: float = quantity("number", "", "Profit on a job that finds water, in your money", above=0, example="4000")
    loss: float = quantity("number", "", "Loss on a dry hole, in your money", above=0, example="7000")
    shared_luck: float = quantity("fraction", "%", "How far the jobs share the district's luck: 0 none, 100 % one luck for all", at_least=0, at_most=1,
                                  default=0.3, example="30 %")
    ruin_allowed: float = quantity("fraction", "%", "Share of seasons in which the reserve may run out", above=0, below=1, default=0.05, example="5 %")


class ReserveResults(BenchModel):
    reserve: float = quantity("number", "", "Reserve to hold at the start of the season, in your money")
    reserve_own_luck: float = quantity("number", "", "What would do if every job had its own luck")
    mean: float = quantity("number", "", "What the season earns on average")
    ruin_without: float = quantity("fraction", "%", "Chance of falling below nothing with no reserve at all")


def _reserve(given: ReserveInputs) -> Outcome:
    from borewright.errors import OutOfDomain

    if given.jobs != int(given.jobs):
        raise OutOfDomain("jobs", given.jobs, "is not a whole number", "how many jobs")
    jobs, same = int(given.jobs), {"chance_dry": given.chance_dry, "profit": given.profit, "loss": given.loss}
    mean = jobs * ((1 - given.chance_dry) * given.profit - given.chance_dry * given.loss)
    doubts = () if mean > 0 else (Advisory("below-cost", "danger", "On average the season loses money: no reserve mends that, only another price."),)
    return Outcome(ReserveResults(
        reserve=pricing.reserve_of_promises(jobs=jobs, correlation=given.shared_luck, ruin_allowed=given.ruin_allowed, **same),
        reserve_own_luck=pricing.reserve_of_promises(jobs=jobs, correlation=0.0, ruin_allowed=given.ruin_allowed, **same),
        mean=mean, ruin_without=pricing.ruin_chance(jobs=jobs, correlation=given.shared_luck, reserve=0.0, **same)), doubts)


declare(Calculation(
    name="season-reserve", title="Reserve for a season of promises", stage="pricing",
    about="The money to hold so that a run of dry holes does not end the firm, when the jobs of a district share its luck.",
    inputs=ReserveInputs, results=ReserveResults, compute=_reserve,
    source=("Random walk with an absorbing barrier, followed exactly; one common factor by Gauss-Hermite quadrature",
            "Gambler's ruin: Feller 1968, An Introduction to Probability Theory, vol. 1, chapter XIV (from memory)"),
    limits=("Every job alike, a profit or a loss; the season of a quote uses its whole spread.", "Shared luck of 30 % is our own choice until your ledger says."),
    cautions=(INSURANCE,),
))


class LedgerInputs(BenchModel):
    jobs: float = quantity("number", "", "Finished jobs", at_least=1, at_most=10000, example="20")
    dry: float = quantity("number", "", "Of those, dry", at_least=0, at_most=10000, example="8")
    odds: float = quantity("fraction", "%", "Odds of water told beforehand, the same for each", at_least=0, at_most=1, example="70 %")


class LedgerResults(BenchModel):
    expected: float = quantity("number", "", "Dry holes expected at those odds")
    as_many: float = quantity("fraction", "%", "Chance of so many or more if the odds were right")
    as_few: float = quantity("fraction", "%", "Chance of so few or fewer if the odds were right")


def _ledger(given: LedgerInputs) -> Outcome:
    from borewright.errors import OutOfDomain

    for name in ("jobs", "dry"):
        if getattr(given, name) != int(getattr(given, name)):
            raise OutOfDomain(name, getattr(given, name), "is not a whole number", "how many")
    if given.dry > given.jobs:
        raise OutOfDomain("dry", given.dry, "is more than the jobs", "at most the number of jobs")
    jobs, dry = int(given.jobs), int(given.dry)
    book = pricing.dry_hole_ledger([given.odds] * jobs, [True] * (jobs - dry) + [False] * dry)
    return Outcome(
        LedgerResults(expected=book.dry_expected, as_many=book.chance_as_many_or_more_dry, as_few=min(book.chance_as_few_or_fewer_dry, 1.0)),
        (Advisory("ledger", "note", book.sentence),))


declare(Calculation(
    name="dry-hole-luck", title="Bad luck or bad odds", stage="pricing",
    about="Whether so many dry holes are within ordinary luck at the odds that were told.",
    inputs=LedgerInputs, results=LedgerResults, compute=_ledger,
    source=("Binomial distribution; check: 8 or more dry of 20 at 70 % has chance 0.2277 (tables of the binomial, 1 - 0.7723)",),
    limits=("Jobs are taken as independent; a bad year shared by all looks more alarming here than it is.",),
))
