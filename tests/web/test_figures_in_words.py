"""Figures that pages work out beside an answer are written as figures, never as a computer's powers."""

from borewright.web.testwords import figure_words, shown_derived


def test_what_follows_from_a_fit_is_a_figure_with_its_unit():
    assert shown_derived({"derived": {"boundary_from_pumped_bore_about_m": 1463.2, "area_m2": 12}}) == [("Boundary from pumped bore about", "1463 m"), ("Area", "12 m²")]
    assert shown_derived({}) == []


def test_small_and_large_figures():
    assert [figure_words(v) for v in (0, 0.00123, 2.1e-5, 326744.0, 3.28e9)] == ["0", "0.00123", "2.1 × 10⁻⁵", "326744", "3.28 × 10⁹"]


def test_no_template_leaves_a_figure_to_the_computers_powers():
    import re
    from pathlib import Path

    import borewright.web

    left = [(p.name, m) for p in (Path(borewright.web.__file__).parent / "templates").glob("*.html") for m in re.findall(r'"%\.[34]g[^"]*" \| format\([^)]*\)', p.read_text(encoding="utf-8"))]
    assert [one for one in left if "conductor_area" not in one[1]] == []
