"""The living section and every chart, as SVG text: one drawing for the page and for paper.

What others call::

    section_of(job, *, hole=None, expected=None, design=None, policy_table=None) -> Section     plain data of the hole as it stands
    living_section(section, *, width, height, medium="page" | "paper", units="metric", margins=False) -> str     the SVG
    charts.odds_chart, charts.drawdown_chart, charts.recovery_chart, charts.rating_chart, charts.pump_chart, charts.trilinear_chart,
    charts.margins_chart (each plain numbers in, SVG text out)
    testcharts.residual_chart, testcharts.settling_chart, testcharts.yield_chart: the same, beside a pumping test
    font_folder() -> Path     the fonts that the drawings are measured with; a page that serves them shows what the paper shows

On a page the root carries data-ground-y and data-scale (pixels per metre): depth = (y - data-ground-y) / data-scale; what can be tapped carries data-depth.
"""

from borewright.drawing.living import living_section
from borewright.drawing.patterns import pattern_of
from borewright.drawing.section import Section, section_of
from borewright.drawing.text import font_folder

__all__ = ["Section", "font_folder", "living_section", "pattern_of", "section_of"]
