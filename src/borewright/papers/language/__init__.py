"""The texts of the papers, one TOML file a language. A firm picks one in its settings; a new language is one more file here.

`[format]` says how numbers, money and dates are written; `[papers]` holds the texts by key, `{name}` standing for a value; `[terms]` the words that the
job book uses; `[drawing]` the texts of drawings by their English; `[phrases]` sentences that calculations tell in English, with `{a}` where a figure stands, against the same in the language.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from borewright.errors import BadInput

__all__ = ["Language", "languages", "load_language"]

FOLDER = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Language:
    """The texts of one language, and its phrasebook made ready to look things up."""

    code: str
    texts: dict[str, Any]
    patterns: tuple[tuple[re.Pattern[str], str], ...]

    def phrase(self, told: str) -> str:
        """Return a sentence told in English in this language, or as it was told where the phrasebook has it not."""
        for text in (told, told.removesuffix(".")):
            found = self.texts["phrases"].get(text)
            if found is not None:
                return found + ("." if text != told else "")
        for pattern, answer in self.patterns:
            if match := pattern.fullmatch(told):
                return answer.format(**{name: self._value(value) for name, value in match.groupdict().items()})
        return told

    def _value(self, text: str) -> str:
        """Return what stands in a sentence where it has a place for it: a figure, a word of the job book, a phrase, or a list of them."""
        if text in self.texts["terms"]:
            return self.texts["terms"][text]
        if (whole := self.phrase(text)) is not text:
            return whole
        for sign in ("; ", ", "):
            parts = _parts(text, sign)
            if len(parts) > 1:
                return sign.join(map(self._value, parts))
        if bracket := _BRACKET.fullmatch(text):
            return f"{self._value(bracket[1])} ({', '.join(map(self._value, bracket[2].split(', ')))})"
        return self.figures(text)

    def figures(self, text: str) -> str:
        """Return text whose figures have a decimal point and commas between thousands with the signs of this language."""
        form = self.texts["format"]
        if (form["decimal"], form["group"]) == (".", ","):
            return text
        return _FIGURE.sub(lambda m: m[1].replace(",", form["group"]) + (form["decimal"] + m[2][1:] if m[2] else ""), text)


def _parts(text: str, sign: str) -> list[str]:
    """Return the parts of a list that a sign divides, where it stands outside brackets."""
    parts = [""]
    for piece in text.split(sign):
        whole = parts[-1].count("(") == parts[-1].count(")")
        if whole and parts != [""]:
            parts.append(piece)
        else:
            parts[-1] = piece if parts == [""] else parts[-1] + sign + piece
    return parts


_BRACKET = re.compile(r"([^()]+) \(([^()]+)\)")
_FIGURE = re.compile(r"(?<![\w.,])(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?(?![\d.])")


def languages() -> tuple[str, ...]:
    """Return the codes of the languages there are."""
    return tuple(sorted(p.stem for p in FOLDER.glob("*.toml")))


@lru_cache(maxsize=8)
def load_language(code: str) -> Language:
    """Return a language by its code. Raises BadInput for one that there is not."""
    import tomllib

    if code not in languages():
        raise BadInput("language", code, "is not a language of the papers", "one of " + ", ".join(languages()))
    texts = tomllib.loads((FOLDER / f"{code}.toml").read_text(encoding="utf-8"))
    patterns = []
    for told, answer in texts["phrases"].items():
        if "{" in told:
            pattern = re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+?)", re.escape(told))
            patterns.append((re.compile(pattern), answer))
    return Language(code, texts, tuple(patterns))
