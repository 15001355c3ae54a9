"""Who may speak to the app, and how."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from borewright.storage import Accounts
from borewright.storage.accounts import ROLES
from borewright.web import create_app
from borewright.web.guard import LOOPBACK, Access, Pace, needed
from tests.web.conftest import entry


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "192.168.1.7", "127.0.0.1.evil.example", ""])
def test_a_foreign_host_name_is_not_answered(client, host):
    assert client.get("/jobs", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost", "localhost:8737", "127.0.0.1:8737", "[::1]:8737"])
def test_this_machine_is_answered(client, host):
    assert client.get("/jobs", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("headers", [
    {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://localhost:1"}, {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"},
])
def test_a_write_from_another_page_is_refused(client, book, headers, job):
    count = len(book.entries(job))
    sent = [entry(job, "rig.note", {"text": "forged"}, 1)]
    assert client.post("/api/entries", json=sent, headers=headers).status_code == 403
    assert client.post(f"/jobs/{job}/rig/note", data={"text": "forged"}, headers=headers).status_code == 403
    assert len(book.entries(job)) == count


def test_a_write_from_our_own_page_is_taken(client, job):
    headers = {"origin": "http://localhost", "sec-fetch-site": "same-origin"}
    assert client.post(f"/jobs/{job}/rig/note", data={"hole": "1", "text": "ours"}, headers=headers).status_code == 303


def test_pages_load_scripts_from_files_of_ours_only(client, job):
    for path in ("/jobs", f"/jobs/{job}/quote", "/bench", "/rig", "/nope"):
        answer = client.get(path)
        policy = answer.headers["content-security-policy"]
        scripts = re.search(r"script-src ([^;]+)", policy).group(1)
        assert scripts == "'self'" and "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert not re.search(r"<script(?![^>]*\bsrc=)", answer.text) and not re.search(r"\son[a-z]+=", answer.text.split("<svg")[0])
        assert not re.search(r'(?:src|href)="(?:https?:)?//', answer.text)


def test_a_body_too_large_is_refused_however_it_comes(client, book, monkeypatch):
    from borewright.web import guard

    monkeypatch.setattr(guard, "LARGEST_BODY", 1000)
    assert client.post("/api/attachments", content=b"x" * 1001).status_code == 413
    cut = client.post("/api/attachments", content=(b"x" * 600 for _ in range(2)))
    assert cut.status_code == 413 and "32 MB" in cut.text
    assert client.post("/api/attachments", content=b"x" * 1000).status_code == 200


WORDS = "four words for rigs"


@pytest.fixture
def quick(monkeypatch):
    """Passphrases hashed cheaply, and nobody slowed by another test's tries."""
    from argon2 import PasswordHasher

    from borewright.storage import accounts
    from borewright.web import signin

    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(accounts, "_hasher", lambda: cheap)
    monkeypatch.setattr(accounts, "_nobody", lambda: cheap.hash("nobody at all"))
    monkeypatch.setattr(signin, "_ALL_TRIES", Pace(30, 30))


@pytest.fixture
def accounts(book, quick):
    made = Accounts(book.engine)
    for role in ROLES:
        made.create_user(f"Invented {role}", role, WORDS)
    return made


@pytest.fixture
def locked(book, accounts):
    access = Access(hosts=LOOPBACK, sign_in=True, secure=True, addresses=("https://10.0.0.5:8737",))
    with TestClient(create_app(book, book.folder, access=access), base_url="https://localhost", follow_redirects=False) as opened:
        yield opened


def _sign_in(client, role: str):
    return client.post("/sign-in", data={"name": f"invented {role}", "passphrase": WORDS})


def test_nothing_is_told_without_signing_in(locked, job):
    assert locked.get("/jobs").headers["location"] == "/sign-in"
    assert locked.get("/api/jobs").status_code == 401 and "error" in locked.get("/api/jobs").json()
    assert locked.get("/rig").status_code == 303 and locked.get("/api/rig/pack").status_code == 401
    assert locked.get("/phone").status_code == 200
    assert locked.post("/sign-in", data={"name": "Invented owner", "passphrase": "guess"}).status_code == 403
    assert locked.post("/sign-in", data={"name": "nobody", "passphrase": WORDS}).status_code == 403
    answer = _sign_in(locked, "driller")
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "Secure" in cookie and "SameSite=lax" in cookie and WORDS not in cookie
    assert locked.get("/api/jobs").json()[0]["id"] == str(job)
    assert "Signed in as Invented driller, driller" in locked.get("/jobs").text
    assert locked.get("/api/rig/pack").json()["name"] == "Invented driller"
    locked.post("/sign-out")
    token = re.search(r"borewright_session=([^;]+)", cookie).group(1)
    assert locked.get("/api/jobs", headers={"cookie": f"borewright_session={token}"}).status_code == 401  # ended in the store, not only forgotten


def test_a_made_up_or_closed_session_opens_nothing(locked, accounts, job):
    assert locked.get("/api/jobs", headers={"cookie": "borewright_session=" + "x" * 43}).status_code == 401
    _sign_in(locked, "offsider")
    assert locked.get("/api/jobs").status_code == 200
    accounts.close_account("Invented offsider")
    assert locked.get("/api/jobs").status_code == 401


_FORMS = {
    "rig": ("/jobs/{job}/rig/note", {"hole": "1", "text": "seen"}), "write": ("/jobs/{job}/enquiry/need", {"flow": "12 L/min"}),
    "firm": ("/settings", {"firm": "Invented", "word": "bore", "units": "metric", "paper": "A4", "currency": "AUD", "zone": "UTC", "bag_mass": "20 kg", "colour": "#2f5d62",
                           "quote_valid_days": "30", "keep_backups": "14", "start_of_day": "hoses", "rods": "89 mm", "compressors": "25 m3/min at 2400 kPa"}),
}


@pytest.mark.parametrize("role", ROLES)
def test_each_role_does_what_it_may_and_no_more(locked, book, job, role):
    _sign_in(locked, role)
    may = {"owner": {"rig", "write", "firm"}, "driller": {"rig", "write"}, "offsider": {"rig"}, "reader": set()}[role]
    for what, (path, data) in _FORMS.items():
        before = len(book.entries(job))
        answer = locked.post(path.format(job=job), data=data)
        assert answer.status_code == (303 if what in may else 403), (what, answer.text[:300])
        if what != "firm":
            assert len(book.entries(job)) == before + (what in may)
    for kind, body, what in (("rig.note", {"text": "by phone"}, "rig"), ("enquiry.need", {"flow": 1e-4}, "write")):
        answer = locked.post("/api/entries", json=[entry(job, kind, body, 9)])
        assert answer.status_code == (200 if what in may else 403), answer.text
    assert locked.get("/people").status_code == (200 if "firm" in may else 403)
    assert locked.post("/people", data={"name": "X", "role": "owner", "passphrase": WORDS}).status_code == (303 if "firm" in may else 403)
    assert locked.get(f"/jobs/{job}/quote").status_code == locked.get("/settings").status_code == 200
    assert locked.post("/api/bench/nothing", json={}).status_code == 404  # to calculate is to read
    assert locked.post("/jobs", data={"title": "New"}).status_code in ({303, 405, 422} if "write" in may else {403})


def test_an_offsider_strikes_out_of_the_rig_log_only(locked, book, job):
    _sign_in(locked, "offsider")
    noted = book.write(job, "rig.note", {"text": "wrong"}, by="tester")
    need = next(e for e in book.entries(job) if e.kind == "enquiry.need")
    for target, status in ((noted, 303), (need, 403)):
        assert locked.post(f"/jobs/{job}/strike/{target.id}", data={"why": "wrong"}).status_code == status
    other = book.write(job, "rig.note", {"text": "wrong too"}, by="tester")
    for target, status in ((other, 200), (need, 403)):
        assert locked.post("/api/entries", json=[entry(job, "struck_out", {}, 3, strikes_out=target.id)]).status_code == status
    struck = {e.id for e, striker in book.job(job).history if striker is not None}
    assert {noted.id, other.id} <= struck and need.id not in struck
    # What the desk refused and the phone struck out is not known here: the line through it is kept, and nothing waits on the phone.
    assert locked.post("/api/entries", json=[entry(job, "struck_out", {}, 4, strikes_out=uuid4())]).status_code == 200


def test_what_is_written_on_the_desk_carries_the_name(locked, book, job):
    _sign_in(locked, "driller")
    locked.post(f"/jobs/{job}/rig/note", data={"hole": "1", "text": "mine"})
    assert [e.by for e in book.entries(job) if e.kind == "rig.note"] == ["Invented driller"]


def test_guessing_is_slowed(locked):
    answers = [locked.post("/sign-in", data={"name": "Invented owner", "passphrase": f"guess {n}"}).status_code for n in range(10)]
    assert answers == [403] * 8 + [429] * 2
    assert _sign_in(locked, "owner").status_code == 429


def test_a_person_changes_the_passphrase_and_is_signed_out_elsewhere(locked, book, accounts, job):
    _sign_in(locked, "reader")
    with TestClient(locked.app, base_url="https://localhost", follow_redirects=False) as elsewhere:
        _sign_in(elsewhere, "reader")
        assert locked.post("/people/mine", data={"now": "not it at all", "passphrase": "five new words for me"}).status_code == 422
        assert locked.post("/people/mine", data={"now": WORDS, "passphrase": "short"}).status_code == 422
        assert elsewhere.get("/api/jobs").status_code == 200
        assert locked.post("/people/mine", data={"now": WORDS, "passphrase": "five new words for me"}).status_code == 303
        assert locked.get("/api/jobs").status_code == 200 and elsewhere.get("/api/jobs").status_code == 401
    assert accounts.verify("Invented reader", "five new words for me").role == "reader"


def test_an_owner_makes_and_closes_people_but_not_the_last_owner(locked, accounts):
    _sign_in(locked, "owner")
    bad = locked.post("/people", data={"name": "Invented hand", "role": "driller", "passphrase": "short"})
    assert bad.status_code == 422 and "shorter than" in bad.text and "Invented hand" in bad.text
    assert locked.post("/people", data={"name": "Invented Driller", "role": "driller", "passphrase": WORDS}).status_code == 422
    assert locked.post("/people/close", data={"name": "Invented owner"}).status_code == 422
    assert locked.post("/people/close", data={"name": "Invented reader"}).status_code == 303
    assert {a.name for a in accounts.users()} == {"Invented owner", "Invented driller", "Invented offsider"}


def test_the_first_owner_comes_from_the_passphrase_and_an_old_file_moves_over(book, tmp_path, quick, monkeypatch):
    from argon2 import PasswordHasher

    from borewright.errors import Refused
    from borewright.web.lan import first_owner

    made = Accounts(book.engine)
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    with pytest.raises(Refused):
        first_owner(tmp_path, made, "owner")
    old = tmp_path / "passphrase.argon2"
    old.write_text(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("the old one for all"), encoding="ascii")
    assert "R. Invented" in first_owner(tmp_path, made, "R. Invented")
    assert not old.exists() and made.verify("r. invented", "the old one for all").role == "owner"
    token = made.open_session(made.users()[0])
    given = tmp_path / "words"
    given.write_text("the old one for all\n", encoding="utf-8")
    first_owner(tmp_path, made, "R. Invented", passphrase_file=str(given))
    assert made.session(token) is not None  # the same passphrase again ends no session
    given.write_text("a new one for all of us\n", encoding="utf-8")
    first_owner(tmp_path, made, "R. Invented", passphrase_file=str(given))
    assert made.session(token) is None and made.verify("R. Invented", "a new one for all of us").role == "owner"
    assert len(made.users()) == 1


def test_what_a_path_asks_leave_for():
    assert [needed(m, p) for m, p in (("GET", "/rates"), ("POST", "/rates"), ("GET", "/people"), ("POST", "/people/mine"), ("POST", "/api/entries"), ("POST", "/jobs/1/rig/note"),
                                      ("POST", "/jobs/1/quote/rig"), ("POST", "/registers"), ("DELETE", "/jobs"), ("POST", "/bench/x"))] == [
        "read", "firm", "firm", "read", "rig", "rig", "write", "write", "write", "read"]


def test_a_pace_gives_back_with_time():
    pace = Pace(a_minute=60, burst=2)
    assert [pace.take("a", now=t) for t in (0, 0, 0, 0.5, 1.1, 1.2)] == [True, True, False, False, True, False]
    assert pace.take("b", now=0)


def test_the_certificate_names_this_machine_and_its_authority_is_held_to_local_networks(tmp_path):
    from cryptography import x509
    from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

    from borewright.web.lan import make_certificate

    chain, key, fingerprint = make_certificate(tmp_path, ["192.168.7.9"])
    leaf, authority = x509.load_pem_x509_certificates(chain.read_bytes())
    import ipaddress

    trusted = PolicyBuilder().store(Store([authority]))
    verified = trusted.build_server_verifier(x509.IPAddress(ipaddress.ip_address("192.168.7.9"))).verify(leaf, [])
    assert verified[0] == leaf
    with pytest.raises(VerificationError):
        trusted.build_server_verifier(x509.IPAddress(ipaddress.ip_address("192.168.7.10"))).verify(leaf, [])
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    networks = [n.value for n in limits.permitted_subtrees if isinstance(n, x509.IPAddress)]
    assert networks and all(n.is_private or n.subnet_of(ipaddress.ip_network("100.64.0.0/10")) for n in networks)
    assert fingerprint.count(":") == 31 and key.stat().st_mode & 0o077 == 0
    again = make_certificate(tmp_path, ["192.168.7.10"])
    assert again[2] == fingerprint  # a new address of a local network asks no phone to trust anything new
    chain, _, other = make_certificate(tmp_path, ["203.0.113.9"])
    leaf, authority = x509.load_pem_x509_certificates(chain.read_bytes())
    verifier = PolicyBuilder().store(Store([authority])).build_server_verifier(x509.IPAddress(ipaddress.ip_address("203.0.113.9")))
    assert verifier.verify(leaf, []) and other != fingerprint
