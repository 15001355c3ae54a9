"""The season: what the open quotes could take from the firm, how the odds told have come true, and the pace learned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from borewright.errors import BorewrightError
from borewright.record.fold import Job
from borewright.work.learning import Told, time_model, told_and_found

if TYPE_CHECKING:
    from borewright.pricing import Ledger, Season, Stake, TimeModel
    from borewright.siting import PickRecord

__all__ = ["Outlook", "QuoteSeason", "outlook", "quotes_at_stake"]

MOST = 12  # quotes whose seasons are simulated; the mixture counts them all


@dataclass(frozen=True, slots=True)
class QuoteSeason:
    """A season of jobs like one quote's; `trouble` says why there is none."""

    job: Job
    stake: Stake
    season: Season | None
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Outlook:
    """Everything the season page shows; money in minor units by currency.

    `mixtures` holds {"currency", "quotes", "stake", "reserve"}: the reserve when the outcomes of a season of such jobs share their luck;
    None where no dry hole loses money.
    """

    open: bool
    quotes: tuple[QuoteSeason, ...]
    left_out: int
    mixtures: tuple[dict[str, Any], ...]
    told: tuple[Told, ...]
    ledger: Ledger | None
    picks: tuple[PickRecord, ...]
    pace: TimeModel


def quotes_at_stake(jobs: Sequence[Job], today: date) -> tuple[list[Job], bool]:
    """Return the jobs with an open quote or promise not yet drilled out, and True; where there is none, every quoted job, and False.

    A quote is open until it runs out unanswered; once accepted it stays at stake until the hole is finished.
    """
    quoted = [job for job in jobs if job.quote is not None and job.quote.body.content.get("rate_card") and job.quote.body.content.get("agreed_rule")]
    standing = [job for job in quoted if job.outcome == "open" and (job.accepted is not None or not job.quote.body.valid_until or job.quote.body.valid_until >= today.isoformat())]
    return (standing, True) if standing else (quoted, False)


def outlook(
    jobs: Sequence[Job], *, season_jobs: int, correlation: float, ruin_allowed: float, today: date, seasons: int = 2000,
    progress: Callable[[float, str], None] | None = None,
) -> Outlook:
    """Return the season of the open quotes, the ledger of the odds told, the ways of picking and the pace learned.

    Raises
    ------
    BadInput
        Jobs, correlation or ruin that no season can have.
    """
    from borewright.pricing import dry_hole_ledger, mean_stake, ruin_chance, stake_of
    from borewright.siting import pick_record

    say = progress or (lambda done, doing: None)
    # Refuses what cannot be before any long work.
    ruin_chance(jobs=season_jobs, chance_dry=0.5, profit=1.0, loss=1.0, reserve=0.0, correlation=correlation)
    pace = time_model(jobs)
    mine, standing = quotes_at_stake(jobs, today)
    shown = mine[-MOST:]
    rows = []
    for n, job in enumerate(shown):
        say(n / (len(shown) + 1), f"a season of jobs like {job.quote.body.number}")
        rows.append(_season_of(job, pace, season_jobs, correlation, ruin_allowed, seasons))
    say(len(shown) / (len(shown) + 1), "the mixture of them")
    mixtures = []
    for currency in sorted({job.quote.body.content["currency"] for job in mine}):
        stakes = [stake_of(job.quote.body.content) for job in mine if job.quote.body.content["currency"] == currency]
        stake = mean_stake(stakes)
        mixtures.append({"currency": currency, "quotes": len(stakes), "stake": stake, "reserve": _reserve(stake, season_jobs, correlation, ruin_allowed)})
    told = told_and_found(jobs)
    return Outlook(
        open=standing, quotes=tuple(rows), left_out=len(mine) - len(shown), mixtures=tuple(mixtures), told=tuple(told),
        ledger=dry_hole_ledger([t.odds for t in told], [t.found for t in told]) if told else None,
        picks=pick_record([t.way_of_picking for t in told], [t.odds for t in told], [t.found for t in told]), pace=pace,
    )


def _reserve(stake: Stake, jobs: int, correlation: float, ruin_allowed: float) -> float | None:
    from borewright.pricing import reserve_of_promises

    if stake.loss <= 0 or stake.gain <= 0 or not 0 < stake.chance_dry < 1:
        return None
    return reserve_of_promises(jobs=jobs, chance_dry=stake.chance_dry, profit=stake.gain, loss=stake.loss, correlation=correlation, ruin_allowed=ruin_allowed)


def _season_of(job: Job, pace: TimeModel, jobs: int, correlation: float, ruin_allowed: float, seasons: int) -> QuoteSeason:
    from borewright.pricing import card_from_dict, kept_quote, season_of_quote, stake_of
    from borewright.siting import column_from_dict, prospect_from_dict
    from borewright.work.facts import last_ground_answer

    content = job.quote.body.content
    stake = stake_of(content)
    try:
        answer = last_ground_answer(job)
        made = season_of_quote(
            prospect_from_dict(answer["prospect"]), column_from_dict(answer["column"]), card_from_dict(content["rate_card"]), kept_quote(content), time=pace,
            jobs=jobs, seasons=min(seasons, 2_000_000 // jobs), correlation=correlation, ruin_allowed=ruin_allowed,
        )
    except BorewrightError as error:
        return QuoteSeason(job, stake, None, str(error))
    return QuoteSeason(job, stake, made)
