"""How bores end: the rod that is finished below the strike that made enough is learned, not taken as given."""

import numpy as np
import pytest

from borewright.siting.habits import ROD, Ended, Endings, at_bottom, fit_habit


def _ended(rod: float, *, seen: bool, count: int = 500, noise: float = 0.0) -> Ended:
    """INVENTED: bores of one strike, of which half of those with enough went on to the end of the rod, the others to a planned depth."""
    rng = np.random.default_rng(3)
    log_total = -8.0 + rng.standard_normal(count)
    stopped = log_total > -8.3 + 0.5 * rng.logistic(size=count)
    gap = np.where(stopped, rng.uniform(0.0, rod, count), rng.uniform(0.0, 60.0, count)) + noise * rng.standard_normal(count)
    depth = 30.0 + 40.0 * rng.random(count) + gap
    shares = np.zeros((8, count))
    shares[0] = 1.0
    return Ended(depth, log_total, np.full(count, seen), np.full(count, -np.inf), gap, 0.5 * np.ones(count), np.full(count, 0.02), shares)


@pytest.mark.parametrize("seen", [True, False])
@pytest.mark.parametrize("rod", [1.5, 3.0, 6.0, 9.0])
def test_rod_is_learned_from_where_bores_end(rod, seen):
    ended = _ended(rod, seen=seen)
    habit, stopped = fit_habit(ended, np.full(40, 80.0), Endings(1.0, -8.0))
    assert habit.rod == rod
    assert habit.log_need == pytest.approx(-8.3, abs=0.4)
    assert stopped[ended.gap > rod + 1.0].mean() < 0.2 and stopped[(ended.gap < rod) & (ended.log_total > -7.5)].mean() > 0.8


def test_depths_noted_carelessly_do_not_hide_who_stopped_for_water():
    habit, stopped = fit_habit(_ended(3.0, seen=False, noise=1.0), np.full(40, 80.0), Endings(1.0, -8.0))
    assert 3.0 <= habit.rod <= 4.5
    assert habit.log_need == pytest.approx(-8.3, abs=0.4)


def test_without_a_depth_of_water_the_rod_is_the_usual_one():
    ended = _ended(6.0, seen=False)
    habit, _ = fit_habit(Ended(ended.depth, ended.log_total, ended.seen, ended.log_before, ended.depth, np.full(500, np.nan), ended.bottom, ended.shares),
                         np.full(40, 80.0), Endings(1.0, -8.0))
    assert habit.rod == ROD


def test_last_of_several_strikes_at_the_bottom_against_chance():
    # Strikes fall evenly over 50 m; of those with the first in the upper half, which have their last in the bottom 3 m?
    rng = np.random.default_rng(4)
    for k in (2, 3, 5):
        at = np.sort(50.0 * rng.random((400_000, k)), axis=1)
        first = np.abs(at[:, 0] - 10.0) < 0.25
        found = (at[first, -1] > 47.0).mean() / 3.0
        last, anyhow = at_bottom(np.array([[k]]), np.array([40.0]), np.array([0.2]), np.array([0.02]), 3.0)
        # A strike in the bottom metres is counted as often as there are strikes there: a little more than the last alone.
        assert (last / anyhow)[0, 0] == pytest.approx(found, rel=0.12)
