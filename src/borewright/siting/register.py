"""A register: other bores' records as plain arrays, with an index of place, held on disk as Arrow and Parquet."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import tempfile
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, fields
from functools import cached_property, reduce
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import BadInput, NotFound, StoreError
from borewright.siting.fields import places
from borewright.siting.texts import Texts
from borewright.threads import beside

if TYPE_CHECKING:
    import polars as pl

__all__ = ["Intervals", "Register", "Saving", "Strikes", "check_name", "list_registers", "open_register", "together"]

FORMAT = 1
_AT_HAND = 65_536  # rows that are worked on together, so that they stay in the processor's own memory


@dataclass(frozen=True)
class Strikes:
    """Water strikes: row of the bore in the register, depth [m], yield [m3/s] (NaN where not recorded)."""

    bore: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    depth: np.ndarray = field(default_factory=lambda: np.empty(0))
    flow: np.ndarray = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True)
class Intervals:
    """Logged ground: row of the bore, from and to [m], index into `borewright.ground.GROUND` (-1 where no word is known)."""

    bore: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    top: np.ndarray = field(default_factory=lambda: np.empty(0))
    end: np.ndarray = field(default_factory=lambda: np.empty(0))
    ground: np.ndarray = field(default_factory=lambda: np.empty(0, np.int16))


@dataclass(frozen=True)
class Register:
    """Other bores' records. Rows are sorted by place, so the order of the file makes no difference to any answer.

    Attributes
    ----------
    name : str
    bore_id : Texts, shape (n,)
    lon, lat, depth : ndarray, shape (n,)
        [deg], [deg], depth drilled below ground [m].
    flow : ndarray, shape (n,)
        Total yield [m3/s]; NaN means not recorded, never dry.
    wet : ndarray of int8, shape (n,)
        1 recorded as having water, 0 recorded as dry, -1 not said.
    elevation, static_level, first_water, conductivity : ndarray, shape (n,)
        NaN where not recorded [m], [m], [m], [uS/cm].
    drilled_on, picked_by : Texts, shape (n,)
        Empty where not recorded.
    strikes : Strikes or None
        None when the register has no strikes at all.
    intervals : Intervals or None
    """

    name: str
    bore_id: Texts
    lon: np.ndarray
    lat: np.ndarray
    depth: np.ndarray
    flow: np.ndarray
    wet: np.ndarray
    elevation: np.ndarray
    static_level: np.ndarray
    first_water: np.ndarray
    conductivity: np.ndarray
    drilled_on: Texts
    picked_by: Texts
    strikes: Strikes | None = None
    intervals: Intervals | None = None

    def __len__(self) -> int:
        return len(self.lon)

    @cached_property
    def places(self) -> np.ndarray:
        """Points in space, shape (n, 3) [m]."""
        return places(self.lon, self.lat)

    @cached_property
    def tree(self):
        """Index of all bores by place."""
        from scipy.spatial import cKDTree

        return cKDTree(self.places, leafsize=32, balanced_tree=False)

    @cached_property
    def logged(self) -> np.ndarray:
        """Which bores have a log with a word that is known, shape (n,)."""
        out = np.zeros(len(self), bool)
        if self.intervals is not None:
            out[self.intervals.bore[self.intervals.ground >= 0]] = True
        return out

    @cached_property
    def told(self) -> dict[str, np.ndarray | None]:
        """Which bores have a static level and a conductivity; None where none has."""
        out = {}
        for name in ("static_level", "conductivity"):
            known = np.isfinite(getattr(self, name))
            out[name] = known if known.any() else None
        return out

    @cached_property
    def tells_more(self) -> bool:
        """Whether any bore tells of the ground, a static level or a conductivity."""
        return self.intervals is not None or any(told is not None for told in self.told.values())

    def marks(self) -> list[tuple[float, float, bool | None]]:
        """Return (longitude, latitude, wet) of each bore, None where nothing is said: for a map."""
        wet = np.where((self.wet == 1) | (self.flow > 0), 1, np.where((self.wet == 0) | (self.flow == 0), 0, -1))
        return [(x, y, None if w < 0 else w == 1) for x, y, w in zip(self.lon.tolist(), self.lat.tolist(), wet.tolist(), strict=True)]

    def subset(self, keep: np.ndarray) -> Register:
        """Return the register of the bores kept (a mask), with their strikes and intervals."""
        keep = np.asarray(keep, bool)
        row = np.cumsum(keep) - 1
        values = {f.name: getattr(self, f.name)[keep] for f in fields(self) if f.name not in ("name", "strikes", "intervals")}
        strikes, intervals = self.strikes, self.intervals
        if strikes is not None:
            mine = keep[strikes.bore]
            strikes = Strikes(row[strikes.bore[mine]], strikes.depth[mine], strikes.flow[mine])
        if intervals is not None:
            mine = keep[intervals.bore]
            intervals = Intervals(row[intervals.bore[mine]], intervals.top[mine], intervals.end[mine], intervals.ground[mine])
        return Register(self.name, **values, strikes=strikes, intervals=intervals)

    @classmethod
    def of(cls, name: str, *, lon, lat, depth, bore_id=None, flow=None, wet=None, elevation=None, static_level=None, first_water=None,
           conductivity=None, drilled_on=None, picked_by=None, strikes: Strikes | None = None, intervals: Intervals | None = None,
           by_lon: tuple[np.ndarray, np.ndarray] | None = None) -> Register:
        """Return a register from arrays in any order; what is not given is not recorded.

        `by_lon` spares a search where it is known: the rows by longitude, those of the same in any order, and their longitudes.
        """
        lon, lat, depth = (np.asarray(v, float) for v in (lon, lat, depth))
        n = len(lon)
        flow = np.full(n, np.nan) if flow is None else np.asarray(flow, float)
        named = [str(i + 1) for i in range(n)] if bore_id is None else bore_id
        wet = np.full(n, -1, np.int8) if wet is None else np.asarray(wet, np.int8)
        by_lon = by_lon or by_size(lon)
        early = beside(lambda: [values.take(by_lon[0]) for values in (lat, depth, flow)])  # as good as in order already
        order, ties = _order(by_lon, lat, depth, flow, Texts(named))
        number = lambda v: np.full(n, np.nan) if v is None else np.asarray(v, float).take(order)
        rows = order.astype(np.int32)
        text = lambda v: Texts.blank(n) if v is None else Texts(v, rows)
        if strikes is not None or intervals is not None:
            place = np.empty(n, np.int64)
            place[order] = np.arange(n)
        if strikes is not None:
            row = place[strikes.bore]
            by = np.lexsort((strikes.depth, row))
            strikes = Strikes(row[by], strikes.depth[by], strikes.flow[by])
        if intervals is not None:
            row = place[intervals.bore]
            by = np.lexsort((intervals.top, row))
            intervals = Intervals(row[by], intervals.top[by], intervals.end[by], intervals.ground[by])
        lasts = wet.take(order), number(elevation), number(static_level), number(first_water), number(conductivity)
        sized = by_lon[1], *early.result()
        for values, column in zip((lon, lat, depth, flow), sized, strict=True):
            column[ties] = values[order[ties]]  # longitudes too: 0 and -0 are the same and yet not
        return cls(name, text(named), *sized, *lasts, text(drilled_on), text(picked_by), strikes, intervals)


def _order(by_lon: tuple[np.ndarray, np.ndarray], lat: np.ndarray, depth: np.ndarray, flow: np.ndarray, names: Texts) -> tuple[np.ndarray, np.ndarray]:
    """Return the rows by longitude, then latitude, depth, yield and name, and where that may differ from the order by longitude alone.

    `by_lon` holds the rows by longitude, and their longitudes. Later keys are looked at only where the ones before are the same.
    """
    order, longitudes = by_lon[0].copy(), by_lon[1]
    at_none = lambda rows: np.nan_to_num(flow[rows], nan=-1.0)

    def tied(*keys: np.ndarray) -> np.ndarray:
        """Return where neighbours in a row agree in all keys."""
        same = reduce(np.logical_and, [key[1:] == key[:-1] for key in keys])
        return np.flatnonzero(np.append(same, False) | np.append(False, same)) if len(keys[0]) else np.empty(0, np.int64)

    ties = at = tied(longitudes)
    some, lon = order[at], longitudes[at]
    order[at] = some = _within(some, lon, lat[some])
    among = tied(lon, lat[some])
    at, lon = at[among], lon[among]
    some = order[at]
    order[at] = some = some[np.lexsort((at_none(some), depth[some], lat[some], lon))]
    among = tied(lon, lat[some], depth[some], at_none(some))
    at, lon = at[among], lon[among]
    some = order[at]
    keys = zip(lon.tolist(), lat[some].tolist(), depth[some].tolist(), at_none(some).tolist(), names[some].tolist(), some.tolist(), strict=True)
    order[at] = [key[-1] for key in sorted(keys)]
    return order, ties


def _within(rows: np.ndarray, groups: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Return rows by the size of their values within their group: the rows of a group stand together and stay where their group is."""
    by, _ = by_size(values)
    bits = len(rows).bit_length()
    packed = np.cumsum(np.append(False, groups[1:] != groups[:-1])[: len(rows)]).take(by)
    packed <<= bits
    packed |= np.arange(len(rows))
    packed.sort()
    return rows[by[packed & (1 << bits) - 1]]


def by_size(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the rows by size, those of the same size in any order, and their values."""
    bits = max(len(values) - 1, 1).bit_length()
    low, high = (float(values.min()), float(values.max())) if len(values) else (0.0, 0.0)
    if not high > low:
        return np.arange(len(values)), values.copy()
    # A value cut to whole steps and its row share one integer: integers are put in order several times as quickly as rows by their values.
    steps = (2.0 ** (62 - bits) - 1.0) / np.maximum(high - low, 1e-280)  # places all but the same do not take it past the largest number
    packed = np.empty(len(values), np.int64)
    for begin in range(0, len(values), _AT_HAND):
        part = values[begin : begin + _AT_HAND] - low
        part *= steps
        mine = packed[begin : begin + _AT_HAND]
        mine[:] = part
        mine <<= bits
        mine |= np.arange(begin, begin + len(part))
    packed.sort()
    packed &= (1 << bits) - 1
    found = values.take(packed)
    # Values less than a step apart may stand in the wrong order.
    if not (found[1:] >= found[:-1]).all():
        packed = np.argsort(values, kind="stable")
        found = values.take(packed)
    return packed, found


def together(register: Register, other: Register) -> Register:
    """Return two registers as one under the first's name; a bore of the other with a name already taken keeps it with the register's own before it.

    Strikes and intervals of either count; where only one has them, the bores of the other have none on record.
    """
    n = len(register)
    taken = set(register.bore_id.tolist())
    named = [f"{other.name}: {b}" if b in taken else b for b in other.bore_id.tolist()]
    both = {f.name: np.concatenate([getattr(register, f.name), getattr(other, f.name)]) for f in fields(Register) if f.name not in ("name", "bore_id", "strikes", "intervals")}
    both["bore_id"] = [*register.bore_id.tolist(), *named]

    def joined(name: str, kind: type):
        mine, theirs = getattr(register, name), getattr(other, name)
        if mine is None and theirs is None:
            return None
        mine, theirs = mine or kind(), theirs or kind()
        return kind(*(np.concatenate([getattr(mine, f.name), getattr(theirs, f.name) + (n if f.name == "bore" else 0)]) for f in fields(kind)))

    return Register.of(register.name, **both, strikes=joined("strikes", Strikes), intervals=joined("intervals", Intervals))


def check_name(name: str) -> str:
    """Return the name of a register, or raise BadInput for one that could reach outside its folder."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_ .-]{0,63}", name) or name.endswith((".", " ")) or ".." in name:
        raise BadInput("name", name, "cannot name a register", "letters, digits, space, dot, dash or underscore, at most 64, such as orrin-vale")
    return name


_OPTIONAL = ("elevation", "static_level", "first_water", "conductivity")  # written only where some bore has it
_BORE_FIELDS = ("bore_id", "lon", "lat", "depth", "flow", "wet", "elevation", "static_level", "first_water", "conductivity", "drilled_on", "picked_by")


class Saving:
    """A register on its way to disk, whole or not at all: its tables are written while other work goes on.

    `begin` writes them beside the folder's registers, `finish` puts them in their place; left without, nothing stays behind.

    Parameters
    ----------
    folder : Path
        The folder that holds all registers.

    Raises
    ------
    BadInput
        A name that cannot name a register.
    StoreError
        Something that cannot be written.
    """

    def __init__(self, folder: Path):
        self._folder = Path(folder)
        self._register: Register | None = None
        self._new: Path | None = None
        self._tables: Future | None = None
        self._writer = ThreadPoolExecutor(1)

    def __enter__(self) -> Saving:
        return self

    def __exit__(self, *_: object) -> None:
        self._writer.shutdown()
        if self._new is not None:
            shutil.rmtree(self._new, ignore_errors=True)

    def begin(self, register: Register) -> None:
        """Begin to write the tables of a register."""
        check_name(register.name)
        self._register = register
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._new = Path(tempfile.mkdtemp(prefix=".new-", dir=self._folder))
        except OSError as error:
            raise self._failed(error) from error
        self._tables = self._writer.submit(_write_tables, register, self._new)

    def finish(self, about: dict) -> Path:
        """Put the register in its place, with what to remember of the loading as plain JSON types, and return its folder."""
        register, new = self._register, self._new
        home = self._folder / register.name
        try:
            self._tables.result()
            (new / "about.json").write_text(json.dumps({"format": FORMAT, "name": register.name, "bores": len(register), **about}, indent=1), encoding="utf-8")
            old = None
            if home.exists():
                old = Path(tempfile.mkdtemp(prefix=".old-", dir=self._folder)) / "was"
                os.replace(home, old)
            os.replace(new, home)
        except OSError as error:
            raise self._failed(error) from error
        self._new = None
        if old is not None:
            shutil.rmtree(old.parent, ignore_errors=True)
        return home

    def _failed(self, error: OSError) -> StoreError:
        return StoreError(f"the register {self._register.name} could not be written: {error}")


def _write_tables(register: Register, home: Path) -> None:
    import polars as pl

    frame = {}
    for name in _BORE_FIELDS:
        values = getattr(register, name)
        if isinstance(values, Texts):
            words, rows = values.parts()
            _write_arrow(pl.DataFrame({name: words}), home / f"{name}.arrow")
            if rows is not None:
                frame[f"{name} at"] = rows
        elif name not in _OPTIONAL or np.isfinite(values).any():
            frame[name] = values
    _write_arrow(pl.DataFrame(frame), home / "bores.arrow")
    if register.strikes is not None:
        s = register.strikes
        pl.DataFrame({"bore": s.bore, "depth": s.depth, "flow": s.flow}).write_parquet(home / "strikes.parquet", compression="lz4")
    if register.intervals is not None:
        i = register.intervals
        pl.DataFrame({"bore": i.bore, "top": i.top, "end": i.end, "ground": i.ground}).write_parquet(home / "intervals.parquet", compression="lz4")


def _write_arrow(frame: pl.DataFrame, path: Path) -> None:
    # Given only the path, polars empties the new file once more, and ext4 then sends what was written to the disk at once: both this and removing it wait.
    with path.open("wb") as file:
        frame.write_ipc(file)


def list_registers(folder: Path) -> list[dict]:
    """Return what is remembered of each register in the folder, by name."""
    found = []
    for about in sorted(Path(folder).glob("*/about.json")):
        if not about.parent.name.startswith("."):
            found.append(json.loads(about.read_text(encoding="utf-8")))
    return found


def _read_arrow(path: Path) -> pl.DataFrame:
    """Return a table, read whole: the file may be replaced while it is used."""
    import polars as pl

    return pl.read_ipc(io.BytesIO(path.read_bytes()))


def open_register(name: str, folder: Path) -> Register:
    """Return a register by name; raise NotFound when there is none."""
    import polars as pl

    check_name(name)
    home = Path(folder) / name
    if not (home / "about.json").exists():
        known = ", ".join(r["name"] for r in list_registers(folder)) or "none yet: borewright register load BORES.csv --name NAME"
        raise NotFound(f"there is no register named {name} (there is: {known})")
    about = json.loads((home / "about.json").read_text(encoding="utf-8"))
    if about.get("format") != FORMAT:
        raise StoreError(f"the register {name} was written by another version of the program: load it again")
    try:
        frame = _read_arrow(home / "bores.arrow") if (home / "bores.arrow").exists() else pl.read_parquet(home / "bores.parquet")  # as it was kept before
        values = {}
        for column in _BORE_FIELDS:
            words = home / f"{column}.arrow"
            if words.exists():
                at = frame[f"{column} at"].to_numpy() if f"{column} at" in frame.columns else None
                values[column] = Texts(_read_arrow(words).to_series(), at)
            elif column in _OPTIONAL and column not in frame.columns:
                values[column] = np.full(len(frame), np.nan)
            else:
                values[column] = Texts(frame[column]) if frame[column].dtype == pl.String else frame[column].to_numpy()
        strikes = intervals = None
        if (home / "strikes.parquet").exists():
            s = pl.read_parquet(home / "strikes.parquet")
            strikes = Strikes(s["bore"].to_numpy(), s["depth"].to_numpy(), s["flow"].to_numpy())
        if (home / "intervals.parquet").exists():
            i = pl.read_parquet(home / "intervals.parquet")
            intervals = Intervals(i["bore"].to_numpy(), i["top"].to_numpy(), i["end"].to_numpy(), i["ground"].to_numpy())
    except (OSError, pl.exceptions.PolarsError) as error:
        raise StoreError(f"the register {name} cannot be read: {error}") from error
    return Register(name, **values, strikes=strikes, intervals=intervals)
