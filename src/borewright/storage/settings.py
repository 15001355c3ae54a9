"""The firm's settings: one TOML file that a person can read and edit, checked when read and written whole or not at all."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

from borewright.errors import BadInput
from borewright.quantities import parse
from borewright.storage.files import write_whole
from borewright.storage.home import data_folder

__all__ = ["START_OF_DAY", "Settings", "load_settings", "save_settings", "settings_from_dict"]

FILE = "settings.toml"
# What a crew confirms before the first rod, until the firm says its own list. Common practice, no source; it replaces no local rule.
START_OF_DAY = (
    "overhead lines looked for", "buried services asked for", "hoses and whip checks", "gas looked out for", "stop buttons tried",
    "a way to hold flowing water", "first aid and way out known",
)
_MOST_LINES = 30
LANGUAGE_NAMES = {"en": "English", "fr": "français"}  # each in itself
LANGUAGES = ("en", "fr")  # of the papers; a test holds them to the files of borewright.papers.language


@dataclass(frozen=True, slots=True)
class Settings:
    """What the firm says once: who it is, its words, its units and its paper.

    `bag_mass` is the mass of one bag of cement [kg]; `keep_backups` the number of days that nightly backups are kept; `language` that of the papers;
    `owner_page` the address of the page that the code on a handover pack opens, with {job} where the job's id stands.
    `start_of_day` is what the crew confirms before the first rod; `rods` are outside diameters, `compressors` "FLOW at PRESSURE".
    """

    firm: str = ""
    owner: str = ""
    address: str = ""
    phone: str = ""
    email: str = ""
    licence: str = ""
    language: str = "en"
    word: str = "bore"
    units: str = "metric"
    paper: str = "A4"
    currency: str = "AUD"
    zone: str = "UTC"
    bag_mass: float = 20.0
    logo: str = ""
    colour: str = "#2f5d62"
    quote_valid_days: int = 30
    keep_backups: int = 14
    terms: str = ""
    owner_page: str = ""
    start_of_day: tuple[str, ...] = START_OF_DAY
    rods: tuple[str, ...] = ("89 mm", "114 mm")
    compressors: tuple[str, ...] = ("25 m3/min at 2400 kPa",)

    def __post_init__(self) -> None:
        for name in ("start_of_day", "rods", "compressors"):
            if isinstance(getattr(self, name), list):
                object.__setattr__(self, name, tuple(getattr(self, name)))
        for name, test in _TESTS.items():
            test(name, getattr(self, name))

    @property
    def unit_system(self) -> str:
        """The name that `borewright.quantities` gives the system of units."""
        return "US" if self.units == "us" else self.units

    @property
    def rod_diameters(self) -> tuple[float, ...]:
        """Outside diameters of the rods [m]."""
        return tuple(_rod(text) for text in self.rods)

    @property
    def compressor_values(self) -> tuple[tuple[float, float], ...]:
        """(free air [m3/s], gauge pressure [Pa]) of each compressor."""
        return tuple(_compressor(text) for text in self.compressors)


def _text(longest: int) -> Callable[[str, Any], None]:
    def test(name: str, value: Any) -> None:
        if not isinstance(value, str):
            raise BadInput(name, value, "is not text", "text")
        if len(value) > longest:
            raise BadInput(name, value, "is too long", f"at most {longest} letters")
        if not value.replace("\n", "").replace("\t", "").isprintable():
            raise BadInput(name, value, "holds letters that cannot be printed", "plain text")

    return test


def _choice(*words: str) -> Callable[[str, Any], None]:
    def test(name: str, value: Any) -> None:
        if value not in words:
            raise BadInput(name, value, "is not one of the words it may be", "one of " + ", ".join(words))

    return test


def _form(pattern: str, want: str) -> Callable[[str, Any], None]:
    def test(name: str, value: Any) -> None:
        if not isinstance(value, str) or not re.fullmatch(pattern, value):
            raise BadInput(name, value, "has the wrong form", want)

    return test


def _number(least: float, most: float, *, whole: bool = False) -> Callable[[str, Any], None]:
    def test(name: str, value: Any) -> None:
        if isinstance(value, bool) or not isinstance(value, int if whole else (int, float)):
            raise BadInput(name, value, "is not a whole number" if whole else "is not a number", f"from {least:g} to {most:g}")
        if not least <= value <= most:
            raise BadInput(name, value, "is out of range", f"from {least:g} to {most:g}")

    return test


@lru_cache(maxsize=64)
def _known_zone(name: str) -> bool:
    from zoneinfo import ZoneInfo

    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        return False
    return True


def _owner_page(name: str, value: Any) -> None:
    if value == "":
        return
    _text(300)(name, value)
    # A code that is scanned from a headworks years later must open a page and nothing else.
    if not re.fullmatch(r"https?://[^\s{}\"<>]+(\{job\}[^\s{}\"<>]*)?", value) or value.count("{job}") > 1:
        raise BadInput(name, value, "is not the address of a page", "such as https://example.org/bores/{job}, or nothing")


def _zone(name: str, value: Any) -> None:
    if not isinstance(value, str) or not _known_zone(value):
        raise BadInput(name, value, "is not a time zone", "an IANA name such as Australia/Brisbane")


def _rod(text: str) -> float:
    value = parse(text, "diameter", field="rods").si
    if not 0.03 <= value <= 0.5:
        raise BadInput("rods", text, "is not the outside of a drill rod", "30 to 500 mm, such as 89 mm")
    return value


def _compressor(text: str) -> tuple[float, float]:
    flow, found, pressure = text.partition(" at ")
    if not found:
        raise BadInput("compressors", text, "has no pressure", "lines such as 25 m3/min at 2400 kPa")
    values = parse(flow, "air_flow", field="compressors").si, parse(pressure, "pressure", field="compressors").si
    if not (0.01 <= values[0] <= 3 and 1e5 <= values[1] <= 1e7):
        raise BadInput("compressors", text, "is not a rig's compressor", "0.6 to 180 m3/min at 100 to 10000 kPa")
    return values


def _lines(read: Callable[[str], Any] | None = None) -> Callable[[str, Any], None]:
    def test(name: str, value: Any) -> None:
        if not isinstance(value, tuple) or not all(isinstance(line, str) for line in value):
            raise BadInput(name, value, "is not a list of texts", "one line each")
        if not 1 <= len(value) <= _MOST_LINES or len(set(value)) < len(value):
            raise BadInput(name, value, "is empty, too long or says a line twice", f"1 to {_MOST_LINES} lines")
        for line in value:
            if not line.strip() or line != line.strip() or len(line) > 120 or not line.isprintable():
                raise BadInput(name, line, "cannot stand as a line", "1 to 120 letters")
            if read is not None:
                read(line)

    return test


_TESTS: dict[str, Callable[[str, Any], None]] = {
    "firm": _text(200), "owner": _text(200), "address": _text(1000), "phone": _text(60), "email": _form(r"|[^@\s]+@[^@\s]+", "name@place, or nothing"),
    "licence": _text(120), "language": _choice(*LANGUAGES), "word": _choice("bore", "well"), "units": _choice("metric", "us", "imperial"), "paper": _choice("A4", "Letter"),
    "currency": _form(r"[A-Z]{3}", "three capital letters, ISO 4217, such as AUD"), "zone": _zone, "bag_mass": _number(1, 100),
    "logo": _text(500), "colour": _form(r"#[0-9a-fA-F]{6}", "a colour such as #2f5d62"), "quote_valid_days": _number(1, 365, whole=True),
    "keep_backups": _number(1, 3650, whole=True), "terms": _text(8000), "owner_page": _owner_page,
    "start_of_day": _lines(), "rods": _lines(_rod), "compressors": _lines(_compressor),
}


def settings_from_dict(given: dict[str, Any]) -> Settings:
    """Return the settings that a table or a form holds; what is absent keeps its default. Raises BadInput for any bad value."""
    names = [f.name for f in fields(Settings)]
    for name in given:
        if name not in names:
            raise BadInput(name, given[name], "is not a setting", "one of " + ", ".join(names))
    return Settings(**given)


def load_settings(folder: Path | None = None) -> Settings:
    """Return the settings of a data folder, or the defaults where none were saved."""
    import tomllib

    path = (data_folder() if folder is None else Path(folder)) / FILE
    if not path.is_file():
        return Settings()
    try:
        return settings_from_dict(tomllib.loads(path.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadInput(FILE, str(path), f"is not TOML: {error}", "lines such as firm = \"…\"") from None


def save_settings(settings: Settings, folder: Path | None = None) -> Path:
    """Write the settings so that a reader finds the old or the new and never a part; return the file."""
    import tomli_w

    path = (data_folder() if folder is None else Path(folder)) / FILE
    write_whole(path, tomli_w.dumps(asdict(settings), multiline_strings=True).encode())
    return path
