"""Highest and lowest values of readings of a motion, searched in time.

A ringing sum of modes can exceed the bend it starts from: higher modes come into phase later. Windows of
time are looked at one after the other, each with steps fine enough for the fastest term that still
counts, until the envelope (the sum of the sizes of all terms) cannot exceed what was found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEPS = 500
"""Points of a window."""
A_CYCLE = 10
"""Points per cycle of the fastest term that counts; the parabola through three of them does the rest."""
COUNTS = 1e-3
"""A term below this share of what was found no longer decides on the step."""
WINDOWS = 40
"""Looked at in one stretch at most: an undamped sum of modes has no end."""
_BLOCK = 25
_COARSE, _FINE = _BLOCK * np.arange(STEPS // _BLOCK), np.arange(_BLOCK)


@dataclass(frozen=True)
class Extremes:
    """Per set of rows the highest and the lowest value and the row it is in, (S,) each."""

    high: Array
    low: Array
    high_row: NDArray[np.intp]
    low_row: NDArray[np.intp]

    def with_(self, other: Extremes) -> Extremes:
        """The worse of two motions."""
        up, down = other.high > self.high, other.low < self.low
        return Extremes(
            np.where(up, other.high, self.high),
            np.where(down, other.low, self.low),
            np.where(up, other.high_row, self.high_row),
            np.where(down, other.low_row, self.low_row),
        )


def symmetric(amplitude: Array, owner: NDArray[np.intp], sets: int) -> Extremes:
    """Extremes of rows that swing by `amplitude` both ways; owner (R,) is the set of each row."""
    size, row = np.zeros(sets), np.zeros(sets, dtype=np.intp)
    order = np.argsort(amplitude, kind="stable")
    size[owner[order]], row[owner[order]] = amplitude[order], order
    return Extremes(size, -size, row, row)


def extremes_in_time(
    rate: ComplexArray, amplitude: ComplexArray, owner: NDArray[np.intp], sets: int, length_s: float
) -> Extremes:
    """Extremes of Re sum over k of amplitude exp(rate t) from 0 to `length_s`.

    rate : (k,); amplitude : (R, k); owner : (R,) the set of each row, from 0 to sets - 1. A set without
    rows gets 0.
    """
    search = _Search(rate, amplitude, owner, sets)
    start, windows = 0.0, 0
    while start < length_s and windows < WINDOWS and search.active(start):
        start = search.window(start, length_s)
        windows += 1
    if start < length_s and np.isfinite(length_s):
        search.rest(start, length_s)
    return Extremes(search.high, search.low, search.high_row, search.low_row)


class _Search:
    def __init__(
        self, rate: ComplexArray, amplitude: ComplexArray, owner: NDArray[np.intp], sets: int
    ) -> None:
        self.rate, self.amplitude, self.owner = rate, amplitude, owner
        self.size = np.abs(amplitude)
        standing = rate == 0
        self.rest_value = amplitude.real[:, standing].sum(axis=1)
        self.size[:, standing] = 0.0
        self.rounding = 1e-12 * np.bincount(owner, np.abs(amplitude).sum(axis=1), sets)
        self.high, self.low = np.zeros(sets), np.zeros(sets)
        self.high_row, self.low_row = np.zeros(sets, dtype=np.intp), np.zeros(sets, dtype=np.intp)
        self.rows = np.arange(len(owner))
        first = amplitude.real.sum(axis=1)
        self._take(self.rows, first, first)

    def active(self, start: float) -> bool:
        """Whether some row's envelope still exceeds what was found for its set."""
        self.decayed = np.exp(np.minimum(self.rate.real * start, 0.0))
        swing, rest = self.size[self.rows] @ self.decayed, self.rest_value[self.rows]
        own = self.owner[self.rows]
        # a millionth above is rounding of a row that is the extreme already
        more = np.maximum(1e-6 * swing, self.rounding[own])
        open_ = (rest + swing > self.high[own] + more) | (rest - swing < self.low[own] - more)
        self.rows = self.rows[open_]
        return len(self.rows) > 0

    def window(self, start: float, length_s: float) -> float:
        """Look at the window from `start`; its end."""
        rows = self.rows
        left = self.size[rows] * self.decayed
        found = np.maximum(self.high, -self.low)[self.owner[rows]]
        scale = np.maximum(found, left.max(axis=1))
        counts = (left > COUNTS * scale[:, None]).any(axis=0)
        fastest = np.abs(self.rate[counts]).max(initial=1e-12)
        step = 2 * np.pi / (A_CYCLE * float(fastest))
        if np.isfinite(length_s):
            step = min(step, max((length_s - start) / (STEPS - 1), length_s * 1e-9))
        counts |= self.rate == 0
        self._top(rows, self._values(rows, np.flatnonzero(counts), start, step))
        return start + step * (STEPS - 1)

    def rest(self, start: float, length_s: float) -> None:
        """What follows the load over the rest of a long stretch: the decaying terms are taken whole."""
        decayed = self.rate.real < 0
        t = np.linspace(start, length_s, STEPS)
        values = (self.amplitude[:, ~decayed] @ np.exp(np.outer(self.rate[~decayed], t))).real
        left = self.size[:, decayed] @ np.exp(self.rate.real[decayed] * start)
        self._take(np.arange(len(self.owner)), values.max(axis=1) + left, values.min(axis=1) - left)

    def _values(self, rows: NDArray[np.intp], terms: NDArray[np.intp], start: float, step: float) -> Array:
        """(rows, STEPS) values of the terms that count."""
        rate = self.rate[terms]
        coarse = np.exp(rate[:, None] * (start + step * _COARSE))
        fine = np.exp(rate[:, None] * (step * _FINE))
        waves = (coarse[:, :, None] * fine[:, None, :]).reshape(len(rate), STEPS)
        a = self.amplitude[rows[:, None], terms]
        return np.asarray(np.concatenate([a.real, -a.imag], axis=1) @ np.concatenate([waves.real, waves.imag]))

    def _top(self, rows: NDArray[np.intp], values: Array) -> None:
        """Take the highest and the lowest value of each row, by the parabola through its neighbours."""
        at = np.arange(len(rows))
        out = []
        for i in (values.argmax(axis=1), values.argmin(axis=1)):
            inner = np.minimum(np.maximum(i, 1), STEPS - 2)
            before, here, after = values[at, inner - 1], values[at, inner], values[at, inner + 1]
            bend = before - 2 * here + after
            moved = here - (after - before) ** 2 / (8 * np.where(bend == 0, np.inf, bend))
            out.append(np.where(i == inner, moved, values[at, i]))
        self._take(rows, out[0], out[1])

    def _take(self, rows: NDArray[np.intp], high: Array, low: Array) -> None:
        own = self.owner[rows]
        self.high, self.high_row = _better(self.high, self.high_row, own, rows, high)
        lowest, self.low_row = _better(-self.low, self.low_row, own, rows, -low)
        self.low = -lowest


def _better(
    best: Array, best_row: NDArray[np.intp], own: NDArray[np.intp], rows: NDArray[np.intp], value: Array
) -> tuple[Array, NDArray[np.intp]]:
    """The best of each set and its row, after some rows' values are looked at."""
    order = np.argsort(value, kind="stable")
    top, which = np.full(len(best), -np.inf), np.zeros(len(best), dtype=np.intp)
    top[own[order]], which[own[order]] = value[order], rows[order]
    better = top > best
    return np.where(better, top, best), np.where(better, which, best_row)
