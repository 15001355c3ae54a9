"""The texts of the papers, one TOML file a language. A firm picks one in its settings; a new language is one more file here.

`[format]` says how numbers, money and dates are written, and before which signs no line may end; `[papers]` holds the texts by key, `{name}` standing for a value; `[terms]` the words that the
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
        return self._after_its_name(told) or self._sentence_by_sentence(told) or told

    def _after_its_name(self, told: str) -> str:
        """Return a sentence told of one thing ("new: the pump ..."), both in this language, or nothing."""
        lead, sign, rest = told.partition(": ")
        name = self.texts["phrases"].get(lead)
        said = self.phrase(rest) if sign and name is not None else rest
        return self.texts["papers"]["about_and_words"].format(about=name, words=said) if said is not rest else ""

    def _sentence_by_sentence(self, told: str) -> str:
        """Return several sentences where each of them is known, or nothing."""
        sentences = _BETWEEN.split(told)
        said = [self.phrase(one) for one in sentences] if len(sentences) > 1 else []
        return " ".join(said) if said and all(a is not b for a, b in zip(said, sentences, strict=True)) else ""

    def known(self, told: str) -> tuple[str, tuple[str, ...]]:
        """Return a text in this language as far as it has it, and the sentences that it has not."""
        said = self.phrase(told)
        if said is not told:
            return said, ()
        sentences = _BETWEEN.split(told)
        parts = [self.phrase(one) for one in sentences]
        return " ".join(parts), tuple(one for one, part in zip(sentences, parts, strict=True) if part is one)

    def _value(self, text: str) -> str:
        """Return what stands in a sentence where it has a place for it: a figure, a word of the job book, a phrase, or a list of them."""
        if text in self.texts["terms"]:
            return self.texts["terms"][text]
        if (whole := self.phrase(text)) is not text:
            return whole
        for sign in ("; ", ", "):
            parts = _parts(text, sign)
            if len(parts) > 1:
                return sign.join(self._listed(parts, sign))
        first, joint, last = text.rpartition(" and ")
        if joint and self.phrase(first) is not first and self.phrase(last) is not last:
            return f"{self.phrase(first)} {self.texts['terms'].get('and', 'and')} {self.phrase(last)}"
        if bracket := _BRACKET.fullmatch(text):
            return f"{self._value(bracket[1])} ({', '.join(map(self._value, bracket[2].split(', ')))})"
        return self.figures(text)

    def _listed(self, parts: list[str], sign: str) -> list[str]:
        """Return the parts of a list, where one that holds the sign itself ("Confined, without end (Theis) 35%") is one."""
        said, start = [], 0
        while start < len(parts):
            for end in range(start + 2, min(start + 4, len(parts) + 1)):
                joined = sign.join(parts[start:end])
                if self.phrase(parts[start]) is parts[start] and (whole := self.phrase(joined)) is not joined:
                    said.append(whole)
                    start = end
                    break
            else:
                said.append(self._value(parts[start]))
                start += 1
        return said

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


_BETWEEN = re.compile(r"(?<=[.?!]) (?=[A-Z])")
_BRACKET = re.compile(r"([^()]+) \(([^()]+)\)")
_FIGURE = re.compile(r"(?<![\w.,])(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?(?![\d.])")


def _held_together(texts: Any, space: re.Pattern[str]) -> Any:
    """Return the texts with no line's end before a sign that stands apart from its word; what a text is looked up by stays."""
    if isinstance(texts, str):
        return space.sub("\u00a0", texts)
    if isinstance(texts, list):
        return [_held_together(one, space) for one in texts]
    return {key: _held_together(one, space) for key, one in texts.items()} if isinstance(texts, dict) else texts


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
    if signs := texts["format"]["no_break_before"]:
        texts = _held_together(texts, re.compile(f" (?=[{re.escape(signs)}](?:\\W|$))|(?<=«) "))
    patterns = []
    for told, answer in texts["phrases"].items():
        if "{" in told:
            # What stands before a sign of per cent is a figure, or one share of a list would swallow the next.
            pattern = re.sub(r"\\\{(\w+)\\\}%", r"(?P<\1>[\\d.,]+)%", re.escape(told))
            pattern = re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+?)", pattern)
            patterns.append((re.compile(pattern), answer))
    return Language(code, texts, tuple(patterns))
