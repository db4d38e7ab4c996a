"""A drawing as read from a file: flattened lines on layers, in the file's own unit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from core import units

Array = NDArray[np.float64]

UNITS: dict[str, tuple[float, str]] = {
    "mm": (1e-3, "millimetres"),
    "cm": (1e-2, "centimetres"),
    "m": (1.0, "metres"),
    "in": (0.0254, "inches"),
    "ft": (0.3048, "feet"),
    "um": (1e-6, "micrometres"),
    "px": (0.0254 / 96, "pixels of 1/96 in"),
    "pt": (0.0254 / 72, "points of 1/72 in"),
}
"""Units a drawing may be in: metres per unit, and its name in words."""

FURTHEST = 1e9
"""Largest coordinate of a drawing, in its own unit."""
SHORTEST_M, LONGEST_M = 5e-3, 4.0
"""Sizes of a part between which its unit is believed."""


class OutlineError(ValueError):
    """A drawing from which no outline can be had; the message says what to do."""


@contextmanager
def in_words(name: str) -> Iterator[None]:
    """Trouble of the geometry library as an OutlineError: coordinates far beyond any drawing's break it anywhere."""
    try:
        yield
    except (shapely.errors.ShapelyError, ArithmeticError, np.linalg.LinAlgError) as error:
        raise OutlineError(
            f"The lines of {name} cannot be joined to an outline: their coordinates are broken. Export the drawing again."
        ) from error


@dataclass(frozen=True, eq=False)
class Trace:
    """One line of the drawing: (n, 2) points in the file's unit, y up."""

    points: Array
    closed: bool
    layer: str = ""


def trace_of(points: Array, closed: bool, layer: str, chord: float) -> Trace | None:
    """A line through (n, 2) points without those that repeat, closed where its ends meet within half a
    `chord`; None where too few are left to draw anything."""
    if len(points) > 1 and np.allclose(points[0], points[-1], rtol=0, atol=0.5 * chord):
        points, closed = points[:-1], True
    moved = np.ones(len(points), dtype=bool)
    moved[1:] = np.any(np.abs(np.diff(points, axis=0)) > 0, axis=1)
    points = points[moved]
    return Trace(points, closed, layer) if len(points) >= (3 if closed else 2) else None


@dataclass(frozen=True)
class LayerInfo:
    """What lies on a layer: number of lines and their size along x and y in the file's unit."""

    name: str
    count: int
    size: tuple[float, float]


@dataclass(frozen=True, eq=False)
class OutlineDrawing:
    """A drawing with its unit (a key of `UNITS`) and where that is from."""

    name: str
    traces: tuple[Trace, ...]
    unit: str
    unit_from: Literal["file", "guess"]
    remarks: tuple[str, ...] = ()
    kind: Literal["drawing", "picture", "widths"] = "drawing"
    axis: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Root and tip of the axis where the drawing itself says where it runs, in the file's unit."""

    is_column: bool = False
    """A table of widths without places, whose length is still to be given."""

    @property
    def layers(self) -> tuple[LayerInfo, ...]:
        """Layers that hold lines, the one with the largest extent first."""
        found: dict[str, list[Trace]] = {}
        for trace in self.traces:
            found.setdefault(trace.layer, []).append(trace)
        infos = [LayerInfo(name, len(traces), size_of(traces)) for name, traces in found.items()]
        return tuple(sorted(infos, key=lambda info: -max(info.size)))


def size_of(traces: list[Trace] | tuple[Trace, ...]) -> tuple[float, float]:
    """Extent along x and y of all points, (0, 0) where there are none."""
    points = [t.points for t in traces if len(t.points)]
    if not points:
        return (0.0, 0.0)
    every = np.concatenate(points)
    width, height = (every.max(axis=0) - every.min(axis=0)).tolist()
    return (width, height)


def checked(drawing: OutlineDrawing) -> OutlineDrawing:
    """The drawing, if it holds lines of finite size; OutlineError in words otherwise."""
    if not drawing.traces:
        raise OutlineError(
            f"{drawing.name} holds no lines, arcs or curves that could be an outline. "
            "Export the outline itself, not a picture or a block of text."
        )
    if not all(np.isfinite(t.points).all() for t in drawing.traces):
        raise OutlineError(
            f"{drawing.name} holds coordinates that are no finite numbers. Export the drawing again."
        )
    furthest = max(float(np.abs(t.points).max()) for t in drawing.traces)
    if furthest > FURTHEST:
        raise OutlineError(
            f"{drawing.name} holds a coordinate of {furthest:.3g}; up to {FURTHEST:.0e} can be read. Leave out what "
            "lies that far away, and export the drawing again."
        )
    if max(size_of(drawing.traces)) <= 1e-12:
        raise OutlineError(
            f"Everything in {drawing.name} has no size: the drawing is scaled to zero. "
            "Export it again at scale 1:1."
        )
    return drawing


def guessed_unit(extent: float, *, imperial: bool = False) -> str:
    """The unit in which a part of that size is likeliest drawn, when the file does not say."""
    if imperial:
        return "in"
    return "m" if extent < 4.0 else "mm"


def unit_doubt(unit: str, extent: float) -> str | None:
    """A sentence where the unit makes a part of implausible size, else None."""
    length = extent * UNITS[unit][0]
    if SHORTEST_M <= length <= LONGEST_M:
        return None
    better = next((u for u in ("mm", "m", "in", "cm", "um") if 0.03 <= extent * UNITS[u][0] <= 3.0), None)
    cure = f" In {UNITS[better][1]} it would be {_size(extent * UNITS[better][0])}." if better else ""
    return f"In {UNITS[unit][1]} the drawing is {_size(length)} long. Check the unit.{cure}"


def _size(length_m: float) -> str:
    return units.show_with_unit(length_m, "mm" if length_m < 10 else "m")
