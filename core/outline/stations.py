"""Stations of width so chosen that straight lines between them stay within a stated error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.outline.difference import REACH_M, Difference, difference
from core.outline.width import WidthCurve

Array = NDArray[np.float64]

RAMP_M = 1e-5
"""A step of the width becomes a ramp of this length."""
GRID_M = 1e-6
"""Stations lie on whole micrometres: a table a person can read."""
MOST_STATIONS = 120
NARROWEST = 0.001
"""A part that ends in a point ends in this share of its largest width instead."""


@dataclass(frozen=True, eq=False)
class Stations:
    """Stations x and widths, m, and how far the width they make is off the drawn one."""

    x_m: Array
    width_m: Array
    off: Difference

    @property
    def curve(self) -> WidthCurve:
        """The width as the stations make it."""
        return WidthCurve(self.x_m, self.width_m)


def choose(curve: WidthCurve, share: float) -> Stations:
    """Few stations with an error within `share` of the largest width (steps as short ramps).

    More than `MOST_STATIONS` are never taken; the error told is then larger than asked for.
    """
    x, w = _single_valued(curve)
    floor = NARROWEST * curve.widest_m
    w = np.maximum(w, floor)
    allowed = share * curve.widest_m
    keep = _corners(x, w, 0.95 * allowed)
    while len(keep) > MOST_STATIONS:
        allowed *= 1.5
        keep = _corners(x, w, allowed)
    at = np.round(np.round(x[keep] / GRID_M) * GRID_M, 9)
    plain = _told(at, w[keep], curve)
    fitted = _told(at, np.maximum(_fitted(at, w[keep], x, w), floor), curve)
    return fitted if fitted.off.width_m < plain.off.width_m else plain


def _single_valued(curve: WidthCurve) -> tuple[Array, Array]:
    """The curve with x at least a ramp apart: what changes within less becomes one ramp.

    Corners nearer to each other than a step may be moved are one step, drawn square or not: of each
    such group the width on either side counts. At an end only the width inside counts, so that
    an end edge out of square by micrometres does not leave a point.
    """
    groups = _groups(curve.x_m)
    last = len(groups) - 1
    x: list[float] = []
    w: list[float] = []
    for number, (i, j) in enumerate(groups):
        start, end = float(curve.x_m[i]), float(curve.x_m[j])
        before, after = float(curve.width_m[i]), float(curve.width_m[j])
        if number == 0:
            x, w = [0.0], [after]
        elif number == last:
            x, w = [*x, curve.span_m], [*w, before]
        elif i == j:
            x.append(start)
            w.append(after)
        else:
            half = 0.5 * max(end - start, RAMP_M)
            middle = 0.5 * (start + end)
            x += [middle - half, middle + half]
            w += [before, after]
    return _apart(np.array(x)), np.array(w)


def _groups(x: Array) -> list[tuple[int, int]]:
    """First and last index of runs of corners that lie within `REACH_M`; both ends have one of their own."""
    first_of_end = int(np.searchsorted(x, x[-1] - REACH_M))
    end_of_first = min(int(np.searchsorted(x, x[0] + REACH_M, side="right")) - 1, len(x) - 2)
    first_of_end = max(first_of_end, end_of_first + 1)
    groups = [(0, end_of_first)]
    i = end_of_first + 1
    while i < first_of_end:
        j = min(int(np.searchsorted(x, x[i] + REACH_M, side="right")), first_of_end) - 1
        groups.append((i, j))
        i = j + 1
    return [*groups, (first_of_end, len(x) - 1)]


def _apart(x: Array) -> Array:
    """The places moved on, where they must, to lie a ramp apart between the two ends."""
    least = np.arange(len(x)) * RAMP_M
    on = np.maximum.accumulate(x - least) + least
    # Pushed against the far end, they are pushed back from there.
    return np.asarray(np.minimum.accumulate((np.minimum(on, x[-1]) - least)[::-1])[::-1] + least)


def _corners(x: Array, w: Array, allowed: float) -> NDArray[np.intp]:
    """Indices of corners to keep: split at the worst point until nothing is off by more than `allowed`,
    or more are kept than may be.

    After Ramer (1972) and Douglas & Peucker (1973), with the error counted across (in width).
    """
    keep = np.zeros(len(x), dtype=bool)
    keep[[0, -1]] = True
    open_spans = [(0, len(x) - 1)]
    kept = 2
    while open_spans and kept <= MOST_STATIONS:
        i, j = open_spans.pop()
        if j - i < 2:
            continue
        line = w[i] + (w[j] - w[i]) * (x[i + 1 : j] - x[i]) / (x[j] - x[i])
        off = np.abs(w[i + 1 : j] - line)
        worst = int(off.argmax())
        if off[worst] > allowed:
            k = i + 1 + worst
            keep[k] = True
            kept += 1
            open_spans += [(i, k), (k, j)]
    return np.flatnonzero(keep)


def _fitted(at: Array, width: Array, x: Array, w: Array) -> Array:
    """Widths at the stations that fit the curve best in the mean: corners alone lie all on one side."""
    from scipy.linalg import solveh_banded  # imported here: only an import of outlines needs it

    places = np.unique(np.concatenate([x, at, 0.5 * (at[1:] + at[:-1])]))
    weight = np.gradient(places)
    off = np.interp(places, x, w) - np.interp(places, at, width)
    # Each place lies between two stations, so the normal equations have three diagonals.
    k = np.clip(np.searchsorted(at, places, side="right") - 1, 0, len(at) - 2)
    right = np.clip((places - at[k]) / (at[k + 1] - at[k]), 0.0, 1.0)
    left = 1.0 - right

    def at_stations(of_left: Array, of_right: Array) -> Array:
        n = len(at)
        return np.asarray(
            np.bincount(k, weight * of_left, n) + np.bincount(k + 1, weight * of_right, n), float
        )

    diagonal = at_stations(left**2, right**2)
    beside = np.concatenate([[0.0], np.bincount(k, weight * left * right, len(at))[:-1]])
    mean = at_stations(left * off, right * off)
    return width + np.asarray(solveh_banded(np.stack([beside, diagonal]), mean))


def _told(at: Array, width: Array, curve: WidthCurve) -> Stations:
    """The stations with widths on whole micrometres, and their difference from the drawn width."""
    whole = np.round(np.round(width / GRID_M) * GRID_M, 9)
    made = WidthCurve(at, np.maximum(whole, GRID_M))
    return Stations(made.x_m, made.width_m, difference(made, curve))
