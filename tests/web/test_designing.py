"""The design by hand: rows in and out, messages beside their rows, keeping; sealing plan, materials, stock, settings, the supplier's file."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from html import unescape

import pytest

from borewright.construction import check_design, design_as_dict, recheck, standard_catalogue
from borewright.web.designform import form_of, messages, read_design
from borewright.work.bore import design_logged
from borewright.work.designing import catalogue_of, design_settings, last_design, supplier_file


@pytest.fixture
def designed(book, job):
    """A job whose hole is logged and designed."""
    for kind, body in (
        ("rig.hole_started", {}), ("rig.bit", {"diameter": 0.29}), ("rig.bit", {"diameter": 0.191, "from_depth": 24.0}), ("rig.advanced", {"to_depth": 60.0}),
        *(("rig.ground", {"from_depth": a, "to_depth": b, "words": w}) for a, b, w in ((0.0, 9.0, "clay"), (9.0, 20.0, "weathered granite"), (20.0, 60.0, "granite"))),
        ("rig.struck", {"depth": 41.0}), ("rig.flow", {"depth": 42.0, "method": "estimate", "flow": 0.3e-3}), ("rig.level", {"depth_to_water": 9.0}),
    ):
        book.write(job, kind, body, by="tester")
    design_logged(book, job, by="tester")
    return job


def form(book, job, system="metric"):
    return form_of(last_design(book.job(job)), system)


def text_of(page):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def notes_of(page, key):
    found = re.search(rf'<ul class="doubts" data-notes="{re.escape(key)}">(.*?)</ul>', page, re.S)
    return text_of(found[1])


@pytest.mark.parametrize("system", ["metric", "US", "imperial"])
def test_a_design_goes_through_the_form_and_comes_back_the_same(book, designed, system):
    before = last_design(book.job(designed))
    after, wrong = read_design(form_of(before, system), before, catalogue=standard_catalogue(), system=system)
    assert wrong == {}
    a, b = design_as_dict(recheck(before)), design_as_dict(recheck(after))
    for name in ("hole", "slots", "annulus", "strings"):
        for row, other in zip(a[name], b[name], strict=True):
            for key, value in row.items():
                assert other[key] == (pytest.approx(value, rel=1e-6, abs=1e-6) if isinstance(value, float) else value), (name, key)
    assert [s["verdict"] for s in a["stages"]] == [s["verdict"] for s in b["stages"]]
    assert a["materials"] == b["materials"] or system != "metric"


def test_the_page_shows_rows_stages_materials_dose_and_the_strength_beside_the_section(client, book, designed):
    answer = client.get(f"/jobs/{designed}/bore/edit")
    assert answer.status_code == 200
    said = text_of(answer.text)
    for words in ("Will it hold, stage by stage", "What would be done differently", "Disinfection", "Two casings side by side", "calcium hypochlorite", "Chlorine burns eyes"):
        assert words in said
    assert 'name="strings-1-wall"' in answer.text and 'name="annulus-0-from_depth"' in answer.text
    assert "casing: strength" in said and "common practice, no source" in said
    assert "<script>" not in answer.text and 'style="' not in answer.text.split("<svg")[0]


def test_a_page_without_a_design_goes_back_and_says_so(client, book, job):
    answer = client.get(f"/jobs/{job}/bore/edit")
    assert answer.status_code == 303
    assert "a design first" in text_of(client.get(answer.headers["location"]).text)


def test_a_broken_rule_is_said_beside_its_row_and_nothing_is_kept_by_a_check(client, book, designed):
    given = form(book, designed)
    before = len(book.entries(designed))
    given["strings-1-casing"], given["strings-1-wall"] = "", "3"
    given["pump_depth"] = given["slots-0-from_depth"]
    page = client.post(f"/jobs/{designed}/bore/edit", data=given | {"do": "check"})
    assert page.status_code == 200 and "It does not pass" in text_of(page.text)
    assert "Fails at grouting" in notes_of(page.text, "strings-1") and notes_of(page.text, "strings-0").count("Fails") == 0
    assert "blank casing round the pump" in notes_of(page.text, "pump_depth")
    assert len(book.entries(designed)) == before


def test_a_kept_design_is_by_hand_with_all_reckoned_anew(client, book, designed):
    before = last_design(book.job(designed))
    given = form(book, designed)
    given["stick_up"] = "0.6 m"
    given["hole-0-to_depth"] = given["hole-1-from_depth"] = "25"
    answer = client.post(f"/jobs/{designed}/bore/edit", data=given | {"do": "keep"})
    assert answer.status_code == 303
    fact = book.job(designed).design
    assert fact.body.basis == "by hand" and fact.body.design["basis"] == "by hand"
    after = last_design(book.job(designed))
    assert after.stick_up == pytest.approx(0.6) and after.hole[0].to_depth == 25.0
    # A metre more of the wide hole is a metre more annulus outside the production string: more grout than before.
    volume = {d: next(a.volume for a in d.annulus if a.string == "production" and a.what == "grout") for d in (before, after)}
    assert volume[after] != volume[before] and after == recheck(after)
    assert "Design by hand" in text_of(client.get(f"/jobs/{designed}/bore").text)


def test_rows_are_dropped_by_a_tick_and_added_in_the_empty_row(client, book, designed):
    given = form(book, designed)
    top, bottom = float(given["slots-0-from_depth"]), float(given["slots-0-to_depth"])
    half = 0.5 * (top + bottom)
    given |= {"slots-0-to_depth": f"{half - 0.5:g}", "slots-1-from_depth": f"{half:g}", "slots-1-to_depth": f"{bottom:g}", "slots-1-aperture": "1", "slots-1-open_share": "5"}
    page = client.post(f"/jobs/{designed}/bore/edit", data=given | {"do": "check"}).text
    assert 'name="slots-2-from_depth"' in page
    given["slots-0-drop"] = "yes"
    client.post(f"/jobs/{designed}/bore/edit", data=given | {"do": "keep"})
    (slots,) = last_design(book.job(designed)).slots
    assert (slots.from_depth, slots.to_depth, slots.aperture) == (pytest.approx(half, abs=1e-3), bottom, 0.001)


@pytest.mark.parametrize(("name", "text", "key", "said"), [
    ("strings-1-to_depth", "900", "strings-1", "does not end in the hole"), ("hole-1-diameter", "100", "strings-1", "does not fit"),
    ("static_level", "deep", "static_level", "Want"), ("annulus-0-material", "treacle", "annulus-0", "neat cement"), ("hole-0-to_depth", "", "hole-0", "missing"),
    ("annulus-1-lifts", "0", "annulus-1", "1 or more"), ("strings-1-material", "cheese", "strings-1", "not in the catalogue"), ("hole-1-from_depth", "30", "hole-1", "gap"),
    ("annulus-0-density", "nan", "annulus-0", "Want"), ("centralisers-production", "1, 700", "centralisers-production", "is not beside the string"),
])
def test_bad_input_is_said_beside_its_row_and_nothing_typed_is_lost(client, book, designed, name, text, key, said):
    given = form(book, designed)
    if name == "strings-1-material":
        given["strings-1-casing"] = ""
    before = len(book.entries(designed))
    answer = client.post(f"/jobs/{designed}/bore/edit", data=given | {name: text, "do": "keep"})
    assert answer.status_code == 422 and said in notes_of(answer.text, key)
    assert len(book.entries(designed)) == before
    if text and name != "strings-1-material":
        assert f'name="{name}" value="{text}"' in answer.text


def test_a_rule_speaks_beside_the_row_of_its_string(book, designed):
    design = last_design(book.job(designed))
    bare = recheck(replace(design, centralisers=(), annulus=tuple(a for a in design.annulus if a.what != "seal")))
    found = messages(form_of(bare, "metric"), check_design(bare))
    assert "centralisers-conductor" in found and any("seal above the slots" in n["message"] for n in found["annulus"])


def test_the_api_checks_a_design_and_a_form_alike(client, book, designed):
    design = last_design(book.job(designed))
    answer = client.post("/api/design/check", json={"design": design_as_dict(design)})
    assert answer.status_code == 200 and answer.json()["passes"] is True
    given = form(book, designed)
    live = client.post("/api/design/check", json={"job": str(designed), "form": given}).json()
    assert live["passes"] is True and live["section"].startswith("<svg") and len(live["stages"]) == len(answer.json()["stages"])
    given["strings-1-casing"], given["strings-1-wall"] = "", "2.5"
    live = client.post("/api/design/check", json={"job": str(designed), "form": given}).json()
    assert live["passes"] is False and any("Fails" in n["message"] for n in live["notes"]["strings-1"])
    given["strings-1-wall"] = "90"
    live = client.post("/api/design/check", json={"job": str(designed), "form": given}).json()
    assert live["passes"] is False and "radius" in live["wrong"]["strings-1-wall"]


@pytest.mark.parametrize("body", [[], {}, {"design": 3}, {"design": {}}, {"form": {}, "job": "x"}, {"form": []}])
def test_the_api_refuses_what_is_no_design(client, designed, body):
    answer = client.post("/api/design/check", json=body)
    assert answer.status_code in (404, 422) and set(answer.json()["error"]) == {"field", "value", "problem", "want"}


def test_casings_are_compared_with_prices_and_what_a_lost_bore_costs(client, designed):
    names = [c.name for c in standard_catalogue().of("PVC-U", "metric") if 0.13 < c.outside_diameter < 0.15]
    light, heavy = names[0], names[-1]
    page = client.get(f"/jobs/{designed}/bore/edit", params={"first": light, "second": heavy, "first_price": "10.00", "second_price": "30.00", "worth": "20000"}).text
    table = text_of(page.split('id="compare"')[1].split("</table>")[0])
    assert light in table and heavy in table
    bad = client.get(f"/jobs/{designed}/bore/edit", params={"first": light, "second": heavy, "first_price": "cheap"}).text
    assert "price of a metre" in bad.split('id="compare"')[1]


def test_materials_travel_as_csv(client, book, designed):
    answer = client.get(f"/jobs/{designed}/bore/materials.csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    design = last_design(book.job(designed))
    assert answer.headers["content-type"].startswith("text/csv") and [r["item"] for r in rows] == [m.item for m in design.materials]
    assert float(rows[0]["quantity"]) == design.materials[0].quantity


def test_a_hole_is_sealed_as_planned_once_it_is_said_why(client, book, designed):
    page = client.get(f"/jobs/{designed}/bore/seal", params={"way": "fill and plugs"}).text
    assert "bentonite medium chips" in page and "In this order" in page and "keep it covered" in text_of(page)
    bad = client.post(f"/jobs/{designed}/bore/seal", data={"way": "fill and plugs"})
    assert bad.status_code == 422 and "Why it was sealed" in bad.text and book.job(designed).hole.sealed_off is None
    answer = client.post(f"/jobs/{designed}/bore/seal", data={"way": "fill and plugs", "reason": "salt"})
    assert answer.status_code == 303
    sealed = book.job(designed).hole.sealed_off.body
    assert sealed.reason == "salt" and {i.material for i in sealed.intervals} >= {"clean gravel", "bentonite medium chips", "neat cement"}
    assert sealed.intervals[0].from_depth == 0.0 and sealed.intervals[-1].to_depth == 60.0
    assert "Sealed as planned" not in client.get(f"/jobs/{designed}/bore/seal").text


@pytest.mark.parametrize("query", [{"way": "with straw"}, {"waste": "lots"}, {"bag_mass": "-1"}, {"mix": "porridge"}, {"hole": "one"}, {"hole": "9"}])
def test_a_bad_sealing_wish_is_refused(client, designed, query):
    answer = client.get(f"/jobs/{designed}/bore/seal", params=query)
    assert answer.status_code == 422 and "Sealed as planned" not in answer.text and re.search(r'class="wrong"[^>]*>[^<]*[Ww]ant ', answer.text)


def test_stock_is_summed_for_accepted_jobs_that_are_not_built(client, book, designed):
    assert "Nothing to order" in client.get("/stock").text
    quote = book.job(designed).quote.body
    book.write(designed, "quote.accepted", {"number": quote.number, "revision": quote.revision, "content_hash": quote.content_hash, "name": "N. Body (invented)"}, by="tester")
    page = text_of(client.get("/stock").text)
    assert "cement, 20 kg bags" in page and "Test paddock (invented)" in page
    rows = list(csv.DictReader(io.StringIO(client.get("/stock.csv").text)))
    bags = next(float(r["quantity"]) for r in rows if r["item"] == "cement, 20 kg bags")
    assert bags == sum(a.bags for a in last_design(book.job(designed)).annulus if a.what == "grout")
    typed = {"item-0": "cement, 20 kg bags", "unit-0": "bags", "held-0": "several"}
    refused = client.post("/stock", data=typed)
    assert refused.status_code == 422 and "Is not a number" in refused.text and "several" in refused.text
    assert client.post("/stock", data={**typed, "held-0": f"{bags - 3:g}"}).headers["location"] == "/stock?kept=1"
    assert f'value="{bags - 3:g}"' in client.get("/stock?kept=1").text
    (row,) = [r for r in csv.DictReader(io.StringIO(client.get("/stock.csv").text)) if r["item"] == "cement, 20 kg bags"]
    assert (float(row["in_the_yard"]), float(row["to_order"])) == (bags - 3, 3)
    book.write(designed, "rig.casing", {"from_depth": 0, "to_depth": 60, "string": "production", "outside_diameter": 0.14, "material": "PVC-U"}, by="tester")
    assert "Nothing to order" in client.get("/stock").text


def settings_form(page):
    given = {}
    for name, value in re.findall(r'<input id="[\w-]+" name="(\w+)" value="([^"]*)"', page):
        given[name] = unescape(value)
    for name, options in re.findall(r'<select id="[\w-]+" name="(\w+)"[^>]*>(.*?)</select>', page, re.S):
        given[name] = unescape(re.search(r"<option selected>([^<]*)", options)[1])
    return given


def test_design_settings_are_kept_and_new_designs_use_them(client, book, designed):
    given = settings_form(client.get("/settings/design").text)
    assert client.post("/settings/design", data=given).status_code == 303
    assert design_settings(book.folder).annulus == pytest.approx(0.0254) and design_settings(book.folder).open_share == pytest.approx(0.05)
    answer = client.post("/settings/design", data=given | {"bag_mass": "42.6 kg", "into_rock": "3 m", "bits": "115, 165, 191, 254, 290, 305, 349"})
    assert answer.status_code == 303
    found = design_settings(book.folder)
    assert (found.bag_mass, found.into_rock, found.bits[0], len(found.bits)) == (42.6, 3.0, 0.115, 7)
    design_logged(book, designed, by="tester")
    assert last_design(book.job(designed)).settings.bag_mass == 42.6
    for name, text in (("annulus", "-5 mm"), ("open_share", "140 %"), ("series", "moon"), ("bits", "wide"), ("most_lifts", "0")):
        bad = client.post("/settings/design", data=given | {name: text})
        assert bad.status_code == 422 and re.search(rf'name="{name}"[^>]*aria-invalid="true"', bad.text), name
    assert design_settings(book.folder) == found


SUPPLIER = b"""
dated = "2026-11-01"
[[stock]]
material = "PVC-U"
series = "invented"
outside_diameters = [0.150]
ratios = [18.0]
length = 5.8
joint = "solvent weld"
joint_share = 0.6
source = "an invented price list"
"""


def test_a_suppliers_casing_is_kept_and_used_and_a_bad_file_is_not(client, book, designed):
    assert "The program's own figures" in text_of(client.get("/settings/design").text)
    assert client.post("/settings/design/casing", files={"supplier_file": ("pipe.toml", SUPPLIER)}).status_code == 303
    assert catalogue_of(book.folder).casing("PVC-U invented 150.0 mm DR 18").length == 5.8
    assert "PVC-U invented 150.0 mm DR 18" in client.get(f"/jobs/{designed}/bore/edit").text
    given = form(book, designed) | {"strings-1-casing": "PVC-U invented 150.0 mm DR 18", "do": "keep"}
    assert client.post(f"/jobs/{designed}/bore/edit", data=given).status_code == 303
    assert "PVC-U invented 150.0 mm DR 18" in json.dumps(book.job(designed).design.body.design)
    for bad in (b"not = [toml", SUPPLIER.replace(b"18.0", b"-3"), SUPPLIER.replace(b'dated = "2026-11-01"', b""), b"", SUPPLIER.replace(b"PVC-U", b"cheese")):
        answer = client.post("/settings/design/casing", files={"supplier_file": ("pipe.toml", bad)})
        assert answer.status_code == 422 and "supplier-wrong" in answer.text and "/tmp" not in answer.text
    assert supplier_file(book.folder).read_bytes() == SUPPLIER
    assert client.post("/settings/design/casing", data={"do": "drop"}).status_code == 303 and not supplier_file(book.folder).exists()


def test_the_bench_draws_the_grading_of_a_pack(client):
    query = {"sieves": "0.075, 0.15, 0.3, 0.6, 1.2 mm", "passing": "3, 15, 48, 85, 99 %"}
    page = client.get("/bench/filter-pack", params=query).text
    assert '<div class="chart"><svg' in page
    assert '<div class="chart">' not in client.get("/bench/filter-pack").text
    part = client.post("/bench/filter-pack", data=query, headers={"x-part": "result"}).text
    assert '<div class="chart"><svg' in part
