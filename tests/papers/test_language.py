"""The language files: nothing is missing in either, every paper is made in both, and figures are written as each language writes them."""

from __future__ import annotations

import ast
import io
import re
import string
import tomllib
from pathlib import Path

import made_jobs
import pypdf
import pytest

import borewright.papers as papers
from borewright.errors import BadInput, Refused
from borewright.papers import PAPERS, paper_data, paper_pdf
from borewright.papers.language import languages, load_language
from borewright.papers.wording import Wording
from borewright.record import complete
from borewright.record.bodies import KINDS
from borewright.storage import Settings
from borewright.storage.settings import LANGUAGE_NAMES, LANGUAGES

FOLDER = Path(papers.__file__).parent
FRENCH = Settings(firm="Hollow Reed Bores (invented)", language="fr", currency="EUR")


@pytest.fixture(scope="module")
def built():
    return made_jobs.built().job()


def texts(code: str) -> dict:
    return tomllib.loads((FOLDER / "language" / f"{code}.toml").read_text(encoding="utf-8"))


def names(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def asked() -> list[tuple[str, str, str, set[str]]]:
    """Return (file, method, key, names of the values given) of every text that the papers' code asks for."""
    found = []
    for path in FOLDER.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in ("say", "lines", "cautions") and node.args:
                assert isinstance(node.args[0], ast.Constant), f"{path.name} line {node.lineno} asks for a text by a name that no test can look up"
                found.append((path.name, node.func.attr, node.args[0].value, {k.arg for k in node.keywords}))
    return found


def test_the_settings_know_the_languages_that_there_are():
    assert languages() == LANGUAGES == tuple(LANGUAGE_NAMES)
    with pytest.raises(BadInput, match="language"):
        Settings(language="xx")
    with pytest.raises(BadInput, match="language"):
        load_language("../en")


@pytest.mark.parametrize("code", LANGUAGES)
def test_every_text_that_the_code_asks_for_is_there_with_the_values_it_is_given(code):
    table, wanted = texts(code), asked()
    assert len(wanted) > 250
    for where, method, key, given in wanted:
        held = table[{"say": "papers", "lines": "lists", "cautions": "cautions"}[method]]
        assert key in held, f"{where} asks for {key}"
        if method == "say":
            assert names(held[key]) <= given | {"word", "Word"}, f"{where}: {key} names a value that is not given"


def test_no_key_is_in_one_file_and_not_in_the_other_and_none_is_idle():
    english, french = texts("en"), texts("fr")
    for table in set(english) - {"terms", "phrases"}:
        assert english[table].keys() == french[table].keys(), table
    for key, text in english["papers"].items():
        assert names(text) - {"word", "Word"} == names(french["papers"][key]) - {"word", "Word"}, key
    for key, rows in english["lists"].items():
        assert len(rows) == len(french["lists"][key]), key
    for key, rows in english["cautions"].items():
        assert [c["severity"] for c in rows] == [c["severity"] for c in french["cautions"][key]], key
    idle = set(english["papers"]) - {key for _, method, key, _ in asked() if method == "say"}
    assert not idle


def test_french_is_not_english_left_standing():
    english, french = texts("en"), texts("fr")
    assert not {k for k, v in english["papers"].items() if v == french["papers"][k] and len(v.split()) > 2}


def test_the_words_of_the_job_book_and_what_is_missing_are_in_the_phrasebook():
    french = load_language("fr")
    for kind, field in (("rig.flow", "method"), ("rig.casing", "string"), ("rig.annulus", "what"), ("rig.stopped", "reason"), ("test.run", "type"), ("enquiry.need", "use")):
        for word in KINDS[kind].model_fields[field].annotation.__args__:
            assert word in french.texts["terms"], (kind, field, word)
    told = []
    for node in ast.walk(ast.parse(Path(complete.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("need", "Problem"):
            text = node.args[2 if node.func.id == "need" else 1]
            if isinstance(text, ast.Constant):
                told.append(text.value)
            elif isinstance(text, ast.JoinedStr):
                told.append("".join(p.value if isinstance(p, ast.Constant) else "12.5" for p in text.values))
    assert len(told) > 15
    for sentence in told:
        assert french.phrase(sentence) != sentence, sentence


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("document", PAPERS)
def test_every_paper_is_made_in_french_and_fits(built, document, size):
    made = paper_pdf(built, document, settings=FRENCH, paper=size)
    reader = pypdf.PdfReader(io.BytesIO(made.pdf))
    said = [" ".join(p.extract_text().split()) for p in reader.pages]
    assert reader.trailer["/Root"]["/Lang"] == "fr"
    assert f"page 1 sur {len(said)}" in said[0] and "FICTIF" in said[0]
    assert "not recorded" not in " ".join(said) and "Not recorded" not in " ".join(said)
    if document in ("bore record", "rig card"):
        assert len(said) == 1
    english = paper_pdf(built, document, settings=Settings(firm=FRENCH.firm, currency="EUR"), paper=size)
    assert len(said) <= len(pypdf.PdfReader(io.BytesIO(english.pdf)).pages) + 1


def test_the_papers_of_a_sealed_hole_are_made_in_french():
    job = made_jobs.sealed().job()
    assert paper_data(job, "handover pack", settings=FRENCH)["title"] == "Dossier de remise\u00a0: trou rebouché"
    assert "Équipement et rebouchage" in str(paper_data(job, "bore record", settings=FRENCH)["blocks"])


def test_figures_are_written_as_each_language_writes_them(built):
    english, french = Wording(built, Settings(currency="EUR")), Wording(built, FRENCH)
    assert (english.money(1234050), french.money(1234050)) == ("EUR 12,340.50", "12\u202f340,50 EUR")
    assert (english.depth(38.4), french.depth(38.4)) == ("38.4\u00a0m", "38,4\u00a0m")
    assert (english.whole(1234567), french.whole(1234567)) == ("1,234,567", "1\u202f234\u202f567")
    assert (english.iso_day("2026-08-01"), french.iso_day("2026-08-01"), french.iso_day("2026-08-17")) == ("1 August 2026", "1er août 2026", "17 août 2026")
    assert Wording(built, Settings(units="us")).iso_day("2026-08-01") == "August 1, 2026"
    assert french.percent(0.25) == "25\u00a0%" and french.round_money(1234050, "EUR") == "12\u202f300 EUR"
    assert french.figures("version 1.2.3, 10.5 m, v1.5") == "version 1.2.3, 10,5 m, v1.5", "what is no figure stays"
    assert french.figures("0.5, 1,234.25") == "0,5, 1\u202f234,25"


def test_figures_of_the_french_record_are_those_of_the_log(built):
    said = " ".join(" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(paper_pdf(built, "bore record", settings=FRENCH).pdf)).pages)
    for figure in ("38,4 m", "+7,2 L/min", "12,35 m", "26 sacs de 20 kg", "38,47020° S", "18,22010° O", "seau"):
        assert figure in re.sub(r"[\u00a0\u202f]", " ", said), figure


def test_a_sentence_that_the_phrasebook_has_not_is_cited_and_the_paper_says_so(built):
    w = Wording(built, FRENCH)
    assert w.told("Nobody translated this sentence yet.") == "Nobody translated this sentence yet."
    assert w.as_told == ["Nobody translated this sentence yet."]
    assert w.told("No customer is named.") == "Aucun client n'est nommé." and len(w.as_told) == 1


def test_the_code_of_the_handover_pack_opens_the_owners_page_where_the_firm_has_one(built):
    from borewright.papers.handover import _square

    def side(data):
        return next(b["left"] for b in data["blocks"] if b["kind"] == "pair")

    paged = paper_data(built, "handover pack", settings=Settings(owner_page="https://example.org/bores/{job}"))
    plain = paper_data(built, "handover pack", settings=Settings())
    address = f"https://example.org/bores/{built.id}"
    (code,) = [b for b in side(paged) if b["kind"] == "code"]
    assert address in code["text"] and code["svg"] == _square(address)
    (words,) = [b for b in side(plain) if b["kind"] == "code"]
    assert "http" not in words["text"] and "66.3" in words["text"]
    for bad in ("javascript:alert(1)", "https://x.org/{name}", "ftp://x.org", "https://x.org/{job}/{job}", "https://x .org"):
        with pytest.raises(BadInput, match="owner_page"):
            Settings(owner_page=bad)


# Word by word


def drawn() -> set[str]:
    """Return every text that the drawings of the papers hand to `say`, from their source: what it is called with, and the names of a legend."""
    from borewright.drawing import charts, living, shapes

    found = set()
    for module in (living, shapes):
        for node in ast.walk(ast.parse(Path(module.__file__).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say":
                found |= {c.value for c in ast.walk(node.args[0]) if isinstance(c, ast.Constant) and isinstance(c.value, str) and c.value.strip()}
    wanted = {"drawdown_chart", "rating_chart", "pump_chart", "trilinear_chart", "radial_chart", "parallel_chart"}
    for body in ast.parse(Path(charts.__file__).read_text(encoding="utf-8")).body:
        if isinstance(body, ast.FunctionDef) and body.name in wanted:
            for node in ast.walk(body):
                name = getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""
                args = {"say": node.args[:1], "line": node.args[1:2], "dots": node.args[1:2], "band": node.args[3:4], "mark": [k.value for k in node.keywords if k.arg == "words"]}.get(name, []) if name else []
                if getattr(getattr(node, "func", None), "value", None) is not None and getattr(node.func.value, "id", "") == "sheet":
                    continue
                found |= {c.value for a in args for c in ast.walk(a) if isinstance(c, ast.Constant) and isinstance(c.value, str) and c.value.strip()}
    return found - {"more in the log", "+ {count} ", " more in the log", "start", "sodium and potassium", "group", "depth"}


def test_every_text_of_a_drawing_is_in_the_other_language_with_its_values():
    held, wanted = texts("fr")["drawing"], drawn()
    assert len(wanted) > 60
    assert not {text for text in wanted if text not in held}
    for text, said in held.items():
        assert names(text) == names(said), text


def strings(value) -> set[str]:
    """Return every text in a nest of data."""
    if isinstance(value, str):
        return {value}
    if isinstance(value, dict):
        return set().union(*(strings(v) for v in value.values()))
    if isinstance(value, (list, tuple)):
        return set().union(*(strings(v) for v in value))
    return set()


def tokens(texts_given) -> set[str]:
    return {word for text in texts_given for word in re.findall(r"[^\W\d_]{3,}", re.sub(r"\{\w*\}", " ", text).lower())}


STOPS = KINDS["rig.stopped"].model_fields["reason"].annotation.__args__


def driven(job) -> set[str]:
    """Return the words that a person typed into the job: names, the driller's own words, materials, notes. Sentences of calculations are not among them."""
    typed = set()
    for entry, _ in job.history:
        body = entry.body if isinstance(entry.body, dict) else dict(entry.body)
        told = ("content", "rating", "assessment", "duty", "answer", "design", "result", "advisories", "use", "what", "string", "method", "state")
        typed |= {text for text in strings({k: v for k, v in body.items() if k not in told}) if text not in STOPS}
        typed |= set(body.get("checks") or ()) if isinstance(body.get("checks"), dict) else set()
        typed |= strings(body.get("content", {}).get("card_name", "")) if isinstance(body.get("content"), dict) else set()
    return tokens(typed)


@pytest.mark.parametrize("state", ["before", "drilling", "built", "sealed"])
def test_a_french_set_holds_no_word_of_the_english_file(state):
    job = getattr(made_jobs, state)().job()
    english, french = texts("en"), texts("fr")
    known = tokens(strings({k: v for k, v in english.items() if k not in ("phrases", "terms")})) | tokens(french["phrases"]) | tokens(french["drawing"]) | tokens(french["terms"])
    also_french = tokens(strings({k: v for k, v in french.items() if k not in ("phrases", "drawing", "terms")})) | tokens(strings([list(french[k].values()) for k in ("phrases", "drawing", "terms")]))
    only_english = known - also_french - driven(job)
    assert {"strike", "measured", "ground", "drilled", "pumping"} & known and len(only_english) > 300
    seen = 0
    for document in PAPERS:
        try:
            pdf = paper_pdf(job, document, settings=Settings(firm="Maison Roseau", language="fr", currency="EUR")).pdf
        except Refused:
            continue
        seen += 1
        said = " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(pdf)).pages)
        assert texts("fr")["frame"]["as_told"] not in " ".join(said.split()), document
        assert tokens([said]) & only_english == set(), document
    assert seen >= 3


def test_what_the_water_means_and_wants_is_in_the_phrasebook():
    from borewright.water import Analysis, retest, treatments
    from borewright.water.meaning import _TREATMENT

    french = load_language("fr")
    said = [m.words for m in treatments((*_TREATMENT, "of no table"))]
    for use in ("drinking", "stock", "irrigation"):
        said += retest(Analysis({}), use, ("E. coli",)) if use == "drinking" else retest(Analysis({}), use, ())
    assert len(said) > 25
    assert [s for s in said if french.phrase(s) == s] == []


@pytest.mark.parametrize("named", ["doubts", "solutions"])
def test_what_a_test_can_doubt_or_tell_is_in_the_phrasebook(named):
    """Every sentence of these modules that ends as one, with a figure in each place for a value."""

    source = ast.parse((Path(__file__).parents[2] / "src" / "borewright" / "hydraulics" / f"{named}.py").read_text(encoding="utf-8"))
    docs = {id(n.body[0].value) for n in ast.walk(source) if isinstance(n, (ast.Module, ast.FunctionDef, ast.ClassDef)) and n.body and isinstance(n.body[0], ast.Expr)}
    inner = {id(part) for n in ast.walk(source) if isinstance(n, ast.JoinedStr) for part in n.values}
    told = []
    for node in ast.walk(source):
        if isinstance(node, ast.JoinedStr):
            told.append("".join(p.value if isinstance(p, ast.Constant) else "7" for p in node.values))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | inner:
            told.append(node.value)
    sentences = [s for s in told if s[:1].isalnum() and s[-1:] in ".?" and s.count(" ") > 4]
    assert len(sentences) > 8
    assert [s for s in sentences if load_language("fr").phrase(s) == s] == []


FIRMS_OWN = ("below-cost", "promise-below-cost", "least-depth", "metres-pay", "simulation-is-not-insurance")  # never on a customer's paper


def written(node: ast.expr, names: dict[str, ast.expr]) -> str:
    """Return a text as the source writes it, with a figure in each place for a value."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(written(p, names) for p in node.values)
    if isinstance(node, ast.FormattedValue):
        return "7%" if node.format_spec and written(node.format_spec, {}).endswith("%") else "7"
    if isinstance(node, ast.Name) and node.id in names:
        return written(names[node.id], {})
    return "7"


@pytest.mark.parametrize("package", ["hydraulics", "pumping", "water", "pricing"])
def test_every_doubt_that_reaches_a_paper_is_in_the_phrasebook(package):
    french, found = load_language("fr"), 0
    missing = []
    for path in (Path(__file__).parents[2] / "src" / "borewright" / package).glob("*.py"):
        if (package, path.stem) in {("hydraulics", "logger"), ("hydraulics", "planning"), ("water", "history"), ("pricing", "season"), ("hydraulics", "flowdimension")}:
            continue  # told on pages and by commands; no paper prints them
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {t.id: n.value for n in ast.walk(tree) if isinstance(n, ast.Assign) for t in n.targets if isinstance(t, ast.Name) and isinstance(n.value, (ast.Constant, ast.JoinedStr))}
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Advisory" and len(node.args) > 2:
                code = getattr(node.args[0], "value", "")
                said = written(node.args[2], names)
                if code in FIRMS_OWN or said == "7" or said.startswith(("7: 7", "7: pump")):
                    continue
                found += 1
                if french.known(said[:1].upper() + said[1:])[1] and french.known(said.replace("7: ", "new: ", 1))[1]:
                    missing.append((path.name, said))
    assert found > 2 and not missing


def test_sentences_told_one_after_another_or_of_one_thing_are_found_and_what_is_strange_is_named():
    french = load_language("fr")
    assert french.phrase("new: the pump gives 21 L/min where 25 L/min is needed.") == "neuf\u00a0: la pompe donne 21 L/min là où il faut 25 L/min."
    said, strange = french.known("Chosen by hand. Nobody translated this sentence yet.")
    assert said == "Choisi à la main. Nobody translated this sentence yet." and strange == ("Nobody translated this sentence yet.",)
    both = french.phrase("a test of 12 h, 65 readings: Confined, without end (Theis) 35%, Leaky (Hantush & Jacob) 11%")
    assert both == "un essai de 12 h, 65 lectures\u00a0: captif, sans limite (Theis) 35\u00a0%, semi-captif (Hantush et Jacob) 11\u00a0%"
