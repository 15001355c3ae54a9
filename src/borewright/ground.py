"""The small vocabulary of ground, shared by siting, pricing, construction and drawing.

A driller's own words are always kept; `classify` adds the class beside them and never replaces them. The classes are ours.
Patterns are codes of FGDC-STD-013-2006 section 37 (public domain); the bridge from words to codes follows
tests/reference/driller_word_map.csv (our own choice, see its header).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

__all__ = ["DRILLING_CLASSES", "GROUND", "GroundClass", "classify", "head_of"]

Drilling = Literal["loose", "soft", "medium", "hard"]
DRILLING_CLASSES: tuple[Drilling, ...] = ("loose", "soft", "medium", "hard")


@dataclass(frozen=True, slots=True)
class GroundClass:
    """One class of ground: its name, whether it is above rockhead, how it drills, its FGDC pattern, a tint, its words."""

    name: str
    overburden: bool
    drilling: Drilling
    pattern: str
    tint: str
    words: tuple[str, ...]


# Order matters: the first class whose word is found wins, so the more particular words stand first.
_CLASSES = (
    GroundClass("cavity", False, "soft", "", "#ffffff", ("cavity", "void", "cave")),
    GroundClass("fill", True, "loose", "", "#d8d0c4", ("fill", "made ground", "rubble", "spoil")),
    GroundClass("weathered rock", False, "soft", "721", "#d9c7a8",
                ("saprolite", "saprock", "decomposed", "rotten", "weathered", "regolith", "grus", "gruss")),
    GroundClass("broken rock", False, "medium", "605", "#cdbfae",
                ("broken", "fractured", "fracture zone", "shattered", "sheared", "breccia", "fault")),
    GroundClass("conglomerate", False, "medium", "601", "#d3b99b", ("conglomerate", "agglomerate")),
    GroundClass("sandstone", False, "medium", "607", "#e3cf9a", ("sandstone", "greywacke", "arkose", "grit")),
    GroundClass("siltstone", False, "soft", "616", "#cfc9a4", ("siltstone",)),
    GroundClass("mudstone", False, "soft", "620", "#b9b7a0", ("mudstone", "claystone", "shale", "marl")),
    GroundClass("limestone", False, "medium", "627", "#c3d3dc", ("limestone", "chalk", "dolomite", "dolostone", "marble")),
    GroundClass("coal", False, "soft", "658", "#5c5854", ("coal", "lignite")),
    GroundClass("duricrust", True, "medium", "664", "#c98f6a", ("calcrete", "laterite", "silcrete", "ironstone", "caliche")),
    GroundClass("quartzite", False, "hard", "702", "#dfd6c6", ("quartzite", "quartz")),
    GroundClass("schist", False, "medium", "705", "#a9b5a0", ("schist", "phyllite")),
    GroundClass("slate", False, "medium", "703", "#9aa5ad", ("slate",)),
    GroundClass("gneiss", False, "hard", "708", "#c5b3b0", ("gneiss", "migmatite")),
    GroundClass("basalt", False, "hard", "717", "#8d9391", ("basalt", "andesite", "lava")),
    GroundClass("dolerite", False, "hard", "721", "#86908a", ("dolerite", "diabase", "gabbro", "amphibolite", "greenstone")),
    GroundClass("tuff", False, "medium", "711", "#cbbcb2", ("tuff", "volcanic", "ignimbrite", "rhyolite", "scoria")),
    GroundClass("granite", False, "hard", "719", "#dcb8a8", ("granite", "granodiorite", "diorite", "monzonite", "tonalite")),
    GroundClass("cobbles", True, "loose", "601", "#d6c3a2", ("boulder", "boulders", "cobble", "cobbles", "scree", "talus")),
    GroundClass("gravel", True, "loose", "601", "#e0cda3", ("gravel", "wash", "shingle")),
    GroundClass("till", True, "loose", "620", "#c2b59c", ("till", "hardpan", "diamicton", "boulder clay")),
    GroundClass("clay", True, "loose", "620", "#c8a98c", ("clay", "mud", "pug")),
    GroundClass("silt", True, "loose", "616", "#d8cdb0", ("silt", "loess")),
    GroundClass("sand", True, "loose", "607", "#ecdca8", ("sand", "alluvium", "alluvial")),
    GroundClass("peat", True, "loose", "657", "#7f6a55", ("peat",)),
    GroundClass("topsoil", True, "loose", "", "#a98b6b", ("topsoil", "soil", "loam", "overburden", "colluvium")),
    GroundClass("rock", False, "medium", "721", "#bdb6ac", ("rock", "bedrock", "basement", "fresh", "hard")),
)
GROUND: dict[str, GroundClass] = {c.name: c for c in _CLASSES}


# After one of these stands what is only mixed in: "clay with gravel" is clay.
_MIXED_IN = re.compile(r"\bw/|&|\b(?:with|some|and|minor|traces?(?: of)?)\b")


@lru_cache(maxsize=4096)
def _named(text: str) -> GroundClass | None:
    """The class that a run of words names."""
    text = " " + " ".join(re.sub(r"[,;/()]", " ", text).split()) + " "
    best: tuple[int, GroundClass] | None = None
    for ground in _CLASSES:
        for word in ground.words:
            at = max(text.rfind(f" {word} "), text.rfind(f" {word}s "))
            if at < 0:
                continue
            if ground.name in ("weathered rock", "broken rock", "cavity") and " unweathered " not in text:
                return ground
            # A plain "rock" or "hard" never outranks a named class.
            rank = at if ground.name != "rock" else -1
            if best is None or rank > best[0]:
                best = (rank, ground)
    return best[1] if best else None


def head_of(words: str) -> str:
    """Return the part of a driller's words that says what the ground is, in small letters, without what is only mixed in.

    The first part that names a class decides; "hard and fresh granite" is granite because a plain "hard" names no rock.
    """
    parts = [part for part in _MIXED_IN.split(words.lower()) if part.strip()]
    found = [(part, ground) for part in parts if (ground := _named(part))]
    return next((part for part, ground in found if ground.name != "rock"), found[0][0] if found else " ".join(parts)).strip()


def classify(words: str) -> GroundClass | None:
    """Return the ground class that a driller's words name, or None when no known word stands in them.

    The last head noun decides in English ("sandy clay" is clay), so whole words are matched from the end; a word of
    condition ("weathered granite", "broken schist") outranks the rock it describes because it decides how it drills.
    What follows "with", "some", "and", "minor" or "traces of" is mixed in and does not decide.
    """
    return _named(head_of(words))
