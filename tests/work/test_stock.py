"""Stock to order and the firm's design settings: sums by hand, properties, what is refused."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.construction import MaterialItem, casing_of, disinfection, standard_catalogue
from borewright.errors import BadInput
from borewright.work.bore import design_expected
from borewright.work.designing import (
    compare_offers,
    design_settings,
    keep_design_settings,
    keep_supplier_file,
    last_design,
    near_sizes,
)
from borewright.work.stock import materials_as_csv, order_as_csv, summed

PIPE = "casing, PVC-U metric 140.2 mm DR 17"


def test_a_length_of_pipe_is_the_same_whichever_string_it_goes_into():
    rows = summed([
        ("a", [MaterialItem(f"production {PIPE}", 9, "lengths"), MaterialItem("cement, 20 kg bags", 46, "bags", "conductor"), MaterialItem("cement, 20 kg bags", 48, "bags")]),
        ("b", [MaterialItem(f"conductor {PIPE}", 4, "lengths"), MaterialItem("cement, 20 kg bags", 10, "bags"), MaterialItem("cement, 20 kg bags", 3, "kg")]),
    ])
    told = {(r.item, r.unit): (r.quantity, dict(r.jobs)) for r in rows}
    assert told[PIPE, "lengths"] == (13, {"a": 9, "b": 4})
    assert told["cement, 20 kg bags", "bags"] == (104, {"a": 94, "b": 10})
    assert told["cement, 20 kg bags", "kg"] == (3, {"b": 3})  # another unit is another thing


ITEMS = st.builds(MaterialItem, st.sampled_from(["pipe", "cement", "conductor pipe", "chips"]), st.integers(1, 500).map(float), st.sampled_from(["bags", "each"]))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(jobs=st.lists(st.tuples(st.sampled_from("abcd"), st.lists(ITEMS, max_size=6)), max_size=5))
def test_nothing_is_lost_or_made_in_the_sum(jobs):
    rows = summed(jobs)
    assert sum(r.quantity for r in rows) == sum(m.quantity for _, items in jobs for m in items)
    assert all(r.quantity == sum(amount for _, amount in r.jobs) for r in rows)
    assert {(r.item, r.unit, r.quantity) for r in rows} == {(r.item, r.unit, r.quantity) for r in summed(jobs[::-1])}
    assert len({(r.item, r.unit) for r in rows}) == len(rows)


def test_a_spreadsheet_runs_nothing_that_a_person_typed():
    text = order_as_csv(summed([("=HYPERLINK(1)", [MaterialItem("@sum", 2.0, "each")])]))
    (row,) = csv.DictReader(io.StringIO(text))
    assert row["item"] == "'@sum" and row["jobs"].startswith("'=") and row["quantity"] == "2"
    assert next(csv.DictReader(io.StringIO(materials_as_csv([MaterialItem('a "b", c', 0.144, "m3", "x\ny")]))))["item"] == 'a "b", c'


def test_the_cheap_against_the_good(book, job):
    design_expected(book, job, by="office")
    design, catalogue = last_design(book.job(job)), standard_catalogue()
    names = near_sizes(design, catalogue)
    pipe = design.string("production")
    assert casing_of(catalogue, pipe.material, pipe.outside_diameter, pipe.wall).name in names
    offers = compare_offers(design, [(name, 1000 * (place + 1)) for place, name in enumerate(names)], catalogue=catalogue, worth=2_000_000)
    walls = [catalogue.casing(o.choice.casing).wall for o in offers]
    assert walls == sorted(walls)
    assert [o.choice.chance_of_collapse for o in offers] == sorted((o.choice.chance_of_collapse for o in offers), reverse=True)
    length = pipe.to_depth - pipe.from_depth + design.stick_up
    for place, offer in enumerate(offers):
        assert offer.choice.cost_minor == round(1000 * (place + 1) * length) and offer.risk == round(offer.choice.chance_of_collapse * 2_000_000)
        assert offer.whole_cost == offer.choice.cost_minor + offer.risk
    (bare,) = compare_offers(design, [(names[0], None)], catalogue=catalogue)
    assert bare.risk is None and bare.whole_cost is None


def test_the_dose_is_for_the_water_of_this_bore(book, job):
    design_expected(book, job, by="office")
    design = last_design(book.job(job))
    solid, liquid = disinfection(design), disinfection(design, product="household bleach", ph=8.4)
    # The same chlorine in either: 100 mg/L of the water, 65 % of the granules, 5.25 g in 100 mL of the bleach.
    assert solid.chlorine == liquid.chlorine == pytest.approx(0.1 * solid.water_volume)
    assert solid.product_mass == pytest.approx(solid.chlorine / 0.65) and liquid.product_volume == pytest.approx(liquid.chlorine / 52.5)
    assert next(m.quantity for m in design.materials if m.item.startswith("calcium hypochlorite")) == pytest.approx(solid.product_mass)
    assert {"chlorine-handling", "chlorine-not-drinking", "high-ph"} <= {a.code for a in liquid.advisories}


def test_settings_are_kept_whole_or_not_at_all(tmp_path):
    assert keep_design_settings(tmp_path, {"sump": 2.0}).sump == 2.0
    assert keep_design_settings(tmp_path, {"bag_mass": 42.6}).sump == 2.0
    for wrong, field in (({"sump": -1.0}, "settings.sump"), ({"colour": "red"}, "colour"), ({"bits": []}, "settings.bits"), ({"sump": float("nan")}, "settings.sump"),
                         ({"open_share": 5.0}, "settings.open_share"), ({"most_lifts": 0}, "settings.most_lifts")):
        with pytest.raises(BadInput) as refused:
            keep_design_settings(tmp_path, wrong)
        assert refused.value.field == field
    assert (design_settings(tmp_path).sump, design_settings(tmp_path).bag_mass) == (2.0, 42.6)
    (tmp_path / "design.json").write_text("{")
    with pytest.raises(BadInput, match=r"design\.json"):
        design_settings(tmp_path)


def test_a_supplier_file_too_large_is_refused(tmp_path):
    with pytest.raises(BadInput, match="too large"):
        keep_supplier_file(tmp_path, b"#" * ((1 << 20) + 1))
