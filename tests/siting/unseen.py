"""INVENTED districts that differ from the usual one in a single way each: how strikes lie, when drillers stop, where bores stand."""

import numpy as np

from borewright.demo.district import District, Recipe

VARIANTS = {
    "few strikes": {"strikes_to_80": 0.8}, "many strikes": {"strikes_to_80": 3.2}, "lineaments": {"lineaments": 8}, "deep cover": {"rockhead_median": 30.0},
    "short range": {"scale_length": 2_500.0}, "even ground": {"scale_sd": 0.2}, "along roads": {}, "picked spots": {}, "one need": {},
}


class Unseen(District):
    """A district of one variant; its truth is asked for as of any other."""

    def __init__(self, variant: str, *, seed: int, bores: int):
        self.variant = variant
        super().__init__(Recipe(seed=seed, bores=bores, **VARIANTS[variant]))

    def _drill(self, rng: np.random.Generator):
        return super()._drill(_Steered(self, rng))


class _Steered:
    """A random generator whose draws of place, need and limit follow the variant."""

    def __init__(self, district: Unseen, rng: np.random.Generator):
        self._district, self._rng = district, rng

    def __getattr__(self, name: str):
        return getattr(self._rng, name)

    def uniform(self, low, high, size=None):
        out = self._rng.uniform(low, high, size)
        if not (isinstance(size, tuple) and size[0] == 2):
            return out
        variant, side, count = self._district.variant, high, size[1]
        if variant == "along roads":
            road = self._rng.integers(0, 6, count)
            at = self._rng.normal(0, 250.0, count)
            across = (road % 3 + 0.5) / 3 * side + at
            out = np.where(road < 3, np.array([across, out[1]]), np.array([out[0], across]))
        elif variant == "picked spots":
            # The better of two spots, as a good eye would pick.
            other = self._rng.uniform(low, high, size)
            good = lambda xy: self._district.scale(*self._district.degrees(*xy))
            out = np.where(good(out) >= good(other), out, other)
        return np.clip(out, 0.0, side)

    def choice(self, values, size, p=None):
        return np.full(size, 0.4) if self._district.variant == "one need" else self._rng.choice(values, size, p=p)
