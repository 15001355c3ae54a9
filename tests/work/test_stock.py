"""Stock to order and the firm's design settings: sums by hand, properties, what is refused."""

from __future__ import annotations

import csv
import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.cli.main import main
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
from borewright.work.stock import keep_yard, less_yard, materials_as_csv, order_as_csv, summed, yard_stock

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
    assert all(r.to_order == max(r.quantity - 2.5, 0) for r in less_yard(rows, {(r.item, r.unit): 2.5 for r in rows}))
    assert all(r.quantity == sum(amount for _, amount in r.jobs) for r in rows)
    assert {(r.item, r.unit, r.quantity) for r in rows} == {(r.item, r.unit, r.quantity) for r in summed(jobs[::-1])}
    assert len({(r.item, r.unit) for r in rows}) == len(rows)


def test_what_the_yard_holds_is_taken_off_and_never_below_nought(tmp_path):
    rows = summed([("a", [MaterialItem(f"production {PIPE}", 9, "lengths"), MaterialItem("cement, 20 kg bags", 46, "bags"), MaterialItem("gravel", 0.5, "m3")])])
    assert yard_stock(tmp_path) == {} and all(r.to_order == r.quantity for r in less_yard(rows, {}))
    keep_yard(tmp_path, {(PIPE, "lengths"): "4", ("cement, 20 kg bags", "bags"): 60, ("gravel", "t"): 3})
    told = {r.item: (r.held, r.to_order) for r in less_yard(rows, yard_stock(tmp_path))}
    assert told == {PIPE: (4.0, 5.0), "cement, 20 kg bags": (60.0, 0.0), "gravel": (0.0, 0.5)}  # a tonne is not a cubic metre
    (row,) = [r for r in csv.DictReader(io.StringIO(order_as_csv(less_yard(rows, yard_stock(tmp_path))))) if r["item"] == PIPE]
    assert (row["quantity"], row["in_the_yard"], row["to_order"]) == ("9", "4", "5")
    assert keep_yard(tmp_path, {(PIPE, "lengths"): 0}) == {("cement, 20 kg bags", "bags"): 60.0, ("gravel", "t"): 3.0}  # the rest of the count stands


@pytest.mark.parametrize(("counts", "field"), [({(PIPE, "lengths"): "many"}, PIPE), ({(PIPE, "lengths"): -1}, PIPE), ({(PIPE, "lengths"): "nan"}, PIPE), ({(PIPE, "lengths"): 1e9}, PIPE),
                                               ({("", "bags"): 1}, "item"), ({("x\ny", "bags"): 1}, "item"), ({("x", ""): 1}, "item")])
def test_a_count_that_cannot_be_keeps_nothing(tmp_path, counts, field):
    keep_yard(tmp_path, {("sand", "bags"): 2})
    with pytest.raises(BadInput) as refused:
        keep_yard(tmp_path, {("sand", "bags"): 5, **counts})
    assert refused.value.field == field and yard_stock(tmp_path) == {("sand", "bags"): 2.0}


@pytest.mark.parametrize("text", ["", "a,b,c\n", "item,unit,quantity\nx,y\n", "item,unit,quantity\nx,bags,lots\n", 'item,unit,quantity\n"x,bags,1\n'])
def test_a_broken_yard_file_is_told_by_its_row(tmp_path, text):
    (tmp_path / "yard.csv").write_text(text)
    with pytest.raises(BadInput, match=r"yard\.csv"):
        yard_stock(tmp_path)


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


def test_the_order_and_the_count_by_command(book, job, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    assert main(["stock"]) == 0 and "Nothing to order" in capsys.readouterr().out
    book.write(job, "quote.issued", {"number": "Q-1", "revision": 1, "valid_until": "2027-01-01", "content": {}, "content_hash": "0" * 64}, by="office")
    book.write(job, "quote.accepted", {"number": "Q-1", "revision": 1, "content_hash": "0" * 64, "name": "C. Customer (invented)"}, by="office")
    assert main(["stock"]) == 0 and "without a design, so not counted: Test paddock" in capsys.readouterr().out
    design_expected(book, job, by="office")
    assert main(["stock", "--json"]) == 0
    first = json.loads(capsys.readouterr().out)["rows"][0]
    assert first["to_order"] == first["needed"] > 0
    assert main(["stock", "--have", f"{first['item']} [{first['unit']}]=1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["rows"][0]
    assert (told["in_the_yard"], told["to_order"]) == (1, first["needed"] - 1)
    assert main(["stock", "--yard", "--json"]) == 0 and json.loads(capsys.readouterr().out) == [{"item": first["item"], "unit": first["unit"], "quantity": 1.0}]
    for wrong in ("forty bags", "pipe [each]=some", "pipe [each]=-4"):
        assert main(["stock", "--have", wrong]) == 2
    assert yard_stock(tmp_path) == {(first["item"], first["unit"]): 1.0}
