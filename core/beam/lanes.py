"""Lanes of the bare section: how its layers' pieces lie side by side over y.

Everything is centred. A piece of count 2 lies half at each edge, the first listed outermost; the others lie
in the order listed from the middle outward, half on each side. Between two neighbouring edges of pieces, a
lane, every layer is of one material; lanes of a segment do not cross.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.beam.outline import NetWidth
from core.project.edge_strips import PAIR
from core.project.structure import Layer, Structure

Array = NDArray[np.float64]

SAME_M = 1e-12


@dataclass(frozen=True)
class Lanes:
    """width_m : (3, lanes, segments) of both halves together, at the left and right end of each segment and what
    a metre of hole takes away; lanes from the middle outward, unused ones of no width.
    piece : (lanes, layers, segments) which piece of each layer lies there; -1 for none.
    """

    width_m: Array
    piece: NDArray[np.intp]


def lanes_of(structure: Structure, net: NetWidth, widths: list[list[Array]]) -> Lanes:
    """Lanes on the net width's segments; `widths` are the pieces' (3, segments), layer by layer."""
    edges = [_edges(layer, net, each) for layer, each in zip(structure.layers, widths, strict=True)]
    n_segments = len(net.bounds) - 1
    found = [_of_segment(edges, net, i) for i in range(n_segments)]
    most = max(len(lanes) for lanes in found)
    width = np.zeros((3, most, n_segments))
    piece = np.full((most, len(structure.layers), n_segments), -1, dtype=np.intp)
    for i, lanes in enumerate(found):
        for k, (each, pieces) in enumerate(lanes):
            width[:, k, i], piece[k, :, i] = each, pieces
    return Lanes(width, piece)


def crossings_m(structure: Structure, net: NetWidth, widths: list[list[Array]]) -> Array:
    """Places inside segments where edges of two pieces cross: lanes need bounds there."""
    lines = [e for layer, each in zip(structure.layers, widths, strict=True) for p in _edges(layer, net, each) for e in p]
    out = []
    for a, b in combinations(lines, 2):
        left, right = a[0] - b[0], a[1] - b[1]
        at = np.flatnonzero((left * right < 0.0) & (np.minimum(abs(left), abs(right)) > SAME_M))
        share = left[at] / (left[at] - right[at])
        out.append(net.bounds[at] + share * (net.bounds[at + 1] - net.bounds[at]))
    return distinct(np.concatenate(out)) if out else np.zeros(0)


def _edges(layer: Layer, net: NetWidth, widths: list[Array]) -> list[tuple[Array, Array]]:
    """Inner and outer edge of every piece, (3, segments) half widths."""
    outside = 0.5 * np.stack([net.linear.left, net.linear.right, np.ones(len(net.linear.left))])
    inside = np.zeros_like(outside)
    out = []
    for piece, width in zip(layer.pieces, widths, strict=True):
        if piece.count == PAIR:
            out.append((outside - 0.5 * width, outside))
            outside = outside - 0.5 * width
        else:
            out.append((inside, inside + 0.5 * width))
            inside = inside + 0.5 * width
    return out


def _of_segment(
    edges: list[list[tuple[Array, Array]]], net: NetWidth, i: int
) -> list[tuple[Array, list[int]]]:
    middle = 0.5 * (net.bounds[i] + net.bounds[i + 1])
    hole = float(net.chord_m(np.array(middle)))

    def there(edge: Array) -> float:
        return float(0.5 * (edge[0, i] + edge[1, i]) - edge[2, i] * hole)

    lines = sorted((e[:, i] for layer in edges for pair in layer for e in pair), key=_middle_with(hole))
    distinct: list[Array] = []
    for line in lines:
        if not distinct or _middle_with(hole)(line) - _middle_with(hole)(distinct[-1]) > SAME_M:
            distinct.append(line)
    out = []
    for inner, outer in pairwise(distinct):
        y = 0.5 * (_middle_with(hole)(inner) + _middle_with(hole)(outer))
        pieces = [next((k for k, (a, b) in enumerate(layer) if there(a) < y < there(b)), -1) for layer in edges]
        out.append((2.0 * (outer - inner), pieces))
    if not out:
        out.append((np.zeros(3), [0] * len(edges)))
    return out


def _middle_with(hole: float) -> Callable[[Array], float]:
    return lambda line: float(0.5 * (line[0] + line[1]) - line[2] * hole)
