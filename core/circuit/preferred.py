"""Preferred part values: series E12, E24 and E96 of IEC 60063, single and in pairs.

A value may stand for many layouts (an array). A pair adds up or is one beside the other; resistors in series,
inductors in series and capacitors in parallel add, the other way the inverses do, so that what two parts can
make is the same set of values for all three.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number

Array = NDArray[np.float64]
Side = Literal["nearest", "up", "down"]
"""Up and down: never below, never above the value asked for."""

SERIES: dict[str, tuple[float, ...]] = {
    "E12": (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    "E24": (
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
        3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ),
    "E96": tuple(round(10.0 ** (i / 96), 2) for i in range(96)),
}  # fmt: skip
TOLERANCE = {"E12": 0.10, "E24": 0.05, "E96": 0.01}
"""Of a part for which its series leaves no gap."""
SAME = 1e-9
"""Relative, within which a value is one of the series."""


@dataclass(frozen=True)
class Pair:
    """One or two parts of a series: `second` None for a single one; `adds` whether their values add."""

    first: float
    second: float | None = None
    adds: bool = True

    @property
    def total(self) -> float:
        if self.second is None:
            return self.first
        both = self.first + self.second
        return both if self.adds else self.first * self.second / both


def nearest(value: Number, series: str, side: Side = "nearest") -> Number:
    """The value of the series nearest in ratio, or the next one on that side. Zero, infinity and less than
    nothing stay as they are. KeyError for an unknown series."""
    steps = SERIES[series]
    if not isinstance(value, np.ndarray):
        if value <= 0.0 or not math.isfinite(value):
            return value
        return float(f"{float(_nearest(np.array([value]), steps, side)[0]):.3g}")
    real = (value > 0.0) & np.isfinite(value)
    return np.where(real, _nearest(np.where(real, value, 1.0), steps, side), value)


def _nearest(value: Array, steps: tuple[float, ...], side: Side) -> Array:
    decade = 10.0 ** np.floor(np.log10(value))
    ladder = np.array([*steps, 10.0])
    significand = np.clip(value / decade, 1.0, 10.0)
    above = np.clip(np.searchsorted(ladder, significand * (1.0 - SAME)), 0, len(ladder) - 1)
    up = ladder[above]
    down = np.where(up <= significand * (1.0 + SAME), up, ladder[np.maximum(above - 1, 0)])
    if side == "up":
        return np.asarray(up * decade)
    if side == "down":
        return np.asarray(down * decade)
    return np.asarray(np.where(up * down < significand**2, up, down) * decade)


def best(value: float, series: str, pairs: bool = False, side: Side = "nearest") -> Pair:
    """The part of the series, or where `pairs` is asked for the pair of parts, whose value comes nearest; a
    pair only where it comes nearer than a single part by more than a thousandth, or is the value itself, so that what
    was chosen once is chosen again."""
    single = Pair(float(nearest(value, series, side)))
    if not pairs or value <= 0.0 or not math.isfinite(value) or abs(single.total / value - 1.0) < SAME:
        return single
    decade = 10.0 ** math.floor(math.log10(value))
    sought = value / decade
    first, second, total, adds = _pairs(series)
    fits = {"up": total >= sought * (1.0 - SAME), "down": total <= sought * (1.0 + SAME)}.get(side)
    miss = np.abs(np.log(total / sought))
    i = int(np.argmin(miss if fits is None else np.where(fits, miss, np.inf)))
    if miss[i] > SAME and abs(single.total / value - 1.0) < 1e-3:
        return single
    one, other = (float(f"{x[i] * decade:.3g}") for x in (first, second))
    return Pair(one, other, bool(adds[i]))


@lru_cache(maxsize=4)
def _pairs(series: str) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
    """Every pair whose value lies from 0.99 to 10.1: first, second, value, whether they add."""
    steps = np.array(SERIES[series])
    small = np.concatenate([steps * 10.0**d for d in (-2, -1, 0)])
    large = np.concatenate([steps * 10.0**d for d in (0, 1, 2)])
    found = []
    for parts, adds in ((small, True), (large, False)):
        first, second = (x.ravel() for x in np.meshgrid(parts, parts, indexing="ij"))
        value = first + second if adds else first * second / (first + second)
        kept = (first >= second) & (value > 0.99) & (value < 10.1)
        found.append((first[kept], second[kept], value[kept], np.full(int(kept.sum()), adds)))
    joined = [np.concatenate(columns) for columns in zip(*found, strict=True)]
    return joined[0], joined[1], joined[2], joined[3].astype(bool)


def chosen(value: Number, series: str, pairs: bool = False, side: Side = "nearest") -> Number:
    """The value of the part or the pair of parts that is taken for a value, or for each of an array."""
    if not isinstance(value, np.ndarray):
        return best(float(value), series, pairs, side).total
    if not pairs:
        return nearest(value, series, side)
    return np.array([best(float(v), series, True, side).total for v in value.ravel()]).reshape(value.shape)
