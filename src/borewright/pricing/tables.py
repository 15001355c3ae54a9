"""What a hole costs and comes to at every depth it may end at: metres, hours, charges line by line, tax, the firm's own costs.

The ground under a spot is not known, so everything is worked out for several equally likely columns, from easy to hard: the
class of ground at each depth is read at one quantile of its probabilities all the way down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from borewright.errors import BadInput, OutOfDomain, require_non_negative, require_positive
from borewright.ground import DRILLING_CLASSES, GROUND
from borewright.pricing.contract import Contract
from borewright.pricing.money import Line, amounts, round_ratio, round_to_step
from borewright.pricing.ratecard import CHARGES, RateCard
from borewright.pricing.timing import TimeModel
from borewright.siting.prospect import ExpectedColumn

__all__ = ["FAILED", "FOUND", "HoleForm", "HoleTables", "Line", "column_classes", "drilling_shares", "gross_of", "hole_tables", "itemised"]

FAILED, FOUND = 0, 1  # how a hole ends, and the first axis of the tables below
COLUMNS = 9  # equally likely columns of ground


@dataclass(frozen=True, slots=True)
class HoleForm:
    """The shape of the hole and what goes into it, in diameters; defaults are common practice, no source.

    Attributes
    ----------
    main_diameter, upper_diameter : float
        Hole diameter in sound rock, and above it where the surface casing stands [m].
    surface_casing_diameter, production_casing_diameter : float
        Outside diameters [m].
    key_in : float
        How far the surface casing goes into rock [m].
    line_full_depth : bool
        True: production casing to the bottom of a completed bore; False: open hole below the surface casing.
    slotted : float
        Slotted metres at the bottom of the production casing [m].
    seal : float
        Length of seal [m].
    grout_per_metre : float
        Bags of grout per metre of surface casing [1/m].
    """

    main_diameter: float = 0.165
    upper_diameter: float = 0.216
    surface_casing_diameter: float = 0.168
    production_casing_diameter: float = 0.125
    key_in: float = 3.0
    line_full_depth: bool = True
    slotted: float = 12.0
    seal: float = 3.0
    grout_per_metre: float = 0.6

    def __post_init__(self) -> None:
        require_positive(
            main_diameter=self.main_diameter, upper_diameter=self.upper_diameter, surface_casing_diameter=self.surface_casing_diameter,
            production_casing_diameter=self.production_casing_diameter,
        )
        require_non_negative(key_in=self.key_in, slotted=self.slotted, seal=self.seal, grout_per_metre=self.grout_per_metre)
        if not self.production_casing_diameter < self.main_diameter <= self.upper_diameter:
            raise OutOfDomain("main_diameter", self.main_diameter, "does not nest", "production casing inside the main hole, the main hole no wider than the upper")
        if not self.main_diameter <= self.surface_casing_diameter < self.upper_diameter:
            raise OutOfDomain("surface_casing_diameter", self.surface_casing_diameter, "does not nest", "from the main hole's diameter to below the upper hole's")


@dataclass(frozen=True, slots=True)
class HoleTables:
    """Money and quantities by (ending, column of ground, depth index); money before tax unless named, whole minor units.

    Attributes
    ----------
    depth : ndarray, shape (steps + 1,)
        [m]
    metres : ndarray, shape (columns, steps + 1, 4)
        Metres by drilling class [m].
    other_seconds : ndarray, shape (2, columns, steps + 1)
        All time but the drilling itself: rods, casing, grout, development, test, set-up, travel, sealing [s].
    items : ndarray, shape (2, columns, steps + 1)
        Sum of the rate card's lines, the minimum charge kept.
    due : ndarray, shape (2, columns, steps + 1)
        What the contract makes of it, before tax; for FAILED, when the job ends with this hole.
    moved : ndarray, shape (columns, steps + 1)
        What the contract makes of a failed hole when a second spot follows it, before tax.
    gross : ndarray, shape (2, columns, steps + 1)
        With tax and the rounding of the total: what the customer pays.
    materials : ndarray, shape (2, columns, steps + 1)
        The firm's costs that do not go by the hour.
    hourly_cost : int
        The firm's cost of an hour.
    """

    card: RateCard
    contract: Contract
    form: HoleForm
    time: TimeModel
    distance: float
    depth: np.ndarray
    metres: np.ndarray
    upper_metres: np.ndarray
    other_seconds: np.ndarray
    items: np.ndarray
    due: np.ndarray
    moved: np.ndarray
    gross: np.ndarray
    materials: np.ndarray
    hourly_cost: int
    quantities: dict[str, np.ndarray] = field(repr=False)

    @property
    def columns(self) -> int:
        """Number of equally likely columns of ground."""
        return self.metres.shape[0]

    @property
    def least_depth(self) -> float:
        """Depth above which the hole is not given up: the contract's, or half the greatest depth when it names none [m]."""
        return 0.5 * float(self.depth[-1]) if self.contract.least_depth is None else self.contract.least_depth

    def seconds(self, paces: np.ndarray | None = None) -> np.ndarray:
        """Return the whole time by ending, column and depth, at the mean or the given pace by class, shape (2, columns, steps + 1) [s]."""
        pace = self.time.paces() if paces is None else paces
        return self.other_seconds + (self.metres * pace).sum(axis=-1)

    def cost(self, paces: np.ndarray | None = None) -> np.ndarray:
        """Return the firm's own cost by ending, column and depth [minor units, not rounded]."""
        return self.materials + self.seconds(paces) / 3600.0 * self.hourly_cost

    def income(self) -> np.ndarray:
        """Return what the firm keeps of the gross once the tax is passed on [minor units]."""
        return self.gross - _tax(self.due, self.card)


def drilling_shares(column: ExpectedColumn) -> np.ndarray:
    """Return the probability of each drilling class in each cell of a column, shape (cells, 4) [-]."""
    probability = np.asarray(column.probability, float)
    edges = np.asarray(column.depth_edges, float)
    if probability.shape != (len(edges) - 1, len(column.classes)) or not len(column.classes):
        raise BadInput("column", probability.shape, "does not match its edges and classes", "one row for each cell, one column for each class")
    if edges[0] != 0 or not np.all(np.diff(edges) > 0):
        raise BadInput("column", float(edges[0]), "has edges that do not ascend from 0", "depth edges from 0 down")
    if not np.all(np.isfinite(probability)) or probability.min() < -1e-9 or np.abs(probability.sum(axis=1) - 1).max() > 1e-6:
        raise BadInput("column", "probability", "does not sum to 1 in every cell", "probabilities of the ground classes")
    out = np.zeros((len(probability), len(DRILLING_CLASSES)))
    for name, share in zip(column.classes, probability.T, strict=True):
        if name not in GROUND:
            raise BadInput("column", name, "is not a ground class", "a name of the ground vocabulary")
        out[:, DRILLING_CLASSES.index(GROUND[name].drilling)] += share
    return out


def column_classes(column: ExpectedColumn, depth: np.ndarray, columns: int = COLUMNS) -> tuple[np.ndarray, np.ndarray]:
    """Return metres by class and depth of rockhead for equally likely columns of ground, easy to hard.

    Returns
    -------
    metres : ndarray, shape (columns, len(depth), 4)
        Metres of each class from the surface to each depth; the deepest cell goes on for ever [m].
    rockhead : ndarray, shape (columns,)
        [m]
    """
    shares = drilling_shares(column)
    middle = 0.5 * (depth[1:] + depth[:-1])
    cell = np.clip(np.searchsorted(column.depth_edges, middle, side="right") - 1, 0, len(shares) - 1)
    at = (np.arange(columns) + 0.5) / columns
    cumulative = np.cumsum(shares[cell], axis=1)[:, :-1]
    index = (cumulative[None, :, :] < at[:, None, None]).sum(axis=2)
    metres = np.zeros((columns, len(depth), len(DRILLING_CLASSES)))
    for c in range(len(DRILLING_CLASSES)):
        metres[:, 1:, c] = np.cumsum((index == c) * np.diff(depth), axis=1)
    rockhead = np.zeros(columns)
    if column.rockhead_quantiles:
        probabilities = sorted(column.rockhead_quantiles)
        depths = [column.rockhead_quantiles[p] for p in probabilities]
        require_non_negative(rockhead_quantiles=depths)
        rockhead = np.interp(1.0 - at, probabilities, depths)
    return metres, rockhead


def _thousandths(values: np.ndarray) -> np.ndarray:
    return np.rint(np.asarray(values, float) * 1000.0).astype(np.int64)


def _tax(net: np.ndarray, card: RateCard) -> np.ndarray:
    scaled = int(card.tax_rate * 10**6)
    return round_ratio(np.asarray(net, dtype=np.int64) * np.int64(scaled), 10**6, card.rounding)


def _quantities(
    card: RateCard, form: HoleForm, time: TimeModel, distance: float, depth: np.ndarray, metres: np.ndarray, upper: np.ndarray,
    charged: np.ndarray,
) -> dict[str, np.ndarray]:
    """Return the quantity of every line, in thousandths, shape (2, columns, steps + 1)."""
    shape = (2, *metres.shape[:2])
    found = np.array([0.0, 1.0])[:, None, None]
    lines: dict[str, np.ndarray] = {}

    def put(key: str, values: np.ndarray | float) -> None:
        lines[key] = np.broadcast_to(_thousandths(values), shape)

    put("set_up", 1.0)
    put("travel_per_km", 2.0 * distance / 1000.0)
    upper_part = np.minimum(depth[None, :], upper[:, None])
    for c, name in enumerate(DRILLING_CLASSES):
        in_upper = np.stack([np.interp(upper_part[u], depth, metres[u, :, c]) for u in range(len(metres))])
        charged_upper = np.minimum(in_upper, charged[:, :, c])
        put(f"drilling.upper.{name}", charged_upper)
        put(f"drilling.main.{name}", charged[:, :, c] - charged_upper)
    put("casing.surface", upper_part)
    lined = depth[None, :] * (1.0 if form.line_full_depth else 0.0)
    slotted = np.minimum(form.slotted, lined)
    put("casing.production", found * (lined - slotted))
    put("casing.slotted", found * slotted)
    put("seal_per_metre", found * np.minimum(form.seal, depth[None, :]))
    put("grout_bag", np.ceil(upper_part * form.grout_per_metre - 1e-9))
    put("development_per_hour", found * time.development / 3600.0)
    put("test_per_hour", found * time.test / 3600.0)
    put("headworks", found)
    put("sealing_failed_hole", 1.0 - found)
    put("sealing_failed_per_metre", (1.0 - found) * depth[None, :])
    return lines


def _charge_rates(card: RateCard, form: HoleForm) -> dict[str, tuple[str, str, int]]:
    """Return label, unit and charge of every line by key, in the order in which they are shown."""
    upper_mm, upper = card.drilling_rates(form.upper_diameter)
    main_mm, main = card.drilling_rates(form.main_diameter)
    surface, production = card.casing_rates(form.surface_casing_diameter), card.casing_rates(form.production_casing_diameter)
    units = {"set_up": "job", "travel_per_km": "km", "grout_bag": "bag", "development_per_hour": "h", "test_per_hour": "h",
             "headworks": "job", "sealing_failed_hole": "hole"}
    rates = {key: (CHARGES[key].split(", per")[0], units[key], card.charges[key]) for key in ("set_up", "travel_per_km")}
    for part, size, row in (("upper", upper_mm, upper), ("main", main_mm, main)):
        rates |= {f"drilling.{part}.{name}": (f"Drilling {size} mm, {name} ground", "m", row[c]) for c, name in enumerate(DRILLING_CLASSES)}
    rates["casing.surface"] = (f"Surface casing {surface[0]} mm", "m", surface[1])
    rates["casing.production"] = (f"Casing {production[0]} mm", "m", production[1])
    rates["casing.slotted"] = (f"Slotted casing {production[0]} mm", "m", production[2])
    for key in ("seal_per_metre", "grout_bag", "development_per_hour", "test_per_hour", "headworks", "sealing_failed_hole", "sealing_failed_per_metre"):
        rates[key] = (CHARGES[key].split(", per")[0], units.get(key, "m"), card.charges[key])
    return rates


def _materials(card: RateCard, form: HoleForm, quantities: dict[str, np.ndarray], metres: np.ndarray) -> np.ndarray:
    surface, production = card.casing_rates(form.surface_casing_diameter), card.casing_rates(form.production_casing_diameter)
    rates = {"travel_per_km": card.costs["travel_per_km"], "casing.surface": surface[3], "casing.production": production[3],
             "casing.slotted": production[4], "seal_per_metre": card.costs["seal_per_metre"], "grout_bag": card.costs["grout_bag"],
             "headworks": card.costs["headworks"], "sealing_failed_per_metre": card.costs["sealing_failed_per_metre"]}
    wear = sum(amounts(_thousandths(metres[:, :, c]), card.wear[c], card.rounding) for c in range(len(DRILLING_CLASSES)))
    return card.costs["job"] + wear[None] + sum(amounts(quantities[key], rate, card.rounding) for key, rate in rates.items())


def _other_seconds(form: HoleForm, time: TimeModel, distance: float, depth: np.ndarray, upper: np.ndarray) -> np.ndarray:
    found = np.array([0.0, 1.0])[:, None, None]
    upper_part = np.minimum(depth[None, :], upper[:, None])
    lined = depth[None, :] * (1.0 if form.line_full_depth else 0.0)
    rods = time.rods(depth)[None, :] * (time.add_rod + time.pull_rod)
    grout = np.where(upper_part > 0, time.grout_mixing + time.grout_wait, 0.0)
    common = time.set_up + 2.0 * distance / time.travel_speed + rods + upper_part * time.run_casing_per_metre + grout
    finish = lined * time.run_casing_per_metre + time.development + time.test
    return common[None] + found * finish[None] + (1.0 - found) * depth * time.sealing_per_metre


def hole_tables(
    column: ExpectedColumn, card: RateCard, contract: Contract, *, depth: np.ndarray, distance: float, form: HoleForm, time: TimeModel,
    columns: int = COLUMNS,
) -> HoleTables:
    """Return charges, payments, hours and costs for every way and depth a hole may end.

    Parameters
    ----------
    depth : ndarray, shape (steps + 1,)
        Depths at which it may end, from 0 in equal steps [m].
    distance : float
        From the yard, one way [m].

    Raises
    ------
    BadInput
        Two currencies, a diameter the card does not list, a column that is not one.
    """
    require_non_negative(distance=distance)
    if contract.currency is not None and contract.currency != card.currency:
        raise BadInput("currency", contract.currency, f"does not mix with {card.currency}", "a contract in the currency of the rate card")
    metres, rockhead = column_classes(column, depth, columns)
    upper = np.minimum(rockhead + form.key_in, depth[-1])
    charged = metres
    if contract.metres_cap is not None:
        charged = metres[:, np.minimum(np.arange(len(depth)), int(contract.metres_cap / (depth[1] - depth[0]) + 1e-9))]
    quantities = _quantities(card, form, time, distance, depth, metres, upper, charged)
    items = sum(amounts(quantities[key], rate, card.rounding) for key, (_, _, rate) in _charge_rates(card, form).items())
    items = np.maximum(items, card.minimum_charge)
    due, moved = _due(items, contract, card)
    return HoleTables(
        card=card, contract=contract, form=form, time=time, distance=distance, depth=depth, metres=metres, upper_metres=upper,
        other_seconds=_other_seconds(form, time, distance, depth, upper), items=items, due=due, moved=moved, gross=gross_of(due, card),
        materials=_materials(card, form, quantities, metres), hourly_cost=card.costs["rig_and_crew_per_hour"], quantities=quantities,
    )


def gross_of(due: np.ndarray, card: RateCard) -> np.ndarray:
    """Return amounts due with tax and the rounding of the total [minor units]."""
    return round_to_step(due + _tax(due, card), card.round_total_to, card.rounding)


def _share(items: np.ndarray, share: float, rounding: str) -> np.ndarray:
    return round_ratio(items * np.int64(round(Decimal(str(share)) * 10**6)), 10**6, rounding)


def _due(items: np.ndarray, contract: Contract, card: RateCard) -> tuple[np.ndarray, np.ndarray]:
    base = np.full_like(items, contract.fixed) if contract.kind == "fixed" else items
    found = base[FOUND] + (contract.promise_price or 0)
    failed = _share(base[FAILED], contract.dry_hole_share, card.rounding)
    # With a second spot to follow, one fixed price covers both; by the metre each hole is charged as it stands.
    moved = np.zeros_like(failed) if contract.kind == "fixed" else failed
    return np.stack([np.maximum(failed, contract.deposit), np.maximum(found, contract.deposit)]), moved


def itemised(tables: HoleTables, *, ending: int, column: int, index: int) -> tuple[Line, ...]:
    """Return the lines of one ending at one depth; their amounts sum to what the customer pays, to the minor unit."""
    card, contract = tables.card, tables.contract
    lines = []
    for key, (label, unit, rate) in _charge_rates(card, tables.form).items():
        quantity = int(tables.quantities[key][ending, column, index])
        if quantity:
            lines.append(Line(key, label, quantity, unit, rate, int(amounts(quantity, rate, card.rounding))))
    total = sum(line.amount_minor for line in lines)

    def adjust(key: str, label: str, to: int) -> None:
        nonlocal total
        if to != total:
            lines.append(Line(key, label, 1000, "job", to - total, to - total))
            total = to

    adjust("minimum", "Up to the minimum charge", int(tables.items[ending, column, index]))
    if contract.kind == "fixed":
        adjust("fixed", "To the fixed price", int(contract.fixed or 0))
    if ending == FOUND:
        adjust("promise", "Price of the promise", total + (contract.promise_price or 0))
    else:
        label = "Not charged: the need was not met" if contract.dry_hole_share == 0 else "Reduced: the need was not met"
        adjust("dry_hole", label, int(_share(np.int64(total), contract.dry_hole_share, card.rounding)))
    adjust("deposit", "Deposit kept", int(tables.due[ending, column, index]))
    adjust("tax", f"{card.tax_name} {(card.tax_rate * 100).normalize():f} %", total + int(_tax(np.int64(total), card)))
    adjust("rounding", "Rounding", int(tables.gross[ending, column, index]))
    return tuple(lines)
