"""What a quote kept as plain JSON types still holds for reckoning: its terms for a season, its gain and its loss."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from borewright.errors import BadInput
from borewright.pricing.contract import Contract
from borewright.pricing.tables import HoleForm

__all__ = ["KeptQuote", "Stake", "kept_quote", "mean_stake", "stake_of"]


@dataclass(frozen=True, slots=True)
class KeptQuote:
    """The parts of a quote that `season_of_quote` reads, as they were when it was issued."""

    need: float
    maximum_depth: float
    distance: float
    contract: Contract
    form: HoleForm
    rule: str
    seed: int
    table: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stake:
    """One job as a wager: chance that the need is not met, mean profit when it is met, mean loss when it is not [minor units]."""

    chance_dry: float
    gain: float
    loss: float


def kept_quote(content: Mapping[str, Any]) -> KeptQuote:
    """Return a quote as `quote_as_dict` gave it, ready for `season_of_quote`; raise BadInput where a part is missing."""
    for name in KeptQuote.__dataclass_fields__:
        if name not in content:
            raise BadInput(name, None, "is missing from the quote", "a quote as this program issues it")
    return KeptQuote(**{name: content[name] for name in ("need", "maximum_depth", "distance", "rule", "seed", "table")},
                     contract=Contract(**content["contract"]), form=HoleForm(**content["form"]))


def stake_of(content: Mapping[str, Any]) -> Stake:
    """Return what a quote puts at stake under the rule that was agreed.

    The mean profit is the chance of water times the gain less the chance of none times the loss, so the gain follows from the three.
    A loss below zero is a dry hole that still earns.
    """
    agreed = content["agreed_rule"]
    met = float(agreed["chance_found"])
    loss = float(agreed["loss_when_dry"])
    return Stake(1.0 - met, (float(agreed["profit"]) + (1.0 - met) * loss) / met if met > 0 else 0.0, loss)


def mean_stake(stakes: Sequence[Stake]) -> Stake:
    """Return the like job that stands for a mixture of jobs: gains weighed by the chance of water, losses by the chance of none."""
    if not stakes:
        raise BadInput("quotes", 0, "are none", "one quote or more")
    dry = sum(s.chance_dry for s in stakes)
    met = len(stakes) - dry
    return Stake(dry / len(stakes), sum((1.0 - s.chance_dry) * s.gain for s in stakes) / met if met > 0 else 0.0, sum(s.chance_dry * s.loss for s in stakes) / dry if dry > 0 else 0.0)
