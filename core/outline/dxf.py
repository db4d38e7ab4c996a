"""Outlines from DXF: lines, polylines with arcs, arcs, circles, ellipses, splines, blocks.

Curves become chords that stay within `CHORD_M` of them. Layers and the unit of the header
($INSUNITS) are kept; everything else in a drawing (text, dimensions, hatching) is passed over.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from ezdxf import bbox, recover
from ezdxf.lldxf.const import DXFError
from ezdxf.math import Vec3

from core.outline.chords import chords
from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError, Trace, guessed_unit, trace_of

CHORD_M = 2e-6
"""Largest distance between a curve and its chords."""
MOST_POINTS = 200_000
MOST_PARTS = 50_000
DEEPEST = 8
"""Blocks within blocks are followed this far."""

_INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 13: "um"}
_READ = {"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"}


def read(path: Path) -> OutlineDrawing:
    """The curves of the model space, or of the layouts where it is empty; OutlineError if it is no DXF."""
    doc = _open(path)
    entities = _drawn(doc.modelspace())
    remarks: tuple[str, ...] = ()
    if not entities:
        sheets = [layout for layout in doc.layouts if layout.name != "Model" and _drawn(layout)]
        entities = [entity for layout in sheets for entity in _drawn(layout)]
        names = ", ".join(f'"{layout.name}"' for layout in sheets)
        if sheets:
            remarks = (
                f"Read from the layout {names}: the model space is empty. Check the size, a layout may be to scale.",
            )
    extent = _extent(entities)
    unit = _INSUNITS.get(int(doc.header.get("$INSUNITS", 0)))
    known = unit is not None
    if unit is None:
        imperial = "$MEASUREMENT" in doc.header and int(doc.header["$MEASUREMENT"]) == 0 and extent < 120
        unit = guessed_unit(extent, imperial=imperial and extent >= 4.0)
    chord = max(CHORD_M / UNITS[unit][0], 1e-9 * extent)
    traces, total = [], 0
    for trace in _traces(entities, chord, None, 0, Budget(path.name)):
        traces.append(trace)
        total += len(trace.points)
        if total > MOST_POINTS:
            raise OutlineError(
                f"{path.name} holds more than {MOST_POINTS} points. Export only the layers of the outline."
            )
    return OutlineDrawing(path.name, tuple(traces), unit, "file" if known else "guess", remarks)


def _drawn(space: Any) -> list[Any]:
    return [e for e in space if e.dxftype() in _READ or e.dxftype() == "INSERT"]


@dataclass
class Budget:
    """Parts of a drawing that may still be looked at: blocks that hold blocks multiply."""

    name: str
    left: int = MOST_PARTS

    def take(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise OutlineError(
                f"{self.name} holds more than {MOST_PARTS} lines, counting those of blocks as often as they are "
                "placed. Export only the outline."
            )


def _open(path: Path) -> Any:
    """The document, by the strict reader or else by the lenient one."""
    if path.read_bytes()[:4] == b"AC10":
        raise OutlineError(f"{path.name} is a DWG file with another ending. Export it as DXF.")
    try:
        return ezdxf.readfile(path)
    except Exception:  # a damaged file breaks the reader anywhere; the lenient one has the last word
        pass
    try:
        doc, audit = recover.readfile(path)
    except Exception:
        raise OutlineError(
            f"{path.name} is not a DXF drawing or is damaged. Export it again as DXF (R12 or later), or as SVG."
        ) from None
    if not any(len(layout) for layout in doc.layouts):
        raise OutlineError(
            f"{path.name} is damaged or empty: nothing could be read from it "
            f"({len(audit.errors)} errors). Export it again as DXF."
        )
    return doc


def _extent(entities: list[Any]) -> float:
    try:
        box = bbox.extents(entities, fast=True)
    except (DXFError, ValueError, ArithmeticError, RecursionError):  # the last where a block holds itself
        return 1.0
    if not box.has_data:
        return 1.0
    size = float(max(box.size.x, box.size.y))
    return size if math.isfinite(size) and size > 0 else 1.0


def _traces(entities: Any, chord: float, layer: str | None, depth: int, budget: Budget) -> Iterator[Trace]:
    """Traces of entities; `layer` is that of the block reference for what lies on layer "0" in it."""
    for entity in entities:
        budget.take()
        kind = entity.dxftype()
        own = str(entity.dxf.get("layer", "0"))
        here = layer if layer is not None and own == "0" else own
        if kind == "INSERT":
            if depth < DEEPEST:
                yield from _traces(_inside(entity), chord, here, depth + 1, budget)
        elif kind in _READ:
            trace = _trace(entity, chord, here)
            if trace is not None:
                yield trace


def _inside(insert: Any) -> Iterator[Any]:
    try:
        copies = insert.multi_insert() if insert.mcount > 1 else (insert,)
        for copy in copies:
            yield from copy.virtual_entities()
    except (DXFError, ValueError, ArithmeticError, RecursionError):
        return


def _trace(entity: Any, chord: float, layer: str) -> Trace | None:
    try:
        points, closed = _points(entity, chord)
    except (DXFError, ValueError, TypeError, ArithmeticError, LookupError, AttributeError):
        return None  # an entity without size or with broken data draws nothing
    xy = np.array([(p[0], p[1]) for p in points], dtype=float).reshape(-1, 2)
    return trace_of(xy, closed, layer, chord)


def _points(entity: Any, chord: float) -> tuple[list[Any], bool]:
    """Points in drawing axes and whether the line is closed."""
    kind = entity.dxftype()
    if kind == "LINE":
        return [entity.dxf.start, entity.dxf.end], False
    if kind in ("LWPOLYLINE", "POLYLINE"):
        if kind == "POLYLINE" and (entity.is_poly_face_mesh or entity.is_polygon_mesh):
            return [], False
        points: list[Any] = []
        for part in entity.virtual_entities():
            own, _ = _points(part, chord)
            # An arc runs counter-clockwise; within a polyline it may be passed the other way.
            if points and len(own) and _far(points[-1], own[0]) > _far(points[-1], own[-1]):
                own = own[::-1]
            elif not points and own:
                own = _first_part_turned(entity, own)
            points += own[1:] if points else own
        return points, bool(entity.is_closed)
    if kind == "CIRCLE":
        return list(entity.flattening(min(chord, 0.1 * abs(entity.dxf.radius)))), True
    if kind == "ARC":
        return list(entity.flattening(min(chord, 0.1 * abs(entity.dxf.radius)))), False
    if kind == "ELLIPSE":
        full = abs(abs(entity.dxf.end_param - entity.dxf.start_param) - math.tau) < 1e-9
        return list(entity.flattening(chord, segments=16)), full
    return _spline(entity, chord), bool(entity.closed)


def _spline(entity: Any, chord: float) -> list[Any]:
    """Points of a spline over the knots where it is defined (a closed one wraps beyond them)."""
    curve = entity.construction_tool()
    knots = np.asarray(curve.knots(), dtype=float)
    inner = np.unique(knots[curve.degree : len(knots) - curve.degree])
    return list(chords(partial(_at, curve), inner, chord))


def _at(curve: Any, t: Any) -> Array:
    return np.array([(p.x, p.y) for p in curve.points(t)])


def _first_part_turned(polyline: Any, points: list[Any]) -> list[Any]:
    """The first part of a polyline in the polyline's own direction."""
    if polyline.dxftype() == "LWPOLYLINE":
        x, y = polyline[0][:2]
        start = polyline.ocs().to_wcs(Vec3(x, y, polyline.dxf.elevation))
    else:
        start = next(iter(polyline.points_in_wcs()))
    return points if _far(start, points[0]) <= _far(start, points[-1]) else points[::-1]


def _far(a: Any, b: Any) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])
