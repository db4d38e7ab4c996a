"""The structure as plain coordinates in metres, ready to be drawn; made once per structure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.project.model import (
    CutOut,
    DatumFeature,
    GroundSpring,
    KeepOut,
    PointMass,
    Profile,
    Structure,
    Support,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PieceView:
    """A filled area of the side view: one layer, from where its pieces start to where they end."""

    name: str
    order: int
    """Index of the layer, bottom first; picks the fill."""
    x_m: Array
    bottom_m: Array
    top_m: Array


@dataclass(frozen=True, eq=False)
class StructureView:
    """Outline, side profile and everything fixed to the span."""

    name: str
    span_m: float
    stations_m: Array
    half_width_m: Array
    """(n_stations,) half the plan width; linear in between."""
    thickness_m: Array
    """(n_stations,) thickness of the bare lay-up."""
    pieces: tuple[PieceView, ...]
    root: Support
    tip: Support
    cut_outs: tuple[CutOut, ...]
    masses: tuple[PointMass, ...]
    springs: tuple[GroundSpring, ...]
    keep_outs: tuple[KeepOut, ...]
    datums: tuple[DatumFeature, ...]

    @property
    def widest_m(self) -> float:
        return 2.0 * float(self.half_width_m.max())

    @property
    def thickest_m(self) -> float:
        return float(self.thickness_m.max())

    def top_at(self, x_m: float | Array) -> Array:
        """Height of the top face above the underside."""
        return np.interp(x_m, self.stations_m, self.thickness_m)

    def half_width_at(self, x_m: float | Array) -> Array:
        return np.interp(x_m, self.stations_m, self.half_width_m)


def _profile(value: Profile, count: int) -> Array:
    if isinstance(value, tuple):
        given = np.asarray(value, dtype=float)
        # A table being typed may be short for a moment; the last value then serves the rest.
        return np.concatenate([given, np.full(max(count - len(given), 0), given[-1])])[:count]
    return np.full(count, float(value))


def _cover(structure: Structure, layer: int) -> list[tuple[float, float]]:
    """Stretches of x where any piece of the layer exists."""
    span = structure.span_m
    ends = sorted(
        (max(piece.start_m, 0.0), span if piece.end_m is None else min(piece.end_m, span))
        for piece in structure.layers[layer].pieces
    )
    merged: list[tuple[float, float]] = []
    for start, end in ends:
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        elif end > start:
            merged.append((start, end))
    return merged


@lru_cache(maxsize=8)
def structure_view(structure: Structure) -> StructureView:
    """The drawable form of `structure`."""
    stations = np.asarray(structure.stations_m, dtype=float)
    count = len(stations)
    bottom = np.zeros(count)
    pieces = []
    for order, layer in enumerate(structure.layers):
        top = bottom + _profile(layer.thickness_m, count)
        for start, end in _cover(structure, order):
            inner = stations[(stations > start) & (stations < end)]
            x = np.concatenate([[start], inner, [end]])
            pieces.append(
                PieceView(layer.name, order, x, np.interp(x, stations, bottom), np.interp(x, stations, top))
            )
        bottom = top
    return StructureView(
        name=structure.name,
        span_m=structure.span_m,
        stations_m=stations,
        half_width_m=0.5 * _profile(structure.width_m, count),
        thickness_m=bottom,
        pieces=tuple(pieces),
        root=structure.root,
        tip=structure.tip,
        cut_outs=structure.cut_outs,
        masses=structure.masses,
        springs=structure.springs,
        keep_outs=structure.keep_outs,
        datums=structure.datums,
    )
