"""The quick ways of loading give what the plain ways they stand for give: order, repeats, numbers, words, medians of neighbours."""

import threading

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.siting import doubts, sheets
from borewright.siting.columns import CANONICAL
from borewright.siting.load import _among, _at_one_place, _repeats, _same_again
from borewright.siting.register import Register, _order, _within, by_size
from borewright.siting.sheets import Sheet, each_of_few
from borewright.siting.texts import Texts
from borewright.threads import beside

# Few values, so that many are the same, and many a hair apart, so that whole steps do not part them.
CLOSE = st.sampled_from([0.0, -0.0, 1.0, 1.0 + 2e-16, 1.0 + 4e-16, 1.0 - 1e-16, 2.5, -180.0, 180.0, 1e-300, 4.9e-324])
FAR = st.floats(-180, 180)
VALUES = st.one_of(st.lists(CLOSE, max_size=40), st.lists(FAR, max_size=40), st.lists(st.one_of(CLOSE, FAR), max_size=40))
FLOWS = st.sampled_from([np.nan, 0.0, 1e-3, 2e-3])


@settings(max_examples=300, deadline=None)
@given(VALUES)
def test_rows_by_size(values):
    values = np.array(values, float)
    order, sized = by_size(values)
    assert sorted(order.tolist()) == list(range(len(values)))
    np.testing.assert_array_equal(values[order], np.sort(values))
    assert sized.tobytes() == values[order].tobytes()


def test_many_rows_by_size_are_those_of_the_plain_way():
    """More than are worked on at once, and not a whole number of times as many."""
    values = np.random.default_rng(1).uniform(-180, 180, 3 * 65_536 + 17).round(4)
    order, sized = by_size(values)
    np.testing.assert_array_equal(sized, np.sort(values))
    np.testing.assert_array_equal(values[order], sized)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4), st.one_of(CLOSE, FAR)), max_size=40))
def test_rows_by_size_within_their_groups(told):
    """Groups stand together; each stays where it is and is sorted in itself."""
    groups = np.sort(np.array([group for group, _ in told], float))
    values = np.array([value for _, value in told], float)
    rows = np.random.default_rng(len(told)).permutation(len(told)) + 100
    found = _within(rows, groups, values)
    where = {row: i for i, row in enumerate(rows.tolist())}
    at = np.array([where[row] for row in found.tolist()], int)
    assert sorted(at.tolist()) == list(range(len(told)))
    np.testing.assert_array_equal(groups[at], groups)
    plain = np.lexsort((values, groups))
    np.testing.assert_array_equal(values[at], values[plain])


BORES = st.lists(st.tuples(st.one_of(CLOSE, FAR), CLOSE, st.sampled_from([10.0, 20.0]), FLOWS, st.sampled_from(["A", "B", "", "Ä"])), max_size=40)


@settings(max_examples=300, deadline=None)
@given(BORES, st.booleans())
def test_order_is_the_plain_sort_by_all_keys(told, known):
    """Longitude, latitude, depth, yield (none first), name, row: with the rows by longitude known before or not."""
    lon, lat, depth, flow = (np.array([bore[i] for bore in told], float) for i in range(4))
    names = [bore[4] for bore in told]
    plain = sorted(range(len(told)), key=lambda i: (lon[i], lat[i], depth[i], -1.0 if np.isnan(flow[i]) else flow[i], names[i], i))
    by_lon = by_size(lon)
    order, ties = _order(by_lon, lat, depth, flow, Texts(names))
    assert order.tolist() == plain
    assert set(np.flatnonzero(order != by_lon[0])) <= set(ties.tolist())
    register = Register.of("x", lon=lon, lat=lat, depth=depth, flow=flow, bore_id=names, by_lon=by_size(lon) if known else None)
    assert register.bore_id.tolist() == [names[i] for i in plain] and all(getattr(register, what).tobytes() == values[plain].tobytes() for what, values in
                                                                                   (("lon", lon), ("lat", lat), ("depth", depth), ("flow", flow)))  # to the sign of a zero


PLACES = st.sampled_from([0.0, -0.0, 10.0, 10.0 + 4e-7, 10.0 + 6e-7, 10.000001, 10.0000015, -10.0, 50.0])


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(PLACES, PLACES, st.sampled_from([10.0, 20.0]), FLOWS, st.sampled_from(["", "1999-01-01"]), st.booleans()), max_size=30))
def test_same_place_depth_yield_and_date_are_found_among_live_rows(told):
    lon, lat, depth, flow = (np.array([bore[i] for bore in told], float) for i in range(4))
    dates = pl.Series([bore[4] for bore in told], dtype=pl.String)
    live = np.array([bore[5] for bore in told], bool)
    seen, plain = set(), []
    for i in range(len(told)):
        key = (round(lon[i] * 1e6), round(lat[i] * 1e6), depth[i], -1.0 if np.isnan(flow[i]) else flow[i], dates[i])
        plain.append(bool(live[i]) and key in seen)
        if live[i]:
            seen.add(key)
    alike = _at_one_place(*by_size(lon), lat)
    assert _same_again(alike[live[alike]], lon, lat, depth, flow, dates).tolist() == plain
    rows, longitudes = _among(by_size(lon), live)
    alike = _at_one_place(rows, longitudes, lat)  # only live rows looked at from the first
    assert _same_again(alike, lon, lat, depth, flow, dates).tolist() == plain


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(["A", "B", "", "Ä", "a name that is longer than twelve bytes"]), max_size=12), st.integers(1, 12))
def test_repeats_and_words_of_a_column_in_several_parts(words, cut):
    column = pl.concat([pl.Series(words[:cut], dtype=pl.String), pl.Series(words[cut:], dtype=pl.String)], rechunk=False)
    assert _repeats(column).tolist() == [word in words[:i] for i, word in enumerate(words)]
    few = each_of_few(column)
    assert {word: rows.to_list() for word, rows in few.items()} == {word: [other == word for other in words] for word in set(words)}


def test_words_that_are_many_or_met_late_are_not_few():
    assert each_of_few(pl.Series([f"s{i}" for i in range(9)])) is None
    assert each_of_few(pl.Series(["wet"] * 1000 + ["late"])) is None
    assert set(each_of_few(pl.Series(["wet", "dry"] * 600))) == {"wet", "dry"}


@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(st.sampled_from([None, 1.5, -3.0, 0.0, -0.0, float("nan"), float("inf"), float("-inf")]), max_size=5), min_size=1, max_size=4), st.booleans())
def test_numbers_of_a_column_in_several_parts(parts, in_feet):
    told = [value for part in parts for value in part]
    frame = pl.DataFrame({"d": pl.concat([pl.Series(part, dtype=pl.Float64) for part in parts], rechunk=False)})
    factor = 0.3048 if in_feet else 1.0
    sheet = Sheet("f", frame, {"depth": sheets.Column(("d",), factor)}, ".")
    found = sheet.number("depth", bad="a depth")
    finite = [value for value in told if value is not None and np.isfinite(value)]
    np.testing.assert_array_equal(found.values, [value * factor if value is not None and np.isfinite(value) else np.nan for value in told])
    assert found.wrong.tolist() == [value in (float("inf"), float("-inf")) for value in told] == (sheet.reason >= 0).tolist()
    assert (found.least, found.greatest) == (min(finite, default=np.inf) * factor, max(finite, default=-np.inf) * factor)
    assert found.blanks == (len(finite) < len(told))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(["A", " A", "A\t", "\u00a0A", "A\u3000", "", " ", "\x1fA"]), max_size=12))
def test_words_are_stripped_whether_few_or_many(words):
    frame = pl.DataFrame({"bore_id": pl.Series(words, dtype=pl.String)})
    assert Sheet("f", frame, CANONICAL.bores, ".").text("bore_id").to_list() == frame["bore_id"].str.strip_chars().to_list()


def plain_gaps(lat, values):
    """Return the logarithm of each value less the median of its group, one group after the other."""
    n = len(lat)
    long = int(np.ceil(n / max(1, round(np.sqrt(n / 16))) / 16)) * 16
    logs = np.array([np.log(v) if v > 0 else np.nan for v in values])
    out = np.full(n, np.nan)
    for begin in range(0, n, long):
        rows = np.arange(begin, min(begin + long, n))
        rows = rows[np.argsort(lat[rows], kind="stable")]
        rows = np.append(rows, np.full(-len(rows) % 16, rows[-1]))
        for group in rows.reshape(-1, 16):
            told = logs[group][np.isfinite(logs[group])]
            out[group] = logs[group] - np.median(told.astype(np.float32)) if len(told) >= 7 else np.nan
    return out


@pytest.mark.parametrize(("count", "at_hand"), [(1600, 65_536), (1600, 200), (4096, 1000), (2304, 1)])
def test_medians_of_groups_of_neighbours(monkeypatch, count, at_hand):
    """Whole strips, so that no row is repeated to fill one; as many strips at once as are at hand."""
    monkeypatch.setattr(doubts, "_AT_HAND", at_hand)
    rng = np.random.default_rng(count)
    lat = rng.permutation(np.linspace(-40, -30, count))
    depth, flow = np.exp(rng.normal(4, 1, count)), np.where(rng.random(count) < 0.5, rng.choice([0.0, np.nan], count), np.exp(rng.normal(-7, 1, count)))
    found = doubts._gaps_in_groups(lat, (depth, flow))
    for values, gaps in zip((depth, flow), found, strict=True):
        np.testing.assert_allclose(np.where(np.isfinite(gaps), gaps, np.nan), plain_gaps(lat, values), atol=1e-6)
    assert np.isfinite(found[1]).sum() > 100


@pytest.mark.parametrize("count", [41, 1000, 1601, 5003])
def test_every_bore_has_a_group_whatever_their_number(count):
    rng = np.random.default_rng(count)
    gaps, = doubts._gaps_in_groups(rng.uniform(-40, -30, count), (np.full(count, 50.0),))
    assert np.abs(gaps).max() < 1e-6


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9))
def test_median(values):
    assert doubts._median(np.array(values)) == np.median(values)


def test_work_beside_other_work_returns_or_raises():
    assert beside(threading.get_ident).result() != threading.get_ident()
    with pytest.raises(ZeroDivisionError):
        beside(lambda: 1 // 0).result()
