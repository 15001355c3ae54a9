"""Loading, keeping and opening registers: files in, a folder with the register and its fitted model, the same back."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from borewright.errors import Advisory, BadInput, Refused, StoreError
from borewright.siting import register as store
from borewright.siting.belief import ALL_SPEAK
from borewright.siting.columns import CANONICAL, ColumnMap, read_column_map
from borewright.siting.compound import EnoughTable, enough_table
from borewright.siting.fields import Field
from borewright.siting.gathered import Gathered, gathered_of
from borewright.siting.habits import Habit
from borewright.siting.load import LoadReport, read_register, write_refused
from borewright.siting.model import Layer, OddsModel, fit_model
from borewright.siting.register import Register, Saving, together
from borewright.siting.shape import Shape
from borewright.siting.standing import carry_standings

__all__ = ["joined", "list_registers", "load_register", "model_of", "open_register", "registers_folder", "table_of"]

_MODEL = "model.npz"
_MODEL_FORMAT = 1
_LATER = 200_000  # bores above which they are learned from at the first question, not at loading


def registers_folder() -> Path:
    """Return the folder that holds registers when none is named: `registers` in the program's data folder."""
    named = os.environ.get("BOREWRIGHT_HOME")
    if named:
        return Path(named).expanduser() / "registers"
    from platformdirs import user_data_path

    return user_data_path("borewright", appauthor=False) / "registers"


def model_of(register: Register) -> OddsModel:
    """Return the model fitted to a register, fitting it the first time it is asked for and keeping it beside a register that was opened.

    Raises
    ------
    Refused
        Too few records.
    """
    found = register.__dict__.get("_model")
    if found is None:
        found = register.__dict__["_model"] = fit_model(register)
        home, loaded = register.__dict__.get("_home", (None, None))
        if home is not None and _loaded(home) == loaded:  # not loaded anew since
            with suppress(StoreError):  # where nothing can be written it is learned again
                _save_model(found, register, home / _MODEL)
    return found


def table_of(model: OddsModel) -> EnoughTable:
    """Return the chances that stand behind a model's bands, worked out once and kept with it."""
    found = model.__dict__.get("_table")
    if found is None:
        found = model.__dict__["_table"] = enough_table(round(model.log_yield_sd, 3))
    return found


def _loaded(home: Path) -> int | None:
    """Return when the register in a folder was loaded [ns]."""
    try:
        return (home / "about.json").stat().st_mtime_ns
    except OSError:
        return None


def load_register(bores: Path | str, *, name: str, strikes: Path | str | None = None, intervals: Path | str | None = None,
                  columns: ColumnMap | Path | str | None = None, folder: Path | str | None = None,
                  learn: bool | None = None, progress: Callable[[str], None] = lambda step: None) -> LoadReport:
    """Read a register from files, fit its model, keep both, and return the report.

    Parameters
    ----------
    bores, strikes, intervals : path
        CSV, Parquet, GeoJSON (bores) or spreadsheet.
    name : str
        Name under which the register is kept; a register of that name is replaced, whole or not at all.
    columns : ColumnMap or path, optional
        Column map; the canonical columns by default.
    folder : path, optional
        Folder that holds registers.
    learn : bool, optional
        Whether to fit the model now; by default up to 200,000 bores. Otherwise the first question does, once.
    progress : callable
        Told the name of each step.

    Raises
    ------
    BadInput
        Nothing that can be used, with the reason. Refused rows do not raise: they are listed in BORES.refused.csv
        beside the file (or in the register's folder where that cannot be written).
    """
    folder = registers_folder() if folder is None else Path(folder)
    kept = CANONICAL if columns is None else columns if isinstance(columns, ColumnMap) else read_column_map(columns)
    with Saving(folder) as saving:
        register, report = read_register(bores, name=name, strikes=strikes, intervals=intervals, columns=kept, progress=progress, taken=saving.begin)
        model = None
        if len(register) <= _LATER if learn is None else learn:
            progress("learning from the bores")
            try:
                model = fit_model(register)
            except Refused as refusal:
                report = replace(report, advisories=(*report.advisories, Advisory("no-odds", "doubt", str(refusal), name)))
        else:
            report = replace(report, advisories=(Advisory("learned-later", "note", "The first question asked of this register learns from its bores, and takes longer for it.", name),
                                                 *report.advisories))
        progress("keeping the register")
        about = {"rows": report.rows, "strikes": report.strikes, "intervals": report.intervals, "refused": len(report.refused), "crs": kept.crs,
                 "advisories": [asdict(a) for a in report.advisories[:500]]}
        home = saving.finish(about)
        if model is not None:
            _save_model(model, register, home / _MODEL)
    inside = write_refused(report, home / "refused.csv")
    path = Path(bores)
    beside = write_refused(report, path.with_name(path.stem + ".refused.csv")) if report.refused else None
    return replace(report, refused_file=beside or inside)


def joined(register: Register, other: Register) -> Register:
    """Return two registers as one, its model fitted from the first's: widths and spreads stand, what the bores say is learned anew.

    A register too thin for a model of its own gains one here, if the two together are enough. The first's track record stands for both.
    """
    both = together(register, other)
    carry_standings(register, both)
    try:
        start = model_of(register)
    except Refused:
        return both
    both.__dict__["_model"] = fit_model(both, start=start, turns=2)
    return both


def list_registers(folder: Path | str | None = None) -> list[dict]:
    """Return what is remembered of each register, by name."""
    return store.list_registers(registers_folder() if folder is None else Path(folder))


def open_register(name: str, folder: Path | str | None = None) -> Register:
    """Return a kept register with its fitted model; raise NotFound when there is none of that name."""
    folder = registers_folder() if folder is None else Path(folder)
    register = store.open_register(name, folder)
    path = folder / name / _MODEL
    register.__dict__["_home"] = (folder / name, _loaded(folder / name))
    if path.exists():
        register.__dict__["_model"] = _open_model(path, name)
    return register


def _save_model(model: OddsModel, register: Register, path: Path) -> None:
    layers = {key: getattr(model, key) for key in ("scale", "water", "datum") if getattr(model, key) is not None}
    about = {
        "format": _MODEL_FORMAT, "datum_name": model.shape.datum, "dry_top": [model.shape.top, model.shape.top_share], "layers": {key: asdict(layer.field) for key, layer in layers.items()},
        "widths": {key: layer.widths for key, layer in layers.items()}, "habit": [model.habit.log_need, model.habit.log_need_spread, model.habit.rod],
        **{key: getattr(model, key) for key in ("log_yield_sd", "deepest", "highest", "known", "spacing")},
    }
    arrays = {f"{key}_{part}": getattr(layer, part) for key, layer in layers.items() for part in ("value", "precision")}
    if len(register) > ALL_SPEAK:
        cells = gathered_of(model, register) or {}
        about["cells"] = list(cells)
        arrays |= {f"{key}_cells": found.as_table() for key, found in cells.items()}
    table = table_of(model)
    new = path.with_name(f"{path.stem}.{os.getpid()}.new.npz")
    try:
        np.savez(new, enough_expected=table.log_expected, enough_need=table.log_need, enough_chance=table.chance, about=np.array(json.dumps(about)), shape_edges=model.shape.edges, shape_intensity=model.shape.intensity,
                 habit_edges=model.habit.edges, habit_hazard=model.habit.hazard, **arrays)
        os.replace(new, path)
    except OSError as error:
        raise StoreError(f"the model of the register could not be written: {error}") from error


def _open_model(path: Path, name: str) -> OddsModel | None:
    try:
        with np.load(path, allow_pickle=False) as file:
            about = json.loads(str(file["about"]))
            if about["format"] != _MODEL_FORMAT:
                return None
            layers = {key: Layer(Field(**f), file[f"{key}_value"], file[f"{key}_precision"], tuple((length, weight) for length, weight in about.get("widths", {}).get(key, ()))) for key, f in about["layers"].items()}
            model = OddsModel(
                Shape(about["datum_name"], file["shape_edges"], file["shape_intensity"], *about.get("dry_top", ())), layers["scale"], layers["water"], layers.get("datum"),
                about["log_yield_sd"], Habit(file["habit_edges"], file["habit_hazard"], *about["habit"]), about["deepest"], about["highest"],
                about["known"], about["spacing"])
            if "enough_chance" in file:
                model.__dict__["_table"] = EnoughTable(file["enough_expected"], file["enough_need"], file["enough_chance"])
            if "cells" in about:
                model.__dict__["_gathered"] = {key: Gathered.of_table(file[f"{key}_cells"]) for key in about["cells"]} or None
            return model
    except (OSError, KeyError, ValueError) as error:
        raise BadInput("register", name, f"its model cannot be read: {error}", "the register loaded again") from error
