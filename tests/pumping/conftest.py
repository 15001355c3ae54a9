"""Published tables and invented systems beside the tests of pumping."""

import csv
from pathlib import Path

from borewright.pumping import Pipe, System, level_from_losses

REFERENCE = Path(__file__).parents[1] / "reference" / "pumping"


def table(name):
    """Rows of a reference table without its comment lines."""
    lines = [line for line in (REFERENCE / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))


def invented_system(fall=0.0, lift=8.0):
    """A modest bore and its pipes, invented."""
    level = level_from_losses(12.0, linear_loss=12_000.0, turbulent_loss=4e6, fall=fall)
    return System(level, lift, 0.0, (Pipe("riser", 45.0, 0.0326, pressure_class=1.6e6), Pipe("main", 150.0, 0.0408, pressure_class=1.6e6)))
