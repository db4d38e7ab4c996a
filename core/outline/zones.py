"""Keep-outs from the closed lines of a layer."""

from __future__ import annotations

import numpy as np
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from core.outline.frame import Frame
from core.outline.rings import Parts
from core.project.record import Face
from core.project.structure import KeepOut

WITHIN_M = 5e-5
"""A keep-out's corners leave the drawn line by no more than this."""
TINY_M2 = 1e-8


def keep_outs(
    parts: Parts, frame: Frame, layer: str, face: Face, span_m: float, taken: frozenset[str] = frozenset()
) -> tuple[KeepOut, ...]:
    """One keep-out per area of the layer that reaches the span; names are free of `taken`."""
    areas = [frame.transformed(polygon) for polygon in parts.polygons]
    if frame.mirrored:
        areas += [affine_transform(a, [1, 0, 0, -1, 0, 0]) for a in areas if a.bounds[1] * a.bounds[3] >= 0]
    areas = [a for a in areas if a.area > TINY_M2 and a.bounds[2] > 0.0 and a.bounds[0] < span_m]
    names = _names(layer or "keep clear", len(areas), taken)
    return tuple(_zone(a, n, face) for a, n in zip(sorted(areas, key=_start), names, strict=True))


def _start(area: Polygon) -> float:
    return float(area.bounds[0])


def _names(stem: str, count: int, taken: frozenset[str]) -> list[str]:
    names: list[str] = []
    number = 1
    while len(names) < count:
        name = stem if number == 1 and count == 1 else f"{stem} {number}"
        if name not in taken:
            names.append(name)
        number += 1
    return names


def _zone(area: Polygon, name: str, face: Face) -> KeepOut:
    points = np.round(np.asarray(area.simplify(WITHIN_M).exterior.coords)[:-1, :2], 7) + 0.0
    corners = tuple((x, y) for x, y in points.tolist())
    return KeepOut(name, face, float(points[:, 0].min()), float(points[:, 0].max()), corners)
