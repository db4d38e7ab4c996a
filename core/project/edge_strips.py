"""Strips along both edges of the outline, as the steel edges of a ski: where they lie in plan."""

from __future__ import annotations

from dataclasses import dataclass

from core.project.plan import profile_at
from core.project.structure import Piece, Structure

PAIR = 2
"""Count of a piece that lies at both edges, and follows them in plan."""


@dataclass(frozen=True)
class EdgeStrip:
    """One of a pair: inner side (x, y) at +y from its start to its end, the other is its mirror image; m."""

    layer: str
    material: str
    inner_m: tuple[tuple[float, float], ...]
    width_m: tuple[float, float]
    """Least and largest."""


def at_edges(piece: Piece) -> bool:
    """Whether a piece is a strip along either edge of the outline."""
    return piece.count == PAIR and piece.width_m is not None


def edge_strips(structure: Structure) -> tuple[EdgeStrip, ...]:
    """Of a valid structure; of strips in one layer the first listed lies outermost."""
    stations, found = structure.stations_m, []
    for layer in structure.layers:
        outside: list[Piece] = []
        for piece in layer.pieces:
            if not at_edges(piece) or piece.width_m is None:
                continue
            outside.append(piece)
            end = structure.span_m if piece.end_m is None else piece.end_m
            inside = [x for one in outside for x in (one.start_m, one.end_m) if x is not None]
            xs = sorted({piece.start_m, end, *(x for x in (*stations, *inside) if piece.start_m < x < end)})
            half = [0.5 * profile_at(structure.width_m, stations, x) for x in xs]
            taken = [sum(_width_at(one, structure, x) for one in outside) for x in xs]
            own = [profile_at(piece.width_m, stations, x) for x in xs]
            inner = tuple((x, h - t) for x, h, t in zip(xs, half, taken, strict=True))
            found.append(EdgeStrip(layer.name, piece.material, inner, (min(own), max(own))))
    return tuple(found)


def _width_at(piece: Piece, structure: Structure, x_m: float) -> float:
    end = structure.span_m if piece.end_m is None else piece.end_m
    there = piece.width_m is not None and piece.start_m <= x_m <= end
    return profile_at(piece.width_m, structure.stations_m, x_m) if there and piece.width_m is not None else 0.0
