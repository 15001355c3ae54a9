"""Rate cards, every version kept for ever under its own hash, so that an old quote can always be worked out again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from borewright.errors import BadInput, NotFound, StoreError
from borewright.storage.files import write_whole
from borewright.storage.home import data_folder

if TYPE_CHECKING:
    from borewright.pricing import RateCard

__all__ = ["RateCardVersion", "current_rate_card", "rate_card", "rate_card_versions", "save_rate_card"]

CURRENT = "current.txt"


@dataclass(frozen=True, slots=True)
class RateCardVersion:
    """One kept rate card: its version, its name, from when it holds, when it was first saved, whether it is in use."""

    version: str
    name: str
    valid_from: str
    saved: datetime
    current: bool


def _folder(folder: Path | None) -> Path:
    return (data_folder() if folder is None else Path(folder)) / "rate_cards"


def save_rate_card(card: RateCard, folder: Path | None = None) -> str:
    """Keep the card and make it the one in use; return its version. A card saved before is not written again."""
    from borewright.pricing import card_to_toml, card_version

    version = card_version(card)
    where = _folder(folder)
    path = where / f"{version}.toml"
    if not path.is_file():
        write_whole(path, card_to_toml(card).encode())
    write_whole(where / CURRENT, f"{version}\n".encode())
    return version


def rate_card(version: str, folder: Path | None = None) -> RateCard:
    """Return a kept card by its version. Raises NotFound, and StoreError if the file no longer holds that card."""
    from borewright.pricing import card_from_toml, card_version

    if not version.isalnum():
        raise BadInput("rate card", version, "is not the version of a rate card", "sixteen hexadecimal digits")
    path = _folder(folder) / f"{version}.toml"
    if not path.is_file():
        raise NotFound(f"No rate card {version} is kept.")
    try:
        card = card_from_toml(path.read_text(encoding="utf-8"))
    except (BadInput, UnicodeDecodeError) as error:
        raise StoreError(f"The rate card kept as {version} can no longer be read: {error}") from error
    if card_version(card) != version:
        raise StoreError(f"The rate card kept as {version} has been changed since: it now reads as {card_version(card)}.")
    return card


def current_rate_card(folder: Path | None = None) -> RateCard | None:
    """Return the card in use, or None where none was ever saved."""
    path = _folder(folder) / CURRENT
    return rate_card(path.read_text(encoding="utf-8").strip(), folder) if path.is_file() else None


def rate_card_versions(folder: Path | None = None) -> list[RateCardVersion]:
    """Return every kept card, the one saved last first."""
    where = _folder(folder)
    current = (where / CURRENT).read_text(encoding="utf-8").strip() if (where / CURRENT).is_file() else ""
    found = []
    for path in where.glob("*.toml"):
        card = rate_card(path.stem, folder)
        saved = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        found.append(RateCardVersion(path.stem, card.name, card.valid_from, saved, path.stem == current))
    return sorted(found, key=lambda v: (v.saved, v.version), reverse=True)
