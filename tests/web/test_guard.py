"""Who may speak to the app, and how."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from borewright.web import create_app
from borewright.web.guard import LOOPBACK, Access, Pace, Sessions
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
    from starlette.requests import ClientDisconnect

    from borewright.web import guard

    monkeypatch.setattr(guard, "LARGEST_BODY", 1000)
    assert client.post("/api/attachments", content=b"x" * 1001).status_code == 413
    with pytest.raises(ClientDisconnect):
        client.post("/api/attachments", content=(b"x" * 600 for _ in range(2)))
    assert client.post("/api/attachments", content=b"x" * 1000).status_code == 200


@pytest.fixture
def locked(book):
    from argon2 import PasswordHasher

    hashed = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("four words for rigs")
    access = Access(hosts=LOOPBACK, passphrase_hash=hashed, secure=True, addresses=("https://10.0.0.5:8737",))
    with TestClient(create_app(book, book.folder, access=access), base_url="https://localhost", follow_redirects=False) as opened:
        yield opened


def test_nothing_is_told_without_the_passphrase(locked, job, monkeypatch):
    from borewright.web import signin

    monkeypatch.setattr(signin, "_TRIES", Pace(5, 5))
    monkeypatch.setattr(signin, "_ALL_TRIES", Pace(30, 30))
    assert locked.get("/jobs").headers["location"] == "/sign-in"
    assert locked.get("/api/jobs").status_code == 401 and "error" in locked.get("/api/jobs").json()
    assert locked.get("/rig").status_code == 303
    assert locked.get("/phone").status_code == 200
    assert locked.post("/sign-in", data={"passphrase": "guess"}).status_code == 403
    answer = locked.post("/sign-in", data={"passphrase": "four words for rigs"})
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "Secure" in cookie and "SameSite=lax" in cookie and "four words" not in cookie
    assert locked.get("/api/jobs").json()[0]["id"] == str(job)


def test_guessing_is_slowed(locked, monkeypatch):
    from borewright.web import signin

    monkeypatch.setattr(signin, "_TRIES", Pace(5, 5))
    monkeypatch.setattr(signin, "_ALL_TRIES", Pace(30, 30))
    answers = [locked.post("/sign-in", data={"passphrase": f"guess {n}"}).status_code for n in range(7)]
    assert answers == [403] * 5 + [429] * 2
    assert locked.post("/sign-in", data={"passphrase": "four words for rigs"}).status_code == 429


def test_a_pace_gives_back_with_time():
    pace = Pace(a_minute=60, burst=2)
    assert [pace.take("a", now=t) for t in (0, 0, 0, 0.5, 1.1, 1.2)] == [True, True, False, False, True, False]
    assert pace.take("b", now=0)


def test_a_session_cannot_be_forged_or_outlive_itself(tmp_path):
    sessions = Sessions(tmp_path)
    cookie = sessions.issue(now=1_000_000.0)
    assert sessions.holds(cookie, now=1_000_100.0)
    assert not sessions.holds(cookie, now=1_000_000.0 + 31 * 86400)
    until, rest = cookie.split(".", 1)
    assert not sessions.holds(f"{int(until) + 9_000_000}.{rest}", now=1_000_100.0)
    assert not sessions.holds("", now=0) and not Sessions(tmp_path / "other").holds(cookie, now=1_000_100.0)
    assert (tmp_path / "web_secret").stat().st_mode & 0o077 == 0


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
