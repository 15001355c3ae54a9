"""The API: receipts, idempotence, all or none, one error shape, and a schema for each calculation."""

from __future__ import annotations

from uuid import uuid4

import jsonschema
import pytest

from tests.web.conftest import entry


def test_entries_are_kept_once_with_receipts(client, book, job):
    sent = [entry(job, "rig.advanced", {"to_depth": 6.0 * n}, n) for n in (1, 2)]
    first = client.post("/api/entries", json=sent).json()["receipts"]
    assert [r["id"] for r in first] == [e["id"] for e in sent] and all(r["fresh"] for r in first)
    count = len(book.entries(job))
    again = client.post("/api/entries", json=sent).json()["receipts"]
    assert not any(r["fresh"] for r in again) and [r["sequence"] for r in again] == [r["sequence"] for r in first]
    assert len(book.entries(job)) == count and book.job(job).hole.depth == 12.0


def test_one_bad_entry_keeps_none_and_is_named(client, book, job):
    count = len(book.entries(job))
    answer = client.post("/api/entries", json=[entry(job, "rig.advanced", {"to_depth": 6.0}, 1), entry(job, "rig.advanced", {"to_depth": -6.0}, 2)])
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert set(error) == {"field", "value", "problem", "want"} and error["field"].startswith("entries[1].") and error["value"] == -6.0
    assert len(book.entries(job)) == count


def test_an_id_with_other_content_is_a_conflict(client, job):
    one = entry(job, "rig.advanced", {"to_depth": 6.0}, 1)
    client.post("/api/entries", json=[one])
    answer = client.post("/api/entries", json=[one | {"body": {"to_depth": 9.0}}])
    assert answer.status_code == 409 and "other content" in answer.json()["error"]["problem"]


@pytest.mark.parametrize("body, field", [("{", "body"), ("[NaN]", "body"), ("7", "entries"), ('[{"id": 1}]', "entries[0].job"), ("[3]", "entries[0]")])
def test_nonsense_is_refused_in_one_shape(client, body, field):
    answer = client.post("/api/entries", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["error"]["field"] == field and answer.json()["error"]["want"]


def test_a_form_cannot_pose_as_json(client):
    answer = client.post("/api/entries", content="[]", headers={"content-type": "text/plain"})
    assert answer.status_code == 422 and answer.json()["error"]["field"] == "Content-Type"


def test_jobs_are_read_back_with_their_history(client, book, job):
    assert [j["id"] for j in client.get("/api/jobs").json()] == [str(job)]
    found = client.get(f"/api/jobs/{job}").json()
    assert found["stage"] == "quote" and len(found["history"]) == len(book.entries(job))
    assert client.get("/api/jobs/Test paddock").json()["id"] == str(job)
    missing = client.get(f"/api/jobs/{uuid4()}")
    assert missing.status_code == 404 and "error" in missing.json()


def test_each_calculation_has_a_schema_that_its_examples_meet_and_its_answers_follow(client):
    from borewright.bench.declare import calculations, input_fields

    document = client.get("/api/openapi.json").json()
    assert calculations()
    for name, one in calculations().items():
        operation = document["paths"][f"/api/bench/{name}"]["post"]
        wanted = operation["requestBody"]["content"]["application/json"]["schema"]
        given = {f.name: f.example for f in input_fields(one) if f.required}
        jsonschema.validate(given, wanted)
        answer = client.post(f"/api/bench/{name}", json=given)
        if answer.status_code == 422:  # no field alone is needed, but some of them are: then all the examples together must do
            given = {f.name: f.example for f in input_fields(one) if f.example}
            jsonschema.validate(given, wanted)
            answer = client.post(f"/api/bench/{name}", json=given)
        assert answer.status_code == 200, (name, answer.text)
        jsonschema.validate(answer.json(), operation["responses"]["200"]["content"]["application/json"]["schema"])
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(given | {"nonsense": 1}, wanted)
        bad = client.post(f"/api/bench/{name}", json=given | {"nonsense": 1})
        assert bad.status_code == 422 and bad.json()["error"]["field"] == "nonsense"


def test_attachments_are_named_by_their_hash(client, book):
    from hashlib import sha256

    answer = client.post("/api/attachments", content=b"chips", headers={"content-type": "application/octet-stream"}).json()
    assert answer["sha256"] == sha256(b"chips").hexdigest() and book.attachment(answer["sha256"]).read_bytes() == b"chips"
    assert client.post("/api/attachments", content=b"").status_code == 422


def test_the_pack_holds_what_the_rig_needs_offline(client, job):
    (packed,) = client.get("/api/rig/pack").json()["jobs"]
    assert packed["id"] == str(job) and packed["need"] == 0.25e-3 and "<svg" in packed["section"]
    assert packed["table"]["version"] == 1
