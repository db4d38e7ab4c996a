"""Drawings made for the tests, and how they are read."""

from __future__ import annotations

from pathlib import Path

import ezdxf

from core.outline import rings
from core.outline.drawing import OutlineDrawing
from core.outline.frame import Frame, suggest
from core.outline.readers import read_drawing
from core.outline.shape import Shape, make_shape, source_area


def new_dxf(units: int = 4):
    """An empty document and its model space; 4 is millimetres."""
    doc = ezdxf.new("R2010", units=units)
    return doc, doc.modelspace()


def read(doc, folder: Path, name: str = "part.dxf") -> OutlineDrawing:
    path = folder / name
    doc.saveas(path)
    return read_drawing(path)


def parts_of(drawing: OutlineDrawing, *layers: str, join_m: float = rings.JOIN_M) -> rings.Parts:
    chosen = frozenset(layers or [info.name for info in drawing.layers])
    return rings.join(drawing, chosen, drawing.unit, join_m)


def shape_of(drawing: OutlineDrawing, frame: Frame | None = None, share: float = 0.005) -> Shape:
    parts = parts_of(drawing)
    laid = frame or suggest(parts.polygons[0])
    return make_shape(source_area(parts, 0, laid), laid, share)
