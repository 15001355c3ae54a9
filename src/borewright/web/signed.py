"""Who entered it: an entry that a signed-in person sends carries that person, whatever name the phone was given.

The phone's own id, count and clock stay as sent. Where the phone was given another name (it went from hand to hand), both are kept:
"Sam Ridge (phone: offsider)". An entry that is in the book already keeps the name under which it came: it may be sent again after
the phone was handed on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from borewright.errors import Conflict, NotFound
from borewright.record import Entry

__all__ = ["add_signed", "signed_name"]

_LONGEST = 120  # letters that a name of an entry may have


def signed_name(account: str, said: str) -> str:
    """Return the name that stands beside an entry: the account's, and the phone's where that is another."""
    if said.strip().casefold() == account.casefold():
        return account
    both = f"{account} (phone: {said.strip()}"
    return (both if len(both) < _LONGEST else both[:_LONGEST - 2] + "…") + ")"


def add_signed(book: Any, entries: Sequence[Entry], account: str) -> list[Any]:
    """Keep entries as `entry_from_json` gave them, in the name of an account (as sent where nobody signs in) and return their receipts."""
    if not account:
        return book.add(entries, checked=True)
    named = [replace(entry, by=signed_name(account, entry.by)) for entry in entries]
    try:
        return book.add(named, checked=True)
    except Conflict:
        return book.add([replace(entry, by=_kept_name(book, entry)) for entry in named], checked=True)


def _kept_name(book: Any, entry: Entry) -> str:
    try:
        return book.entry(entry.id).by
    except NotFound:
        return entry.by
