"""Who may use the app on a network: names, roles, passphrases, sessions, and a limit on guessing.

A passphrase is kept only as its argon2id hash, a session only as the SHA-256 of its token. `owner` may do everything;
`driller` everything but accounts; `offsider` writes in the rig log and reads; `reader` reads.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING
from uuid import UUID

import sqlalchemy as sa

from borewright.errors import BadInput, Conflict, NotFound, Refused
from borewright.record.entries import new_id
from borewright.storage import tables as t
from borewright.storage.engine import reading, writing

if TYPE_CHECKING:
    from argon2 import PasswordHasher

__all__ = ["MAY", "ROLES", "Account", "Accounts"]

ROLES = t.ROLES
# What each role may do. "rig" is to add rig entries, "write" any entry and paper, "firm" settings, rates and accounts.
MAY: dict[str, frozenset[str]] = {
    "owner": frozenset({"read", "rig", "write", "firm"}),
    "driller": frozenset({"read", "rig", "write"}),
    "offsider": frozenset({"read", "rig"}),
    "reader": frozenset({"read"}),
}
SESSION = timedelta(days=30)
TRIES, WITHIN = 8, timedelta(minutes=15)
SHORTEST = 10  # letters: length is what makes guessing dear; no rule on which letters


@dataclass(frozen=True, slots=True)
class Account:
    """One person who may sign in."""

    id: UUID
    name: str
    role: str
    made: datetime

    def may(self, what: str) -> bool:
        """Whether the role allows "read", "rig", "write" or "firm"."""
        return what in MAY[self.role]


@lru_cache(maxsize=1)
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher
    from argon2.profiles import RFC_9106_LOW_MEMORY

    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)  # RFC 9106 section 4, second recommended option: 64 MiB


@lru_cache(maxsize=1)
def _nobody() -> str:
    return _hasher().hash(secrets.token_hex(16))


def _hash_of(token: str) -> str:
    return sha256(token.encode(errors="replace")).hexdigest()


class Accounts:
    """The accounts of a store, on the engine of its job book."""

    def __init__(self, engine: sa.Engine):
        self.engine = engine

    def create_user(self, name: str, role: str, passphrase: str) -> Account:
        """Make an account. Raises BadInput for a bad name, role or passphrase, Conflict for a name that is taken."""
        name = _name(name)
        if role not in ROLES:
            raise BadInput("role", role, "is not a role", "one of " + ", ".join(ROLES))
        return self._keep(name, role, _hasher().hash(_sound(passphrase, name)))

    def adopt_owner(self, name: str, passphrase_hash: str) -> Account:
        """Make an owner whose passphrase is known only by the argon2 hash that an earlier version kept. Raises BadInput for what is none."""
        from argon2 import extract_parameters
        from argon2.exceptions import InvalidHashError

        try:
            extract_parameters(passphrase_hash)
        except InvalidHashError:
            raise BadInput("passphrase", "", "is not an argon2 hash", "the file that an earlier version wrote") from None
        return self._keep(_name(name), "owner", passphrase_hash)

    def _keep(self, name: str, role: str, passphrase_hash: str) -> Account:
        row = {
            "id": str(new_id()), "name": name, "key": name.casefold(), "role": role, "passphrase": passphrase_hash,
            "made": datetime.now(UTC).isoformat(), "closed": None,
        }
        with writing(self.engine) as connection:
            if connection.execute(sa.select(t.accounts.c.id).where(t.accounts.c.key == row["key"])).first():
                raise Conflict(f"The name {name!r} is taken.")
            connection.execute(sa.insert(t.accounts), row)
        return Account(UUID(row["id"]), name, role, datetime.fromisoformat(row["made"]))

    def users(self) -> list[Account]:
        """Return every open account, by name."""
        with reading(self.engine) as connection:
            rows = connection.execute(sa.select(t.accounts).where(t.accounts.c.closed.is_(None)).order_by(t.accounts.c.key))
            return [_account(row) for row in rows]

    def verify(self, name: str, passphrase: str, *, source: str = "", now: datetime | None = None) -> Account:
        """Return the account if name and passphrase fit.

        Raises Refused otherwise, in the same words and time for an unknown name and a wrong passphrase; after eight failed
        tries in a quarter of an hour for a name or from a source (an address), whatever is offered, until that time has passed.
        """
        from argon2.exceptions import VerificationError

        now = now or datetime.now(UTC)
        key = " ".join(str(name).split()).casefold()[:120]
        keys = [f"name {key}", *([f"source {source[:120]}"] if source else [])]
        # The try is counted before the slow check, in one transaction: many at once cannot slip under the limit.
        with writing(self.engine) as connection:
            connection.execute(sa.delete(t.tries).where(t.tries.c.at < (now - WITHIN).isoformat()))
            worst = max(connection.execute(sa.select(sa.func.count()).where(t.tries.c.key == k)).scalar() or 0 for k in keys)
            if worst < TRIES:
                connection.execute(sa.insert(t.tries), [{"key": k, "at": now.isoformat()} for k in keys])
            row = connection.execute(sa.select(t.accounts).where(t.accounts.c.key == key, t.accounts.c.closed.is_(None))).first()
        if worst >= TRIES:
            raise Refused(f"Too many failed tries. Wait {int(WITHIN.total_seconds() // 60)} minutes.")
        try:
            _hasher().verify(row.passphrase if row else _nobody(), passphrase)
        except (VerificationError, UnicodeEncodeError):
            row = None
        if row is None:
            raise Refused("The name or the passphrase is wrong.")
        with writing(self.engine) as connection:
            connection.execute(sa.delete(t.tries).where(t.tries.c.key.in_(keys)))
            if _hasher().check_needs_rehash(row.passphrase):
                connection.execute(sa.update(t.accounts).where(t.accounts.c.id == row.id).values(passphrase=_hasher().hash(passphrase)))
        return _account(row)

    def fits(self, name: str, passphrase: str) -> bool:
        """Whether a passphrase is that of an account, with no count of tries: for whoever sits at the machine itself."""
        from argon2.exceptions import VerificationError

        account = self._named(name)
        with reading(self.engine) as connection:
            kept = connection.execute(sa.select(t.accounts.c.passphrase).where(t.accounts.c.id == str(account.id))).scalar_one()
        try:
            return _hasher().verify(kept, passphrase)
        except (VerificationError, UnicodeEncodeError):
            return False

    def set_passphrase(self, name: str, passphrase: str) -> None:
        """Change a passphrase and end every session of the account."""
        account = self._named(name)
        kept = _hasher().hash(_sound(passphrase, account.name))
        with writing(self.engine) as connection:
            connection.execute(sa.update(t.accounts).where(t.accounts.c.id == str(account.id)).values(passphrase=kept))
            connection.execute(sa.delete(t.sessions).where(t.sessions.c.account == str(account.id)))

    def close_account(self, name: str) -> None:
        """Let nobody sign in by that name any more; what it wrote stays. Raises Refused for the last owner."""
        account = self._named(name)
        if account.role == "owner" and sum(a.role == "owner" for a in self.users()) == 1:
            raise Refused(f"{account.name} is the only owner; make another first.")
        with writing(self.engine) as connection:
            gone = {"closed": datetime.now(UTC).isoformat(), "key": f"{account.name.casefold()} {account.id}"}
            connection.execute(sa.update(t.accounts).where(t.accounts.c.id == str(account.id)).values(**gone))
            connection.execute(sa.delete(t.sessions).where(t.sessions.c.account == str(account.id)))

    def open_session(self, account: Account, *, now: datetime | None = None) -> str:
        """Return a fresh token for a cookie; the store keeps only its hash."""
        now = now or datetime.now(UTC)
        token = secrets.token_urlsafe(32)
        row = {"token_hash": _hash_of(token), "account": str(account.id), "made": now.isoformat(), "expires": (now + SESSION).isoformat()}
        with writing(self.engine) as connection:
            connection.execute(sa.delete(t.sessions).where(t.sessions.c.expires < now.isoformat()))
            connection.execute(sa.insert(t.sessions), row)
        return token

    def session(self, token: str, *, now: datetime | None = None) -> Account | None:
        """Return whose session a token opens, or None if it opens none or its time is over."""
        now = now or datetime.now(UTC)
        query = sa.select(t.accounts).join(t.sessions, t.sessions.c.account == t.accounts.c.id).where(
            t.sessions.c.token_hash == _hash_of(token), t.sessions.c.expires >= now.isoformat(), t.accounts.c.closed.is_(None),
        )
        with reading(self.engine) as connection:
            row = connection.execute(query).first()
        return _account(row) if row else None

    def close_session(self, token: str) -> None:
        """End a session; nothing happens if there is none."""
        with writing(self.engine) as connection:
            connection.execute(sa.delete(t.sessions).where(t.sessions.c.token_hash == _hash_of(token)))

    def _named(self, name: str) -> Account:
        key = " ".join(str(name).split()).casefold()
        for account in self.users():
            if account.name.casefold() == key:
                return account
        raise NotFound(f"No account is named {name!r}.")


def _account(row) -> Account:
    return Account(UUID(row.id), row.name, row.role, datetime.fromisoformat(row.made))


def _name(name: str) -> str:
    plain = " ".join(str(name).split())
    if not 1 <= len(plain) <= 80 or not plain.isprintable():
        raise BadInput("name", name, "is not a name", "1 to 80 letters")
    return plain


def _sound(passphrase: str, name: str) -> str:
    if not isinstance(passphrase, str) or not SHORTEST <= len(passphrase) <= 1000:
        raise BadInput("passphrase", "", f"is shorter than {SHORTEST} letters or longer than 1000", "several words that you can remember")
    if len(set(passphrase)) < 4 or passphrase.casefold().strip() == name.casefold():
        raise BadInput("passphrase", "", "is too easy to guess", "several words that you can remember")
    try:
        passphrase.encode()
    except UnicodeEncodeError:
        raise BadInput("passphrase", "", "holds letters that cannot be written", "several words") from None
    return passphrase
