"""Casing strength against published tables and handbook formulas, and the laws any such figure must obey."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.bench.declare import answer
from borewright.construction import (
    buckling_load,
    burst_resistance,
    casing_of,
    collapse_resistance,
    encased_collapse,
    ovality_factor,
    pipe_area,
    plastic_burst,
    plastic_collapse,
    read_catalogue,
    reduced_yield,
    self_buckling_length,
    standard_catalogue,
    steel_burst,
    steel_collapse,
    steel_collapse_limits,
    steel_collapse_regime,
)
from borewright.errors import BadInput

from .conftest import rows

PSI = 6894.757293168361
INCH = 0.0254
MISPRINT = {("SCH 40", "4")}  # COMAR prints 400 ft where every other row asks 365: named in the file's own note


def pvc_rows():
    return [r for r in rows("pvc_collapse_depth_limits") if (r["class"], r["nominal_in"]) not in MISPRINT]


@pytest.mark.parametrize("row", pvc_rows(), ids=lambda r: f"{r['class']} {r['nominal_in']}")
def test_pvc_collapse_against_the_maryland_depth_limits(row):
    # COMAR 26.04.04.17 Table 1, read: depth limit in feet of water over 2.31 ft/psi.
    ratio = float(row["od_in"]) / float(row["min_wall_in"]) if row["od_in"] else float(row["sdr"])
    resistance = plastic_collapse(1.0, 1.0 / ratio, modulus=400e3 * PSI, poisson=0.36)
    assert resistance / PSI == pytest.approx(float(row["depth_limit_ft"]) / 2.31, rel=0.016)


def test_the_quoted_form_never_lies_above_ours():
    # ASTM F480 as quoted, 2E / ((1 - v^2) DR (DR - 1)^2): on the safe side of the published limits.
    for row in pvc_rows():
        ratio = float(row["sdr"])
        quoted = 2 * 400e3 / ((1 - 0.33**2) * ratio * (ratio - 1) ** 2)
        assert quoted < plastic_collapse(1.0, 1 / ratio, modulus=400e3, poisson=0.36)


def test_the_catalogue_gives_the_published_limits_for_its_pvc():
    for row in pvc_rows():
        if row["class"].startswith("SCH"):
            casing = casing_of(standard_catalogue(), "PVC-U", float(row["od_in"]) * INCH, float(row["min_wall_in"]) * INCH)
            assert collapse_resistance(casing, temperature=23.0, ovality=0.0) / PSI == pytest.approx(float(row["published_psi"]), rel=0.017)


@pytest.mark.parametrize("q, share", [(0.01, 0.91), (0.02, 0.84), (0.03, 0.76), (0.05, 0.64), (0.10, 0.41)])
def test_ovality_against_astm_f1216(q, share):  # from memory
    assert ovality_factor(q) == pytest.approx(share, abs=0.005)


def test_warm_pvc_keeps_the_published_share_of_its_modulus():
    casing = standard_catalogue().casing("PVC-U metric 140.2 mm DR 17")
    cold = collapse_resistance(casing, temperature=23.0)
    table = [r for r in rows("pvc_collapse_constants") if r["item"].startswith("modulus factor")]
    assert len(table) == 6
    for row in table:  # Uni-Bell, from memory
        celsius = (float(row["condition"].split()[0]) - 32) / 1.8
        assert collapse_resistance(casing, temperature=celsius) / cold == pytest.approx(float(row["value"]), abs=0.002)


def test_warm_pvc_keeps_the_published_share_of_its_pressure_rating():
    casing = standard_catalogue().casing("PVC-U metric 140.2 mm DR 17")
    cold = burst_resistance(casing, temperature=20.0)
    table = [r for r in rows("pvc_collapse_constants") if r["item"] == "pressure-rating factor"]
    for row in table:  # read
        celsius = (float(row["condition"].split()[0]) - 32) / 1.8
        assert burst_resistance(casing, temperature=celsius) / cold == pytest.approx(float(row["value"]), abs=0.005)


@pytest.mark.parametrize("ratio, rating", [(26, 160), (21, 200), (17, 250), (13.5, 315)])
def test_pvc_pressure_ratings_by_ratio(ratio, rating):
    # ASTM D2241 ratings of PVC 1120, from memory; printed to 5 psi.
    assert plastic_burst(1.0, 1 / ratio, hoop_stress=2000.0) == pytest.approx(rating, abs=5)


@pytest.mark.parametrize("row", rows("steel_casing_collapse_api"), ids=lambda r: f"{r['od_in']} in {r['weight_lb_ft']} {r['grade']}")
def test_steel_collapse_against_api_5c2(row):
    # 4.5 in rows read, the rest from memory; printed to the nearest 10 psi.
    pipe, stress = (float(row["od_in"]) * INCH, float(row["wall_in"]) * INCH), float(row["yield_psi"]) * PSI
    assert steel_collapse(*pipe, yield_stress=stress) / PSI == pytest.approx(float(row["published_collapse_psi"]), abs=6)
    assert steel_collapse_regime(*pipe, yield_stress=stress) == row["regime"]


def test_steel_coefficients_against_api_5c3():
    table = [r for r in rows("steel_casing_api_coefficients") if r["status"] == "from memory"]
    names = {"D/t_yield_plastic": "yield_plastic", "D/t_plastic_transition": "plastic_transition", "D/t_transition_elastic": "transition_elastic"}
    assert len(table) == 24
    for row in table:
        found = steel_collapse_limits(float(row["yield_psi"]) * PSI)[names.get(row["quantity"], row["quantity"])]
        digits = len(row["published"].partition(".")[2])
        assert found == pytest.approx(float(row["published"]), abs=0.51 * 10**-digits)


def test_the_article_with_wrong_limits_is_not_followed():
    limits = steel_collapse_limits(110e3 * PSI)
    assert limits["yield_plastic"] == pytest.approx(12.44, abs=0.005) and abs(limits["yield_plastic"] - 13.85) > 1


def test_half_a_perfect_ring_stays_below_the_enhancement_of_astm_f1216():
    # ASTM F1216 lets a pipe held by its surroundings carry 7 times its free collapse pressure (from memory); Glock's ring, halved, gives less.
    for ratio in (13.5, 17, 21, 26, 32, 41, 60):
        free = plastic_collapse(1.0, 1 / ratio, modulus=1e9, poisson=0.36)
        held = 0.5 * encased_collapse(1.0, 1 / ratio, modulus=1e9, poisson=0.36)
        assert free < held < 7 * free


def test_regimes_meet_without_a_step():
    for stress in np.array([35e3, 40e3, 55e3, 80e3, 110e3]) * PSI:
        limits = steel_collapse_limits(stress)
        for edge in ("yield_plastic", "plastic_transition", "transition_elastic"):
            below, above = (steel_collapse(1.0, 1 / (limits[edge] * s), yield_stress=stress) for s in (1 - 1e-9, 1 + 1e-9))
            assert below == pytest.approx(above, rel=1e-6)


def test_steel_burst_against_api_5c2():
    # 4.5 in 9.5 lb/ft J-55: 4380 psi; 7 in 20 lb/ft J-55: 3740 psi (API Bulletin 5C2, from memory; printed to 10 psi).
    assert steel_burst(4.5, 0.205, yield_stress=55e3) == pytest.approx(4380, abs=6)
    assert steel_burst(7.0, 0.272, yield_stress=55e3) == pytest.approx(3740, abs=6)


def test_reduced_yield_is_the_yield_ellipse():
    # Equal to von Mises with no inside pressure: S^2 + S T + T^2 = Y^2 for hoop compression T and tension S.
    for share in (0.1, 0.4, 0.9):
        left = reduced_yield(1.0, axial_stress=share)
        assert share**2 + share * left + left**2 == pytest.approx(1.0, rel=1e-12)
    assert reduced_yield(5e8, axial_stress=-1e8) == 5e8


def test_column_formulas_by_another_road():
    # Euler's load and the self-buckling length against finite differences of the beam equation.
    outside, wall, modulus, length, n = 0.14, 0.0065, 2.8e9, 6.0, 400
    stiffness = modulus * math.pi / 64 * (outside**4 - (outside - 2 * wall) ** 4)
    step = length / n
    second = (np.diag(np.full(n - 1, 2.0)) - np.diag(np.ones(n - 2), 1) - np.diag(np.ones(n - 2), -1)) / step**2
    assert buckling_load(outside, wall, modulus=modulus, spacing=length) == pytest.approx(stiffness * np.linalg.eigvalsh(second)[0], rel=1e-4)
    # Self-buckling: slope g of a cantilever obeys E I g'' + w x g = 0, g'(0) = 0 at the top, g(L) = 0 at the foot.
    weight = 30.0
    high = self_buckling_length(outside, wall, modulus=modulus, weight_per_length=weight)
    from scipy.integrate import solve_ivp

    ends = [solve_ivp(lambda x, g: (g[1], -weight / stiffness * x * g[0]), (0, high * s), (1.0, 0.0), rtol=1e-9, atol=1e-12).y[0, -1] for s in (0.99, 1.01)]
    assert ends[0] > 0 > ends[1]


def test_pipe_area_of_casing_weight():
    # 4.5 in 9.5 lb/ft plain-end: 9.40 lb/ft (10.69 (D - t) t, API), from memory.
    mass = pipe_area(4.5 * INCH, 0.205 * INCH) * 7850 * 0.3048 / 0.45359237
    assert mass == pytest.approx(9.41, abs=0.03)


pipes = st.tuples(st.floats(0.05, 0.6), st.floats(8.0, 60.0))


@settings(max_examples=80, derandomize=True, deadline=None)
@given(pipe=pipes, thicker=st.floats(1.0, 1.3), stress=st.floats(30e3, 125e3))
def test_a_thicker_wall_never_collapses_sooner(pipe, thicker, stress):
    outside, ratio = pipe
    wall, heavy = outside / ratio, outside / ratio * thicker
    assert plastic_collapse(outside, heavy, modulus=2.7e9, poisson=0.38) >= plastic_collapse(outside, wall, modulus=2.7e9, poisson=0.38)
    assert steel_collapse(outside, heavy, yield_stress=stress * PSI) >= steel_collapse(outside, wall, yield_stress=stress * PSI) * (1 - 1e-12)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(cool=st.floats(0, 60), warmer=st.floats(0, 30), oval=st.floats(0, 0.2))
def test_heat_and_ovality_never_help(cool, warmer, oval):
    for name in ("PVC-U metric 140.2 mm DR 17", "ABS inch 114.3 mm DR 21"):
        casing = standard_catalogue().casing(name)
        warm = min(60.0, cool + warmer)
        assert collapse_resistance(casing, temperature=warm, ovality=oval) <= collapse_resistance(casing, temperature=cool, ovality=0.0)
        assert collapse_resistance(casing, temperature=cool, long_term=True) < collapse_resistance(casing, temperature=cool)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(tension=st.floats(0, 200e6), more=st.floats(0, 100e6))
def test_tension_never_helps_steel(tension, more):
    casing = standard_catalogue().of("steel J-55")[0]
    assert collapse_resistance(casing, axial_stress=tension + more) <= collapse_resistance(casing, axial_stress=tension) * (1 + 1e-12)


@pytest.mark.parametrize("pipe", [(0.1, 0.05), (0.1, 0.06), (0.1, 0.0), (0.1, -0.001), (math.nan, 0.01), (math.inf, 0.01), (0.0, 0.01)])
def test_what_is_no_pipe_is_refused(pipe):
    for call in (lambda: plastic_collapse(*pipe, modulus=2.7e9, poisson=0.36), lambda: steel_collapse(*pipe, yield_stress=2.4e8), lambda: pipe_area(*pipe)):
        with pytest.raises(BadInput):
            call()


def test_heat_beyond_the_material_is_refused():
    with pytest.raises(BadInput, match="temperature"):
        collapse_resistance(standard_catalogue().casing("PVC-U metric 140.2 mm DR 17"), temperature=75.0)
    with pytest.raises(BadInput, match="yield_stress"):
        steel_collapse(0.2, 0.005, yield_stress=100e6)
    with pytest.raises(BadInput, match="poisson"):
        plastic_collapse(0.1, 0.005, modulus=1e9, poisson=0.5)


SUPPLIER = """
dated = "2026-03-01"
[[material]]
name = "PVC-U"
family = "plastic"
modulus = 3.0e9
poisson = 0.38
density = 1420.0
tensile_strength = 50e6
hoop_stress = 12.3e6
long_term_share = 0.5
hottest = 60.0
ovality = 0.01
modulus_temperature = [[20.0, 1.0], [60.0, 0.7]]
strength_temperature = [[20.0, 1.0], [60.0, 0.3]]
factors = { collapse = 1.8, long_collapse = 2.0, burst = 1.0, tension = 3.0, buckling = 2.0 }
source = ["invented supplier sheet"]
[[stock]]
material = "PVC-U"
series = "ribbed"
outside_diameters = [0.15]
walls = [0.009]
length = 5.8
joint = "screwed"
joint_share = 0.45
"""


def test_a_suppliers_file_replaces_the_material_and_joins_the_stock(tmp_path):
    path = tmp_path / "supplier.toml"
    path.write_text(SUPPLIER)
    catalogue = read_catalogue(path)
    theirs = catalogue.casing("PVC-U ribbed 150.0 x 9.0 mm")
    assert theirs.length == 5.8 and theirs.material.dated == "2026-03-01"
    assert catalogue.casing("PVC-U metric 140.2 mm DR 17").material.factors["collapse"] == 1.8
    assert standard_catalogue().materials["PVC-U"].factors["collapse"] == 1.5


@pytest.mark.parametrize("old, new, field", [
    ("modulus = 3.0e9", "modulus = -3.0e9", "modulus"), ("modulus = 3.0e9", "modulus = nan", "modulus"), ("poisson = 0.38", "poisson = 0.7", "poisson"),
    ("walls = [0.009]", "walls = [0.09]", "wall"), ("walls = [0.009]", "walls = [0.009, 0.01]", "walls"), ('material = "PVC-U"', 'material = "oak"', "oak"),
    ('dated = "2026-03-01"', "", "dated"), ('source = ["invented supplier sheet"]', "", "source"), ("collapse = 1.8", "collapse = 0.5", "collapse"),
    ("[60.0, 0.7]", "[10.0, 0.7]", "modulus_temperature"), ("modulus = 3.0e9", "modulus = ", "supplier_file"),
])
def test_a_suppliers_file_that_is_wrong_says_where(tmp_path, old, new, field):
    path = tmp_path / "supplier.toml"
    path.write_text(SUPPLIER.replace(old, new, 1))
    with pytest.raises(BadInput) as caught:
        read_catalogue(path)
    assert field in str(caught.value)


def test_the_bench_gives_the_published_answer():
    # SDR 21: 265 ft of water (COMAR, read).
    found = answer("pvc-casing-collapse", {"outside_diameter": "4.5 in", "wall": "0.2142857 in"})["results"]
    assert found["depth_at_collapse"]["value"] / 0.3048 == pytest.approx(265, rel=0.005)
    steel = answer("steel-casing-collapse", {"outside_diameter": "7 in", "wall": "0.317 in", "yield_stress": "55000 psi"})["results"]
    assert steel["resistance"]["value"] / PSI == pytest.approx(3270, abs=6) and steel["regime"]["value"] == "plastic"
    with pytest.raises(BadInput, match="inside_density"):
        answer("pvc-casing-collapse", {"outside_diameter": "4.5 in", "wall": "0.214 in", "inside_density": "1000 kg/m3"})
