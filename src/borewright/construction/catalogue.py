"""Casing materials and stock sizes, from dated data files: ours and the user's supplier's."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from borewright.construction import strength
from borewright.errors import Advisory, BadInput, require, require_finite, require_fraction

__all__ = ["Casing", "Catalogue", "Material", "casing_doubts", "casing_of", "catalogue_material", "collapse_resistance", "burst_resistance", "read_catalogue", "standard_catalogue"]

FACTORS = ("collapse", "long_collapse", "burst", "tension", "buckling")
LEAST_COLLAPSE_FACTOR = 1.0


@dataclass(frozen=True, slots=True)
class Material:
    """What a casing is made of. Pa, kg/m3, degC; shares are fractions. `factors` are the factors asked at each kind of load."""

    name: str
    family: Literal["plastic", "steel"]
    modulus: float
    poisson: float
    density: float
    strength: float  # tensile strength of a plastic, yield stress of a steel
    hoop_stress: float
    long_term_share: float
    ovality: float
    hottest: float
    modulus_temperature: tuple[tuple[float, float], ...]
    strength_temperature: tuple[tuple[float, float], ...]
    factors: Mapping[str, float]
    factor_source: str
    source: tuple[str, ...]
    dated: str

    def modulus_share(self, temperature: ArrayLike) -> Any:
        """Return the share of the modulus left at a temperature [degC]; 1 for steel."""
        return self._share(temperature, self.modulus_temperature)

    def strength_share(self, temperature: ArrayLike) -> Any:
        """Return the share of the strength left at a temperature [degC]; 1 for steel."""
        return self._share(temperature, self.strength_temperature)

    def _share(self, temperature: ArrayLike, table: tuple[tuple[float, float], ...]) -> Any:
        require_finite(temperature=temperature)
        hottest = float(np.max(temperature))
        require(hottest <= self.hottest, "temperature", hottest, f"is above what {self.name} is good for", f"at most {self.hottest:g} degC")
        if not table:
            return np.ones_like(np.asarray(temperature, float))[()]
        at, share = zip(*table, strict=True)
        return np.interp(temperature, at, share)[()]


@dataclass(frozen=True, slots=True)
class Casing:
    """One stock size: a material with an outside diameter and least wall [m], its length [m] and its joint."""

    name: str
    material: Material
    outside_diameter: float
    wall: float
    length: float
    joint: str
    joint_share: float
    coupling_diameter: float
    source: str

    @property
    def inside_diameter(self) -> float:
        """Inside diameter [m]."""
        return self.outside_diameter - 2 * self.wall

    @property
    def ratio(self) -> float:
        """Outside diameter over least wall [-]."""
        return self.outside_diameter / self.wall

    @property
    def mass_per_length(self) -> float:
        """Mass of a metre of plain pipe [kg/m]."""
        return strength.pipe_area(self.outside_diameter, self.wall) * self.material.density


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Materials by name and the stock sizes made of them, lightest first within a diameter."""

    materials: Mapping[str, Material]
    casings: tuple[Casing, ...]
    _found: dict[tuple, Casing] = field(default_factory=dict, repr=False, compare=False)  # casings looked up before; a search asks for the same few

    def material(self, name: str) -> Material:
        """Return a material by name, or raise BadInput naming the ones there are."""
        if name not in self.materials:
            raise BadInput("material", name, "is not in the catalogue", "one of " + ", ".join(self.materials))
        return self.materials[name]

    def casing(self, name: str) -> Casing:
        """Return a stock size by name, or raise BadInput naming near ones."""
        for one in self.casings:
            if one.name == name:
                return one
        from difflib import get_close_matches

        names = [c.name for c in self.casings]
        raise BadInput("casing", name, "is not in the catalogue", "one such as " + ", ".join(get_close_matches(str(name), names, 3, 0.2) or names[:3]))

    def of(self, material: str, series: str | None = None) -> tuple[Casing, ...]:
        """Return the stock of a material (and series, when named), by diameter and then wall."""
        self.material(material)
        found = [c for c in self.casings if c.material.name == material and (series is None or f" {series} " in c.name)]
        if not found:
            raise BadInput("series", series, f"is no series of {material} in the catalogue", "a series that the catalogue holds")
        return tuple(sorted(found, key=lambda c: (c.outside_diameter, c.wall)))


def casing_of(catalogue: Catalogue, material: str, outside_diameter: float, wall: float) -> Casing:
    """Return the stock size of a material nearest to a diameter and wall, with exactly that diameter and wall [m]."""
    known = catalogue._found.get((material, outside_diameter, wall))
    if known is not None:
        return known
    kind = catalogue.material(material)
    strength.pipe_area(outside_diameter, wall)
    stock = catalogue.of(material)
    near = min(stock, key=lambda c: (abs(c.outside_diameter - outside_diameter), abs(c.wall - wall)))
    if abs(near.outside_diameter - outside_diameter) > 5e-5 or abs(near.wall - wall) > 5e-6:
        name = f"{kind.name} {outside_diameter * 1000:.1f} x {wall * 1000:.1f} mm"
        coupling = outside_diameter * near.coupling_diameter / near.outside_diameter
        near = replace(near, name=name, outside_diameter=outside_diameter, wall=wall, coupling_diameter=coupling, source="typed by hand")
    if len(catalogue._found) > 4096:
        catalogue._found.clear()
    catalogue._found[material, outside_diameter, wall] = near
    return near


def catalogue_material(catalogue: Catalogue, words: str) -> str:
    """Return the material that a log's words name: the name itself, or the first that begins alike ("PVC", "steel"); BadInput otherwise."""
    plain = words.strip().lower()
    for name in catalogue.materials:
        if plain == name.lower():
            return name
    first = plain.replace("upvc", "pvc").split()[0] if plain else ""
    for name in catalogue.materials:
        if first and name.lower().startswith(first):
            return name
    raise BadInput("material", words, "is not in the catalogue", "one of " + ", ".join(catalogue.materials))


def collapse_resistance(
    casing: Casing, *, temperature: ArrayLike = 20.0, ovality: float | None = None, long_term: bool = False, axial_stress: ArrayLike = 0.0,
) -> Any:
    """Return the outside pressure at which a casing collapses [Pa].

    Parameters
    ----------
    casing : Casing
    temperature : float or array_like
        Of the casing wall [degC].
    ovality : float, optional
        (mean - least diameter) / mean; the material's own when left out. Steel's equations hold it already [-].
    long_term : bool
        A load that stays for decades: the modulus of plastics is cut by `long_term_share`.
    axial_stress : float or array_like
        Tension in the wall; lowers steel only [Pa].
    """
    kind = casing.material
    if kind.family == "steel":
        stress = strength.reduced_yield(kind.strength, axial_stress=axial_stress)
        pressure = strength.steel_collapse(casing.outside_diameter, casing.wall, yield_stress=stress)
        return np.broadcast_to(pressure, np.broadcast(pressure, np.asarray(temperature, float)).shape)[()]
    modulus = kind.modulus * kind.modulus_share(temperature) * (kind.long_term_share if long_term else 1.0)
    return strength.plastic_collapse(
        casing.outside_diameter, casing.wall, modulus=modulus, poisson=kind.poisson, ovality=kind.ovality if ovality is None else ovality
    )


def burst_resistance(casing: Casing, *, temperature: ArrayLike = 20.0) -> Any:
    """Return the inside pressure that a casing may hold: design stress for plastics, yield of 87.5 % wall for steel [Pa]."""
    kind = casing.material
    if kind.family == "steel":
        return strength.steel_burst(casing.outside_diameter, casing.wall, yield_stress=kind.strength)
    return strength.plastic_burst(casing.outside_diameter, casing.wall, hoop_stress=kind.hoop_stress * kind.strength_share(temperature))


@lru_cache(maxsize=1)
def standard_catalogue() -> Catalogue:
    """Return the catalogue that comes with the program."""
    text = resources.files("borewright.construction").joinpath("data/casing_materials.toml").read_text(encoding="utf-8")
    return _catalogue(tomllib.loads(text), {})


def read_catalogue(path: str | Path) -> Catalogue:
    """Return the standard catalogue with a supplier's file (TOML of the same form) laid over it.

    A material of the same name replaces ours; stock of the supplier's file joins the rest, and may use our materials.

    Raises
    ------
    BadInput
        The file is not TOML, a figure is missing, not finite or impossible, or the stock names a material nobody describes.
    """
    try:
        table = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInput("supplier_file", str(path), f"cannot be read: {error}", "a TOML file of the form of casing_materials.toml") from error
    ours = standard_catalogue()
    theirs = _catalogue(table, ours.materials)
    materials = {**ours.materials, **theirs.materials}
    kept = tuple(replace(c, material=materials[c.material.name]) for c in ours.casings)
    return Catalogue(materials, kept + theirs.casings)


def _figure(table: Mapping[str, Any], key: str, where: str, *, default: float | None = None, least: float = 0.0, most: float = np.inf) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not np.isfinite(value) or not least < value <= most:
        raise BadInput(f"{where}.{key}", value, "is missing or impossible", f"a number above {least:g}" + (f", at most {most:g}" if np.isfinite(most) else ""))
    return float(value)


def _steps(table: Mapping[str, Any], key: str, where: str) -> tuple[tuple[float, float], ...]:
    rows = table.get(key, ())
    try:
        steps = tuple((float(at), float(share)) for at, share in rows)
    except (TypeError, ValueError) as error:
        raise BadInput(f"{where}.{key}", rows, "is not a list of [degC, share]", "such as [[23, 1.0], [60, 0.7]]") from error
    if any(not np.isfinite(v) for row in steps for v in row) or any(b[0] <= a[0] or b[1] > a[1] for a, b in zip(steps, steps[1:], strict=False)):
        raise BadInput(f"{where}.{key}", rows, "does not rise in temperature and fall in share", "such as [[23, 1.0], [60, 0.7]]")
    for _, share in steps:
        require_fraction(**{key: share})
    return steps


def _material(table: Mapping[str, Any], dated: str) -> Material:
    name = str(table.get("name", "")).strip()
    where = f"material {name or '?'}"
    family = table.get("family")
    if not name or family not in ("plastic", "steel"):
        raise BadInput(where, family, "needs a name and a family", "family plastic or steel")
    plastic = family == "plastic"
    given = table.get("factors", {})
    if not isinstance(given, Mapping):
        raise BadInput(f"{where}.factors", given, "is not a table", "factors = { collapse = 1.5, ... }")
    factors = {key: _figure(given, key, f"{where}.factors", least=0.0) for key in FACTORS}
    for key in ("collapse", "long_collapse"):
        require(factors[key] >= LEAST_COLLAPSE_FACTOR, f"{where}.factors.{key}", factors[key], "allows a load above the resistance", "at least 1")
    source = table.get("source", ())
    if not source or isinstance(source, str) or not all(isinstance(s, str) for s in source):
        raise BadInput(f"{where}.source", source, "does not say where the figures are from", 'source = ["..."]')
    return Material(
        name=name, family=family, modulus=_figure(table, "modulus", where), poisson=_figure(table, "poisson", where, most=0.4999),
        density=_figure(table, "density", where), strength=_figure(table, "tensile_strength" if plastic else "yield_stress", where),
        hoop_stress=_figure(table, "hoop_stress", where) if plastic else _figure(table, "yield_stress", where),
        long_term_share=_figure(table, "long_term_share", where, most=1.0) if plastic else 1.0,
        ovality=_figure(table, "ovality", where, least=-1e-12, most=0.2) if plastic else 0.0,
        hottest=_figure(table, "hottest", where) if plastic else 300.0,
        modulus_temperature=_steps(table, "modulus_temperature", where) if plastic else (),
        strength_temperature=_steps(table, "strength_temperature", where) if plastic else (),
        factors=factors, factor_source=str(table.get("factor_source", "the user's own file")), source=tuple(source), dated=dated,
    )


def _catalogue(table: Mapping[str, Any], known: Mapping[str, Material]) -> Catalogue:
    dated = str(table.get("dated", ""))
    if not dated:
        raise BadInput("dated", None, "is missing", 'the date of the figures, dated = "2026-11-25"')
    materials = {m.name: m for m in (_material(row, dated) for row in table.get("material", ()))}
    every = {**known, **materials}
    casings: list[Casing] = []
    for row in table.get("stock", ()):
        casings += _stock(row, every)
    return Catalogue(materials, tuple(casings))


def _stock(row: Mapping[str, Any], materials: Mapping[str, Material]) -> list[Casing]:
    name, series = str(row.get("material", "")), str(row.get("series", "")).strip()
    where = f"stock {name} {series}".strip()
    if name not in materials:
        raise BadInput(where, name, "is made of a material nobody describes", "one of " + ", ".join(materials))
    diameters = [_figure({"d": d}, "d", f"{where}.outside_diameters", most=3.0) for d in row.get("outside_diameters", ())]
    if not diameters or ("walls" in row) == ("ratios" in row):
        raise BadInput(where, series, "needs outside_diameters and either walls or ratios", "lists of numbers in metres")
    if "walls" in row:
        if len(row["walls"]) != len(diameters):
            raise BadInput(f"{where}.walls", row["walls"], "is not one wall for each diameter", f"{len(diameters)} walls [m]")
        pairs = [(d, _figure({"w": w}, "w", f"{where}.walls"), f"{d * 1000:.1f} x {w * 1000:.1f} mm") for d, w in zip(diameters, row["walls"], strict=True)]
    else:
        ratios = [_figure({"r": r}, "r", f"{where}.ratios", least=2.0, most=100.0) for r in row["ratios"]]
        pairs = [(d, d / r, f"{d * 1000:.1f} mm DR {r:g}") for d in diameters for r in ratios]
    length = _figure(row, "length", where, most=30.0)
    share = _figure(row, "joint_share", where, most=1.0)
    coupling = _figure(row, "coupling", where, default=1.0, least=0.999, most=2.0)
    source = str(row.get("source", "the user's own file"))
    for d, w, _ in pairs:
        strength.pipe_area(d, w)
    return [
        Casing(f"{name} {series} {text}", materials[name], d, w, length, str(row.get("joint", "")), share, d * coupling, source) for d, w, text in pairs
    ]


def casing_doubts(casing: Casing) -> tuple[Advisory, ...]:
    """Return the doubts about a casing's figures: outside the reach of the equations, or a material whose figures need the supplier."""
    doubts = []
    if casing.material.family == "plastic" and casing.ratio < 10:
        doubts.append(Advisory("thick-wall", "doubt", f"{casing.name}: a dimension ratio below 10 is too thick for the thin-pipe equation.", "wall"))
    if casing.ratio > 60:
        doubts.append(Advisory("thin-wall", "doubt", f"{casing.name}: a wall this thin is easily dented; the equations assume a sound round pipe.", "wall"))
    if casing.material.name in ("ABS", "fibreglass"):
        doubts.append(Advisory("supplier-figures", "doubt", f"{casing.material.name}: figures vary with the maker; use the supplier's own.", "material"))
    if casing.material.family == "steel" and casing.material.strength < 275e6:
        doubts.append(Advisory("below-fit", "note", f"{casing.material.name}: below the 40 ksi to which the collapse equations were fitted.", "material"))
    return tuple(doubts)
