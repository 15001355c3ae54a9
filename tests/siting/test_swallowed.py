"""Quotation marks that pair but take in whole lines are told; notes of several lines are read."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.siting import read_register
from borewright.siting.load import preview
from borewright.siting.swallowed import lines_swallowed

HEAD = "bore_id,lon,lat,depth_m,notes,yield_lps"


def row(i, note="sound"):
    return f"B{i},10.{i},50.{i},4{i},{note},0.{i}"


def load(tmp_path, rows, head=HEAD, line_end="\n", separator=","):
    path = tmp_path / "b.csv"
    path.write_bytes((line_end.join([head, *rows, ""])).replace(",", separator).encode())
    return path, *read_register(path, name="x")


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_mark_closed_by_another_lines_mark_is_refused_with_the_lines_it_took(tmp_path, line_end, separator):
    rows = [row(1), row(2, '"6 in'), row(3), row(4, 'casing"'), row(5)]
    path, register, report = load(tmp_path, rows, line_end=line_end, separator=separator)
    assert register.bore_id.tolist() == ["B1", "B5"]
    assert [(r.row, r.bore_id, r.field) for r in report.refused] == [(2, "B2", "bore_id")] and "column notes" in report.refused[0].problem
    assert any("take in 2 lines" in doubt.message for doubt in report.advisories)
    told = preview(path)
    assert [shown.refused is None for shown in told.rows] == [True, False, True] and any("take in 2 lines" in doubt.message for doubt in told.advisories)


def test_a_mark_closed_in_the_name_of_the_next_row(tmp_path):
    """Else the first bore is taken with the longitude of the second for its yield."""
    _, register, report = load(tmp_path, [row(1, '"6 in'), 'B2",10.2,50.2,42,sound,0.2', row(3)])
    assert register.bore_id.tolist() == ["B3"] and [r.row for r in report.refused] == [1]


def test_a_mark_in_the_last_column(tmp_path):
    head = "bore_id,lon,lat,depth_m,yield_lps,notes"
    rows = [f"B{i},10.{i},50.{i},4{i},0.{i},{note}" for i, note in enumerate(["sound", '"6 in', "sound", 'casing"', "sound"])]
    _, register, report = load(tmp_path, rows, head)
    assert register.bore_id.tolist() == ["B0", "B4"] and len(report.refused) == 1


@pytest.mark.parametrize("note", [
    "struck at 20 m, 30 m, and 45 m\nclay, sand, gravel", "cased, 6 in\nscreened, 12 m", "1, 2, 3, dry\n4, 5, 6, dry", "first\nsecond\nthird", "a,b\nc,d\ne,f,g,h,i", "0,clay,5\n5,sand,12", "\n,,,",
    "moved 12.5,north\nof the old one",
])
def test_notes_of_several_lines_are_read(tmp_path, note):
    _, register, report = load(tmp_path, [row(1), row(2, f'"{note}"'), row(3)])
    assert len(register) == 3 and not report.refused and not report.advisories


def test_strikes_and_logs_are_looked_at_too(tmp_path):
    bores = tmp_path / "b.csv"
    bores.write_text("\n".join([HEAD, *(row(i) for i in range(1, 4)), ""]))
    (tmp_path / "s.csv").write_text('bore_id,notes,depth_m,yield_lps\nB1,"clear,20,0.2\nB2,sand",21,0.3\nB3,,22,0.1\n')
    _, report = read_register(bores, name="x", strikes=tmp_path / "s.csv")
    assert report.strikes == 1 and [(r.file, r.row) for r in report.refused] == [("s.csv", 1)]


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_whatever_whole_lines_a_field_takes_in_are_counted(data):
    """Any rows with two numbers each at least, opened in any column and closed in the same some rows below."""
    width = data.draw(st.integers(4, 9))
    numbers = data.draw(st.sets(st.integers(0, width - 1), min_size=2))
    column = data.draw(st.integers(0, width - 1).filter(lambda at: len(numbers - {at}) >= 2))
    count = data.draw(st.integers(1, 4))
    number = st.one_of(st.integers(-999, 999).map(str), st.floats(-180, 180).map(lambda v: f"{v:.6f}"))
    cell = lambda at: data.draw(number if at in numbers else st.sampled_from(["", "clay", "B 7", "1999-05-06"]))
    rows = [[cell(at) for at in range(width)] for _ in range(count + 1)]
    opened = ",".join(rows[0]).split(",", column)[-1]
    closed = ",".join(rows[-1][: column + 1])
    text = "\n".join([opened, *(",".join(each) for each in rows[1:-1]), closed])
    assert lines_swallowed(text, column, width=width, numbers=numbers, separator=",") == count


@settings(max_examples=200, deadline=None)
@given(st.lists(st.text("abc ,.;'", min_size=1), min_size=2, max_size=5), st.integers(0, 5))
def test_prose_is_never_taken_for_rows(lines, column):
    assert lines_swallowed("\n".join(lines), column, width=6, numbers={1, 2, 3, 5}, separator=",") == 0
