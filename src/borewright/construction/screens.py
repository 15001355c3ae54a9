"""Letting water in: slots and their open area, entrance speed and loss, aperture and filter pack from a sieve curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from borewright.errors import (
    Advisory,
    BadInput,
    OutOfDomain,
    require,
    require_fraction,
    require_non_negative,
    require_positive,
)

__all__ = [
    "ENTRANCE_SPEED", "Entrance", "FilterPack", "SlottedPipe", "aperture_for", "entrance", "filter_pack", "grain_size", "slotted_pipe", "uniformity",
]

ENTRANCE_SPEED = 0.03  # m/s: 0.1 ft/s, TM 5-813-1 (1987) p. 27 (read)
PACK_RATIOS = {"uniform": 4.0, "ordinary": 5.0, "mixed": 6.0}
GRAVITY = 9.80665


@dataclass(frozen=True, slots=True)
class SlottedPipe:
    """Slots cut across a pipe: open area [m2 per m] and as a share of the wall [-], slots in a metre, width of bar left between slots [m]."""

    open_area: float
    open_share: float
    slots_per_length: float
    bar: float


def slotted_pipe(*, outside_diameter: float, aperture: float, spacing: float, rows: int, slot_length: float) -> SlottedPipe:
    """Return the open area of a pipe with rows of slots sawn across it.

    Parameters
    ----------
    outside_diameter : float
        [m].
    aperture : float
        Width of a slot, along the pipe [m].
    spacing : float
        From the middle of one slot to the next in a row, along the pipe [m].
    rows : int
        Rows of slots round the pipe [-].
    slot_length : float
        Length of one slot at the outside, round the pipe [m].

    Raises
    ------
    OutOfDomain
        Slots that run into one another, or that leave less than a tenth of the wall between rows.
    """
    require_positive(outside_diameter=outside_diameter, aperture=aperture, spacing=spacing, slot_length=slot_length, rows=rows)
    require(int(rows) == rows, "rows", rows, "is not a whole number", "a whole number of rows")
    require(aperture < spacing, "spacing", spacing, "lets the slots run into one another", f"more than the aperture of {aperture * 1000:g} mm")
    round_pipe = math.pi * outside_diameter
    require(rows * slot_length <= 0.9 * round_pipe, "slot_length", slot_length, "cuts the pipe through",
            f"at most {0.9 * round_pipe / rows * 1000:.0f} mm for {rows} rows")
    open_area = rows * slot_length * aperture / spacing
    return SlottedPipe(open_area, open_area / round_pipe, rows / spacing, spacing - aperture)


@dataclass(frozen=True, slots=True)
class Entrance:
    """Water through slots: speed [m/s], head lost [m], least length that keeps the speed down [m], whether it does."""

    speed: float
    head_loss: float
    least_length: float
    slow_enough: bool
    advisories: tuple[Advisory, ...]


def entrance(*, flow: float, open_area: float, length: float, blocked: float = 0.5, speed_allowed: float = ENTRANCE_SPEED, discharge: float = 0.62) -> Entrance:
    """Return the speed of water through the slots and the head it loses there.

    Parameters
    ----------
    flow : float
        Of the bore [m3/s].
    open_area : float
        Of a metre of slotted pipe [m2/m].
    length : float
        Slotted [m].
    blocked : float
        Share of the open area that gravel or rock stands against; half is common practice, no source [-].
    speed_allowed : float
        [m/s].
    discharge : float
        Orifice coefficient of a sharp slot [-].

    Notes
    -----
    v = Q / (open area x length x (1 - blocked)); the published 0.1 ft/s is 0.312 US gpm per square inch of open area. Loss (v/C)^2 / 2g.

    References
    ----------
    .. [1] TM 5-813-1 (1987) p. 27 (read).
    """
    require_non_negative(flow=flow)
    require_positive(open_area=open_area, length=length, speed_allowed=speed_allowed, discharge=discharge)
    require_fraction(blocked=blocked)
    require(blocked < 1, "blocked", blocked, "leaves nothing open", "a share below 1")
    speed = flow / (open_area * length * (1 - blocked))
    least = flow / (open_area * (1 - blocked) * speed_allowed)
    doubts = ()
    if speed > speed_allowed * (1 + 1e-9):
        doubts = (Advisory("fast-entrance", "doubt", f"Water enters at {speed:.3f} m/s against {speed_allowed:.3f} m/s: slots wear and crust over. "
                           f"{least:.1f} m of these slots would do.", "slots"),)
    return Entrance(speed, (speed / discharge) ** 2 / (2 * GRAVITY), least, not doubts, doubts)


def _curve(sizes: Sequence[float], passing: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    sizes, passing = np.asarray(sizes, float), np.asarray(passing, float)
    if sizes.ndim != 1 or sizes.shape != passing.shape or len(sizes) < 2:
        raise BadInput("passing", len(passing), "is not one reading for each sieve", "at least two sieves, each with the share passing")
    require_positive(sizes=sizes)
    require_fraction(passing=passing)
    order = np.argsort(sizes)
    sizes, passing = sizes[order], passing[order]
    if np.any(np.diff(sizes) <= 0):
        raise OutOfDomain("sizes", float(sizes[0]), "holds one sieve twice", "each sieve once")
    if np.any(np.diff(passing) < 0):
        raise OutOfDomain("passing", float(passing[np.argmin(np.diff(passing)) + 1]), "lets less through a wider sieve", "shares that grow with the sieve")
    return sizes, passing


def grain_size(sizes: Sequence[float], passing: Sequence[float], share: float) -> float:
    """Return the size that a share of the sample is finer than, between sieves by the logarithm of size [m].

    Parameters
    ----------
    sizes : sequence of float
        Sieve openings [m].
    passing : sequence of float
        Share by mass that passes each [-].
    share : float
        Share finer, 0 to 1 [-].

    Raises
    ------
    OutOfDomain
        The share lies outside the sieves used, so the curve does not say.
    """
    opening, finer = _curve(sizes, passing)
    require_fraction(share=share)
    if not finer[0] <= share <= finer[-1]:
        raise OutOfDomain("share", share, "lies outside the sieves used", f"a share from {finer[0]:.2f} to {finer[-1]:.2f}, or more sieves")
    last = int(np.searchsorted(finer, share, side="left"))
    if last == 0 or finer[last] == share:
        return float(opening[last])
    part = (share - finer[last - 1]) / (finer[last] - finer[last - 1])
    return float(np.exp(np.log(opening[last - 1]) + part * np.log(opening[last] / opening[last - 1])))


def uniformity(sizes: Sequence[float], passing: Sequence[float]) -> float:
    """Return D60/D10, the uniformity coefficient [-]."""
    return grain_size(sizes, passing, 0.6) / grain_size(sizes, passing, 0.1)


@dataclass(frozen=True, slots=True)
class FilterPack:
    """A pack for a formation. Sizes in m.

    `envelope` holds (share finer, finest size, coarsest size) of a grading that meets the rules; `aperture` keeps 90 % of the pack out.
    """

    formation_d30: float
    formation_uniformity: float | None
    ratio: float
    pack_d30: float
    pack_d10: float
    pack_d60: float
    pack_d90: float
    aperture: float
    thickness: float
    envelope: tuple[tuple[float, float, float], ...]
    source: tuple[str, ...]
    advisories: tuple[Advisory, ...]


def filter_pack(samples: Sequence[tuple[Sequence[float], Sequence[float]]], *, pack_uniformity: float = 2.0, ratio: float | None = None) -> FilterPack:
    """Return the grading of a filter pack and the slot for it, from the finest of the formation's samples.

    Parameters
    ----------
    samples : sequence of (sizes, passing)
        Sieve curves of the strata to be slotted [m, -].
    pack_uniformity : float
        D60/D10 of the pack to be bought, 1 to 2.5 [-].
    ratio : float, optional
        Pack D30 over formation D30; by the formation's uniformity when left out: 4 fine and uniform, 5, or 6 coarse and mixed [-].

    Notes
    -----
    The pack's 70 %-retained size is 4 to 6 times that of the finest stratum; D60/D10 at most 2.5; slots keep 90 % of the pack. The pack is
    taken straight on a logarithmic plot, so D10 = D30 Cu^(-0.4) and so on. The envelope is 8 % each way in size (common practice, no source).

    References
    ----------
    .. [1] US EPA private water systems guide, gravel pack design steps (read). .. [2] TM 5-813-1 (1987) p. 27-28 (read).
    .. [3] UFGS 02525N (read).
    """
    if not samples:
        raise BadInput("samples", 0, "holds no sieve curve", "at least one sample of the ground to be slotted")
    require(1.0 <= pack_uniformity <= 2.5, "pack_uniformity", pack_uniformity, "is not the grading of a filter pack", "D60/D10 from 1 to 2.5")
    finest = min(samples, key=lambda s: grain_size(*s, 0.3))
    d30 = grain_size(*finest, 0.3)
    doubts: list[Advisory] = []
    try:
        mixed = uniformity(*finest)
    except OutOfDomain:
        mixed = None
        doubts.append(Advisory("short-curve", "doubt", "The sieves do not reach D10 or D60, so how mixed the ground is, is not known.", "samples"))
    if ratio is None:
        ratio = 5.0 if mixed is None else 4.0 if mixed < 2.5 else 5.0 if mixed < 5.0 else 6.0
    require_positive(ratio=ratio)
    if not 4 <= ratio <= 9:
        doubts.append(Advisory("pack-ratio", "doubt", f"{ratio:g} times is outside 4 to 6 (9 for very mixed ground): sand comes in above, water is held back below.", "ratio"))
    log_step = math.log(pack_uniformity) / 0.5  # logarithm of size gained over a whole unit of share

    def size(share: float) -> float:
        return ratio * d30 * math.exp((share - 0.3) * log_step)

    coarsest = max(grain_size(*s, 0.3) for s in samples)
    if coarsest > 4 * d30:
        doubts.append(Advisory("two-packs", "note", "The coarsest layer is over four times the finest: slot and pack it apart for more water.", "samples"))
    if d30 < 75e-6:
        doubts.append(Advisory("too-fine", "doubt", "The ground is silt or clay at D30: a pack for it gives little water. Case it off if you can.", "samples"))
    return FilterPack(
        formation_d30=d30, formation_uniformity=mixed, ratio=ratio, pack_d30=size(0.3), pack_d10=size(0.1), pack_d60=size(0.6), pack_d90=size(0.9),
        aperture=size(0.1), thickness=0.075,
        envelope=tuple((share, size(share) / 1.08, size(share) * 1.08) for share in (0.05, 0.1, 0.3, 0.5, 0.6, 0.9, 0.95)),
        source=("US EPA private water systems guide: 4 to 6 times the 70 %-retained size, D60/D10 at most 2.5, 90 % kept (read)",
                "TM 5-813-1 (1987): 85 to 100 % of the pack kept; 3 to 8 in thick (read)"),
        advisories=tuple(doubts),
    )


def aperture_for(sizes: Sequence[float], passing: Sequence[float], *, kept: float = 0.4) -> float:
    """Return the slot that keeps a share of the ground out when no pack is placed and the bore is developed to grade itself [m].

    `kept` is 0.4 for a bore that is well developed, 0.5 to 0.7 for a house bore (trade column, read).
    """
    require_fraction(kept=kept)
    return grain_size(sizes, passing, 1 - kept)
