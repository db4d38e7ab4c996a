"""Outlines from SVG: every shape and path with its transforms, viewBox and units.

Curves become chords that stay within `CHORD_M` of them; y is turned to point up. A layer is the
nearest named group (its label, else its id).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import svgelements

from core.outline.chords import chords
from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError, Trace, trace_of

CHORD_M = 2e-6
MOST_POINTS = 200_000
PX_PER_MM = 96 / 25.4
_PHYSICAL = re.compile(r"\s*[+]?[\d.]+(?:[eE][+-]?\d+)?\s*(mm|cm|in|pt|pc|q)\s*", re.IGNORECASE)
_PLAIN = re.compile(r"\s*[+]?[\d.]+(?:[eE][+-]?\d+)?\s*(px)?\s*")
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"


def read(path: Path) -> OutlineDrawing:
    """The shapes of the drawing; OutlineError if the file is no readable SVG."""
    root = _root(path)
    physical = bool(_PHYSICAL.fullmatch(root.get("width", "")))
    size = _view_size(root) if not _PLAIN.fullmatch(root.get("width", "")) and not physical else None
    try:
        svg = svgelements.SVG.parse(
            path, reify=True, ppi=96, width=size[0] if size else 1000, height=size[1] if size else 1000
        )
    except Exception:  # broken numbers break the reader anywhere
        raise OutlineError(
            f"{path.name} could not be read as SVG: a number or a path in it is broken. Export it again."
        ) from None
    # With a physical width everything is scaled to 96 pixels per inch; else a unit is a guess.
    factor, unit = (1 / PX_PER_MM, "mm") if physical else (1.0, "px")
    chord = CHORD_M / UNITS[unit][0]
    traces = _traces(svg, "", chord, factor, path.name)
    return OutlineDrawing(path.name, tuple(traces), unit, "file" if physical else "guess")


def _root(path: Path) -> ElementTree.Element:
    try:
        for _, element in ElementTree.iterparse(path, events=("start",)):
            if element.tag.rpartition("}")[2] != "svg":
                break
            width, height = element.get("width", ""), element.get("height", "")
            if re.fullmatch(r"\s*0+(\.0*)?\s*[a-z]*\s*", width + " " + height) or _is_zero(width):
                raise OutlineError(
                    f"{path.name} is {width or '0'} wide: the drawing is scaled to zero. Export it at 1:1."
                )
            _parse_all(path)
            return element
    except ElementTree.ParseError as error:
        line = error.position[0]
        raise OutlineError(
            f"{path.name} is not SVG or is cut off (line {line}). Export the drawing again."
        ) from None
    raise OutlineError(f"{path.name} is not an SVG drawing. Export the drawing again as SVG or DXF.")


def _parse_all(path: Path) -> None:
    """Raise ParseError now if the file is cut off further down."""
    for _, element in ElementTree.iterparse(path):
        element.clear()


def _is_zero(text: str) -> bool:
    match = re.match(r"\s*([+-]?[\d.]+)", text)
    try:
        return bool(match) and float(match.group(1)) == 0.0  # type: ignore[union-attr]
    except ValueError:
        return False


def _view_size(root: ElementTree.Element) -> tuple[float, float] | None:
    """Width and height of the viewBox, so that a drawing of "100 %" keeps its own numbers."""
    try:
        numbers = [float(v) for v in re.split(r"[\s,]+", root.get("viewBox", "").strip()) if v]
    except ValueError:
        return None
    if len(numbers) != 4 or numbers[2] <= 0 or numbers[3] <= 0:
        return None
    return numbers[2], numbers[3]


def _traces(group: Any, layer: str, chord: float, factor: float, name: str) -> list[Trace]:
    found: list[Trace] = []
    total = 0
    pending: list[tuple[Any, str]] = [(child, layer) for child in group]
    while pending:
        element, here = pending.pop(0)
        values = getattr(element, "values", None) or {}
        if values.get("display") == "none" or values.get("visibility") == "hidden":
            continue
        if isinstance(element, (svgelements.Group, svgelements.Use)):
            own = values.get("attributes", {})
            label = own.get(_LABEL) or own.get("id") or here
            pending = [(child, label) for child in element] + pending
            continue
        if not isinstance(element, svgelements.Shape):
            continue
        for trace in _shape(element, here, chord, factor):
            found.append(trace)
            total += len(trace.points)
            if total > MOST_POINTS:
                raise OutlineError(f"{name} holds more than {MOST_POINTS} points. Export only the outline.")
    return found


def _shape(shape: Any, layer: str, chord: float, factor: float) -> list[Trace]:
    try:
        path = abs(svgelements.Path(shape))
    except (ValueError, TypeError, ArithmeticError, LookupError, AttributeError):
        return []  # a shape with broken data draws nothing
    found = []
    for part in path.as_subpaths():
        points, closed = _flat(svgelements.Path(part), chord / factor)
        trace = trace_of(points * np.array([factor, -factor]), closed, layer, chord)
        if trace is not None:
            found.append(trace)
    return found


def _flat(path: Any, chord: float) -> tuple[Array, bool]:
    """Points (n, 2) of one subpath in pixels, y down, and whether it is closed."""
    pieces: list[Array] = []
    closed = False
    for segment in path:
        if isinstance(segment, svgelements.Move):
            if segment.end is not None:
                pieces.append(np.array([[segment.end.x, segment.end.y]]))
        elif isinstance(segment, svgelements.Close):
            closed = True
        elif isinstance(segment, svgelements.Line):
            pieces.append(np.array([[segment.end.x, segment.end.y]]))
        else:
            pieces.append(_curve(segment, chord))
    return (np.concatenate(pieces) if pieces else np.zeros((0, 2))), closed


def _curve(segment: Any, chord: float) -> Array:
    """Points after the first of a Bézier curve or an elliptical arc."""
    return chords(partial(_at, segment), np.array([0.0, 1.0]), chord)[1:]


def _at(segment: Any, t: Array) -> Array:
    return np.asarray(segment.npoint(t), dtype=float)
