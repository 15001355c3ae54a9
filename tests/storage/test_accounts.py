"""Accounts: nobody comes in without a passphrase, guessing is dear, and nothing secret lies in the database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from borewright.errors import BadInput, Conflict, NotFound, Refused, StoreError
from borewright.storage import tables as t
from borewright.storage.accounts import SESSION, TRIES, WITHIN, Accounts
from borewright.storage.engine import reading, writing

WORDS = "three wet rods and a hat"


@pytest.fixture
def accounts(book, monkeypatch):
    """Accounts whose hashing is made cheap, so that the tests are quick; the parameters in use have a test of their own."""
    from argon2 import PasswordHasher

    cheap = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr("borewright.storage.accounts._hasher", lambda: cheap)
    return Accounts(book.engine)


def test_a_name_and_its_passphrase_let_in_and_nothing_else_does(accounts):
    sam = accounts.create_user("Sam  Example", "driller", WORDS)
    assert accounts.verify("sam example", WORDS) == sam
    for name, passphrase in (("sam example", WORDS + "s"), ("sam example", ""), ("kim", WORDS), ("", ""), ("sam example", "\ud800" * 12)):
        with pytest.raises(Refused, match="The name or the passphrase is wrong"):
            accounts.verify(name, passphrase)


@pytest.mark.parametrize(
    ("name", "role", "passphrase", "field"),
    [("", "owner", WORDS, "name"), ("x" * 81, "owner", WORDS, "name"), ("a\x00b", "owner", WORDS, "name"), ("Sam", "king", WORDS, "role"),
     ("Sam", "owner", "short", "passphrase"), ("Sam", "owner", "aaaaaaaaaaaa", "passphrase"), ("Samuel Example", "owner", "samuel example", "passphrase"),
     ("Sam", "owner", "x" * 1001, "passphrase"), ("Sam", "owner", "\ud800bcdefghijk", "passphrase")],
)
def test_bad_accounts_are_refused_and_the_passphrase_is_not_repeated(accounts, name, role, passphrase, field):
    with pytest.raises(BadInput) as caught:
        accounts.create_user(name, role, passphrase)
    assert caught.value.field == field
    if field == "passphrase":
        assert caught.value.value == ""
    assert accounts.users() == []


def test_a_name_is_taken_once_however_it_is_written(accounts):
    accounts.create_user("Sam", "owner", WORDS)
    with pytest.raises(Conflict):
        accounts.create_user("SAM", "reader", WORDS)


def test_the_database_holds_no_passphrase_and_no_token(book, accounts):
    token = accounts.open_session(accounts.create_user("Sam", "owner", WORDS))
    with reading(book.engine) as connection:
        rows = [str(row) for table in (t.accounts, t.sessions) for row in connection.execute(sa.select(table))]
    assert len(rows) == 2
    assert not any(WORDS in row or token in row for row in rows)
    assert "$argon2id$" in rows[0]


def test_the_database_itself_refuses_an_unknown_role(book, accounts):
    accounts.create_user("Sam", "owner", WORDS)
    with pytest.raises(StoreError), writing(book.engine) as connection:
        connection.execute(sa.update(t.accounts).values(role="king"))


def test_guessing_is_stopped_for_a_time_even_with_the_right_passphrase(accounts):
    accounts.create_user("Sam", "owner", WORDS)
    now = datetime(2026, 3, 2, tzinfo=UTC)
    for _ in range(TRIES):
        with pytest.raises(Refused, match="is wrong"):
            accounts.verify("sam", "not the words", now=now)
    with pytest.raises(Refused, match="Too many"):
        accounts.verify("Sam", WORDS, now=now + WITHIN / 2)
    assert accounts.verify("sam", WORDS, now=now + WITHIN + timedelta(seconds=1)).name == "Sam"


def test_guessing_many_names_from_one_place_is_stopped(accounts):
    accounts.create_user("Sam", "owner", WORDS)
    for n in range(TRIES):
        with pytest.raises(Refused, match="is wrong"):
            accounts.verify(f"name {n}", "not the words", source="192.0.2.7")
    with pytest.raises(Refused, match="Too many"):
        accounts.verify("sam", WORDS, source="192.0.2.7")
    assert accounts.verify("sam", WORDS, source="192.0.2.8").name == "Sam"


def test_coming_in_clears_the_count(accounts):
    accounts.create_user("Sam", "owner", WORDS)
    for _ in range(3):
        for _ in range(TRIES - 1):
            with pytest.raises(Refused, match="is wrong"):
                accounts.verify("sam", "not the words", source="192.0.2.7")
        accounts.verify("sam", WORDS, source="192.0.2.7")


def test_a_session_opens_until_it_is_closed_or_over(accounts):
    now = datetime(2026, 3, 2, tzinfo=UTC)
    sam = accounts.create_user("Sam", "owner", WORDS)
    token, other = accounts.open_session(sam, now=now), accounts.open_session(sam, now=now)
    assert token != other
    assert accounts.session(token, now=now) == sam
    assert accounts.session(token + "x", now=now) is None
    assert accounts.session("", now=now) is None
    assert accounts.session("\ud800", now=now) is None
    assert accounts.session(token, now=now + SESSION + timedelta(seconds=1)) is None
    accounts.close_session(token)
    assert accounts.session(token, now=now) is None
    assert accounts.session(other, now=now) == sam
    accounts.set_passphrase("sam", "another set of words")
    assert accounts.session(other, now=now) is None
    with pytest.raises(Refused):
        accounts.verify("sam", WORDS)
    accounts.verify("sam", "another set of words")


def test_closing_an_account_ends_it_and_frees_the_name_but_an_owner_is_left(accounts):
    accounts.create_user("Sam", "owner", WORDS)
    kim = accounts.create_user("Kim", "owner", WORDS)
    token = accounts.open_session(kim)
    accounts.close_account("kim")
    assert accounts.session(token) is None
    with pytest.raises(Refused):
        accounts.verify("kim", WORDS)
    assert accounts.create_user("Kim", "reader", WORDS).role == "reader"
    with pytest.raises(Refused, match="only owner"):
        accounts.close_account("sam")
    with pytest.raises(NotFound):
        accounts.close_account("nobody")


@pytest.mark.parametrize(("role", "may"), [("owner", "read rig write firm"), ("driller", "read rig write"), ("offsider", "read rig"), ("reader", "read")])
def test_what_each_role_may_do(accounts, role, may):
    account = accounts.create_user("Sam", role, WORDS)
    assert [what for what in ("read", "rig", "write", "firm", "fly") if account.may(what)] == may.split()


def test_hashing_is_as_dear_as_the_standard_asks():
    # RFC 9106 section 4, second recommended option: argon2id, 3 passes, 64 MiB, 4 lanes (from memory, held in argon2-cffi's profile).
    from borewright.storage.accounts import _hasher

    assert _hasher().hash(WORDS).startswith("$argon2id$v=19$m=65536,t=3,p=4$")
