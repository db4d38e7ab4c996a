"""Outline to net width: what holes and slots leave of the plan width."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.profile import Linear
from core.project.model import CutOut, Structure

Array = NDArray[np.float64]

HOLE_CHORDS = 8
"""A round hole is taken out as this many straight-sided slices of the same total area."""


def _hole(cut: CutOut) -> Linear:
    """Chord of a round hole as a piecewise linear function, scaled to the true area.

    Slices end at equal angles, so the first and last follow the steep ends of the chord.
    """
    radius = 0.5 * cut.diameter_m
    angle = np.linspace(np.pi, 0.0, HOLE_CHORDS + 1)
    x = radius * np.cos(angle)
    chord = 2.0 * radius * np.sin(angle)
    chord[[0, -1]] = 0.0
    area = float(np.sum(0.5 * (chord[1:] + chord[:-1]) * np.diff(x)))
    chord *= np.pi * radius**2 / area
    return Linear(cut.x_m + x, chord[:-1], chord[1:])


def _slot(cut: CutOut) -> Linear:
    ends = np.array([cut.x_m - 0.5 * cut.length_m, cut.x_m + 0.5 * cut.length_m])
    return Linear(ends, np.array([cut.width_m]), np.array([cut.width_m]))


CUT_OUTS = {"hole": _hole, "slot": _slot}


def net_width(structure: Structure) -> Linear:
    """Plan width less cut-outs, m, along the span (PHYSICS of a section: E b with net b).

    Cut-outs that reach past the ends of the span count only inside it.
    """
    stations = np.asarray(structure.stations_m, dtype=float)
    width = Linear.through(stations, structure.width_m)
    for cut in structure.cut_outs:
        removed = CUT_OUTS[cut.kind](cut)
        lo, hi = stations[0], stations[-1]
        inner = removed.bounds[(removed.bounds > lo) & (removed.bounds < hi)]
        bounds = np.unique(np.concatenate([width.bounds, inner]))
        gone = removed.on(np.unique(np.concatenate([removed.bounds, bounds])))
        a, b = removed.bounds[0], removed.bounds[-1]
        keep = (gone.bounds[:-1] >= lo - 1e-15) & (gone.bounds[1:] <= hi + 1e-15)
        gone = Linear(bounds, gone.left[keep], gone.right[keep]).masked(a, b)
        width = width.on(bounds).minus(gone)
    return width
