"""The archive: the same entries byte for byte, and every kind of damage and trick refused."""

import io
import json
import random
import zipfile
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.exchange.archive import attachments_named, entry_line, read_archive, write_archive
from borewright.record import content_hash, entry_from_json, entry_to_json

from .conftest import FULL, JOB, book, books

MADE = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
PHOTO = b"\xff\xd8 an invented photo " * 50
NAME = sha256(PHOTO).hexdigest()


def stored(entries):
    return [replace(e, received=MADE, sequence=n) for n, e in enumerate(entries, 1)]


def archive_of(entries, attachments=()):
    out = io.BytesIO()
    write_archive(entries, attachments, out, made=MADE)
    return out.getvalue()


@pytest.fixture
def whole(tmp_path):
    entries = stored(book(*FULL, ("rig.photo", {"attachment": NAME, "caption": "invented"})))
    path = tmp_path / "a.zip"
    path.write_bytes(archive_of(entries, {NAME: PHOTO}))
    return path, entries


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(books())
def test_entries_come_back_byte_for_byte(tmp_path_factory, made):
    path = tmp_path_factory.mktemp("archive") / "a.zip"
    entries = stored(made)
    path.write_bytes(archive_of(entries))
    back = read_archive(path).entries
    assert list(back) == entries
    assert [entry_line(e) for e in back] == [entry_line(e) for e in entries]
    assert [content_hash(e) for e in back] == [content_hash(e) for e in entries]
    assert archive_of(back) == path.read_bytes()


def test_attachments_come_back(whole):
    path, entries = whole
    archive = read_archive(path)
    assert archive.attachments == (NAME,) == tuple(attachments_named(entries)) and list(archive.each_attachment()) == [(NAME, PHOTO)]


def test_any_program_can_read_it_and_the_manifest_is_true(whole):
    path, entries = whole
    with zipfile.ZipFile(path) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        for one in manifest["files"]:
            data = archive.read(one["name"])
            assert (len(data), sha256(data).hexdigest()) == (one["size"], one["sha256"])
        lines = archive.read("entries.jsonl").decode().splitlines()
    assert [json.loads(line)["id"] for line in lines] == [str(e.id) for e in entries] and manifest["entries"] == len(entries)


def test_kinds_of_a_newer_program_are_kept(tmp_path):
    entries = stored(book(("enquiry.opened", {"title": "x"}), ("rig.from_the_future", {"a": [1, {"b": 2.5}], "c": "é"})))
    path = tmp_path / "a.zip"
    path.write_bytes(archive_of(entries))
    assert list(read_archive(path).entries) == entries


def test_rot_is_not_archived():
    with pytest.raises(BadInput, match="does not hold what its name says"):
        archive_of([], {NAME: PHOTO + b"x"})


def test_no_byte_can_change_unseen(whole, tmp_path):
    # One byte changed anywhere: refused, or the archive read is still exactly the one written (a clock or an attribute no one reads).
    path, entries = whole
    data, chance = path.read_bytes(), random.Random(3)
    refused = 0
    for _ in range(150):
        place = chance.randrange(len(data))
        bad = bytearray(data)
        bad[place] ^= 1 << chance.randrange(8)
        other = tmp_path / "b.zip"
        other.write_bytes(bytes(bad))
        try:
            got = read_archive(other)
            assert list(got.entries) == entries and got.attachments == (NAME,) and list(got.each_attachment()) == [(NAME, PHOTO)]
        except BadInput:
            refused += 1
    assert refused > 100


def rebuilt(path, change):
    with zipfile.ZipFile(path) as archive:
        members = {i.filename: archive.read(i) for i in archive.infolist()}
    return change(members) or members


def zipped(tmp_path, members):
    path = tmp_path / "changed.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members.items() if isinstance(members, dict) else members:
            archive.writestr(name, data)
    return path


def listed(members):
    """The members with a manifest that is true of them."""
    manifest = json.loads(members["manifest.json"])
    manifest["files"] = [{"name": n, "size": len(d), "sha256": sha256(d).hexdigest()} for n, d in members.items() if n != "manifest.json"]
    manifest["entries"] = members["entries.jsonl"].count(b"\n")
    return {**members, "manifest.json": json.dumps(manifest).encode()}


def _lines(change):
    def apply(members):
        lines = members["entries.jsonl"].split(b"\n")[:-1]
        return listed({**members, "entries.jsonl": b"".join(line + b"\n" for line in change(lines))})
    return apply


@pytest.mark.parametrize(("problem", "change"), [
    ("missing", lambda m: {k: v for k, v in m.items() if k != "manifest.json"}),
    ("not JSON", lambda m: {**m, "manifest.json": b"{"}),
    ("newer", lambda m: {**m, "manifest.json": m["manifest.json"].replace(b'"version": 1', b'"version": 2')}),
    ("listed", lambda m: {**m, "extra.txt": b"x"}),
    ("listed", lambda m: {k: v for k, v in m.items() if not k.startswith("attachments")}),
    ("manifest says", lambda m: {**m, "entries.jsonl": m["entries.jsonl"].replace(b"granite", b"granitE")}),
    ("manifest says", lambda m: {**m, f"attachments/{NAME}": PHOTO[:-1] + b"x"}),
    ("not a file of an archive", lambda m: listed({**m, "attachments/" + "0" * 64: b"other"})),
    ("another number", lambda m: {**m, "manifest.json": m["manifest.json"].replace(b'"entries": 32', b'"entries": 31')}),
    ("breaks off", lambda m: listed({**m, "entries.jsonl": m["entries.jsonl"] + b'{"id":'})),
    ("not JSON", _lines(lambda lines: [*lines, b"{nonsense"])),
    ("not an object", _lines(lambda lines: [*lines, b"5"])),
    ("byte for byte", _lines(lambda lines: [lines[0].replace(b'":', b'": ', 1), *lines[1:]])),
    ("is missing", _lines(lambda lines: [lines[0].replace(b'"title"', b'"titel"'), *lines[1:]])),
    ("path", lambda m: {**m, "../../evil": b"x"}), ("path", lambda m: {**m, "/etc/evil": b"x"}), ("path", lambda m: {**m, "C:\\evil": b"x"}),
    ("twice", lambda m: [*m.items(), ("entries.jsonl", b"")]),
])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_damage_is_refused_with_the_reason(whole, tmp_path, problem, change):
    path, _ = whole
    with pytest.raises(BadInput) as caught:
        read_archive(zipped(tmp_path, rebuilt(path, change)))
    assert problem in str(caught.value) and caught.value.want


def test_a_zip_bomb_is_refused_without_unpacking_it(whole, tmp_path):
    import tracemalloc

    path, _ = whole
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive, zipfile.ZipFile(path) as old:
        archive.writestr("manifest.json", old.read("manifest.json"))
        archive.writestr("README.txt", old.read("README.txt"))
        archive.writestr(f"attachments/{NAME}", PHOTO)
        with archive.open("entries.jsonl", "w", force_zip64=True) as out:
            for _ in range(300):
                out.write(bytes(2**20))
    assert bomb.stat().st_size < 2**20
    tracemalloc.start()
    with pytest.raises(BadInput, match="too much"):
        read_archive(bomb)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20 * 2**20


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip at all" * 10])
def test_what_is_no_zip_is_refused(tmp_path, data):
    path = tmp_path / "x.zip"
    path.write_bytes(data)
    with pytest.raises(BadInput):
        read_archive(path)


@settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.binary(max_size=400))
def test_noise_is_refused(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("noise") / "x.zip"
    path.write_bytes(data)
    with pytest.raises(BadInput):
        read_archive(path)


@pytest.mark.parametrize("hostile", ["manifest of many parts", "manifest longer than its files", "entries of empty lines", "an endless line", "a wide line"])
def test_a_small_archive_that_unpacks_to_much_costs_little(tmp_path, hostile):
    import tracemalloc

    lines = {"entries of empty lines": b"\n" * (100 * 2**20), "an endless line": b"[" * (100 * 2**20), "a wide line": b'{"a":[' + b"[]," * (20 * 2**20) + b"0]}\n"}.get(hostile, b"")
    files = [{"name": "entries.jsonl", "size": len(lines), "sha256": sha256(lines).hexdigest()}]
    manifest = json.dumps({"format": "borewright archive", "version": 1, "made": "2026-01-01T00:00:00+00:00", "entries": 1, "files": files}).encode()
    if hostile == "manifest of many parts":
        manifest = manifest[:-2] + b",[]" * 900 + b"]}"
    elif hostile == "manifest longer than its files":
        manifest = manifest[:-2] + b",[]" * (20 * 2**20) + b"]}"
    path = tmp_path / "hostile.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("entries.jsonl", lines)
        archive.writestr("manifest.json", manifest)
    del lines, manifest
    tracemalloc.start()
    with pytest.raises(BadInput):
        read_archive(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20 * 2**20


def test_an_archive_of_very_many_entries_is_read_and_taken_in_one_at_a_time(tmp_path):
    import tracemalloc

    from borewright.exchange import bring_in
    from borewright.storage.jobbook import open_job_book

    count = 6000
    note = entry_line(replace(book(("rig.note", {"text": ""}))[0], sequence=1, received=datetime(2026, 3, 14, tzinfo=UTC))).decode()
    opened = entry_line(replace(book(("enquiry.opened", {"title": "x"}))[0], sequence=1, received=datetime(2026, 3, 14, tzinfo=UTC))).decode()

    def lines():
        for n in range(count):
            line = json.loads(opened if n % 100 == 0 else note)
            yield entry_from_json(line | {"id": str(UUID(int=JOB.int + 10 + n)), "job": str(UUID(int=JOB.int + (n // 100 << 20))), "counter": n, "sequence": n + 1})

    path = tmp_path / "many.zip"
    with path.open("w+b") as stream:
        write_archive(lines(), {}, stream, made=MADE)
    held = read_archive(path)  # once, so that what is learned once does not count
    with open_job_book(tmp_path / "book") as kept:
        tracemalloc.start()
        try:
            done = bring_in(kept, path, by="office")
            _, most = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
        assert (held.count, len(held.jobs)) == (done.entries, len(done.jobs)) == (count, 60) and done.fresh == count
        assert len(kept.jobs()) == 60 and bring_in(kept, path, by="office").fresh == 0
    whole = sum(len(line) for line in map(entry_line, held.entries))
    assert most < 3 * whole, "all of the entries as objects take some ten times their text"
    assert [e.counter for e in held.each_entry()][:3] == [0, 1, 2]


def test_a_fault_in_a_late_entry_leaves_nothing_of_the_early_ones(tmp_path):
    from borewright.errors import Conflict
    from borewright.exchange import bring_in
    from borewright.storage.jobbook import open_job_book

    entries = [replace(e, sequence=n, received=e.at) for n, e in enumerate(book(*[("rig.note", {"text": str(n)}) for n in range(2500)]), 1)]
    path = tmp_path / "late.zip"
    with path.open("w+b") as stream:
        write_archive(entries, {}, stream, made=MADE)
    with open_job_book(tmp_path / "book") as kept:
        other = entry_from_json(entry_to_json(entries[-1]) | {"body": {"text": "another"}, "sequence": None, "received": None})
        kept.add([other])
        with pytest.raises(Conflict):
            bring_in(kept, path, by="office")
        assert len(kept.entries(JOB)) == 1


def test_an_archive_with_more_of_one_job_than_can_be_folded_is_refused(tmp_path, monkeypatch):
    from borewright.exchange import archive

    monkeypatch.setattr(archive, "MOST_OF_A_JOB", 5)
    path = tmp_path / "a.zip"
    with path.open("w+b") as stream:
        write_archive([replace(e, sequence=n, received=e.at) for n, e in enumerate(book(*[("rig.note", {"text": ""})] * 6), 1)], {}, stream, made=MADE)
    with pytest.raises(BadInput, match="too many entries of the job"):
        read_archive(path)
