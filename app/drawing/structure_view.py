"""The structure as plain coordinates in metres, ready to be drawn; made once per structure.

A structure that is being typed may be impossible for a moment (no span, no layer, a width too
few). What is wrong is said elsewhere; here the nearest thing that can be drawn is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.project.edge_strips import edge_strips
from core.project.record import Profile
from core.project.structure import (
    CutOut,
    DatumFeature,
    GroundSpring,
    KeepOut,
    Outline,
    PointMass,
    Structure,
    Support,
)

Array = NDArray[np.float64]

LARGEST_M, SHORTEST_M, THINNEST_M = 1e3, 1e-3, 1e-6
"""Bounds of what is drawn, so that every scale is finite."""


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
    rings_m: tuple[Array, ...] = ()
    """The true outline where there is one: (n, 2) corners of its edge, then of its openings."""
    outline: Outline | None = None
    edge_strips_m: tuple[Array, ...] = ()
    """(n, 2) inner side at +y of strips along both edges."""

    @cached_property
    def widest_m(self) -> float:
        """Twice the furthest that anything of the part lies from the axis."""
        true = max((2.0 * float(np.abs(ring[:, 1]).max()) for ring in self.rings_m[:1]), default=0.0)
        return max(2.0 * float(self.half_width_m.max()), true, THINNEST_M)

    @cached_property
    def thickest_m(self) -> float:
        return max(float(self.thickness_m.max()), THINNEST_M)

    def top_at(self, x_m: float | Array) -> Array:
        """Height of the top face above the underside."""
        return np.asarray(np.interp(x_m, self.stations_m, self.thickness_m))

    def half_width_at(self, x_m: float | Array) -> Array:
        return np.asarray(np.interp(x_m, self.stations_m, self.half_width_m))


def _profile(value: Profile, count: int) -> Array:
    if isinstance(value, tuple) and value:
        given = _drawable(value)
        # A table being typed may be short for a moment; the last value then serves the rest.
        return np.concatenate([given, np.full(max(count - len(given), 0), given[-1])])[:count]
    return np.full(count, float(_drawable(() if isinstance(value, tuple) else (value,)).sum()))


def _drawable(values: tuple[float, ...]) -> Array:
    """Finite and not negative."""
    return np.clip(np.nan_to_num(np.asarray(values, dtype=float)), 0.0, LARGEST_M)


def _rings(outline: Outline | None) -> tuple[Array, ...]:
    """Edge and openings as arrays; nothing where a hand-written file has impossible ones."""
    if outline is None:
        return ()
    rings = tuple(np.asarray(ring, dtype=float) for ring in (outline.exterior, *outline.holes) if len(ring) > 2)
    fine = len(rings) == 1 + len(outline.holes) and all(np.isfinite(r).all() for r in rings)
    return tuple(np.clip(r, -LARGEST_M, LARGEST_M) for r in rings) if fine else ()


def _stations(structure: Structure) -> Array:
    """Stations in order from 0, at least two and a span."""
    stations = distinct(np.concatenate([[0.0], _drawable(structure.stations_m)]))
    return stations if len(stations) > 1 else np.array([0.0, SHORTEST_M])


def _cover(structure: Structure, layer: int, span: float) -> list[tuple[float, float]]:
    """Stretches of x where any piece of the layer exists."""
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


def _edge_strips(structure: Structure) -> tuple[Array, ...]:
    """Nothing while a table of stations or widths is being typed."""
    profiles = [structure.width_m, *(piece.width_m for layer in structure.layers for piece in layer.pieces)]
    fine = all(not isinstance(p, tuple) or len(p) == len(structure.stations_m) for p in profiles)
    if not fine or len(structure.stations_m) < 2:
        return ()
    lines = [np.array(strip.inner_m, dtype=float) for strip in edge_strips(structure)]
    return tuple(np.clip(line, -LARGEST_M, LARGEST_M) for line in lines if np.isfinite(line).all())


@lru_cache(maxsize=8)
def structure_view(structure: Structure) -> StructureView:
    """The drawable form of `structure`."""
    stations = _stations(structure)
    count = len(stations)
    bottom = np.zeros(count)
    pieces = []
    for order, layer in enumerate(structure.layers):
        top = bottom + _profile(layer.thickness_m, count)
        for start, end in _cover(structure, order, float(stations[-1])):
            inner = stations[(stations > start) & (stations < end)]
            x = np.concatenate([[start], inner, [end]])
            pieces.append(
                PieceView(layer.name, order, x, np.interp(x, stations, bottom), np.interp(x, stations, top))
            )
        bottom = top
    return StructureView(
        name=structure.name,
        span_m=float(stations[-1]),
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
        rings_m=_rings(structure.outline),
        outline=structure.outline if _rings(structure.outline) else None,
        edge_strips_m=_edge_strips(structure),
    )
