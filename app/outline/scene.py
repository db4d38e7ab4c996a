"""What the preview shows, in metres of the drawing, and how it lies on the screen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage, QPolygonF

from app.drawing.ink import polygon
from app.outline.state import OUTLINE, ImportState, Outcome
from app.outline.tracing import Tracing
from core.outline.drawing import UNITS
from core.outline.frame import Frame
from core.outline.model_plan import corners
from core.project.structure import CutOut

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that is painted, y up."""

    faint: tuple[Array, ...] = ()
    """Lines that are not used."""
    areas: tuple[tuple[Array, ...], ...] = ()
    """The part: rings of each area, the edge first."""
    zones: tuple[Array, ...] = ()
    model: Array | None = None
    """Corners of the outline the model takes."""
    cut_outs: tuple[Array, ...] = ()
    frame: Frame | None = None
    span_end_m: float = 0.0
    """Where the span ends, along the axis from the frame's root."""
    half_width_m: float = 0.0
    image: QImage | None = None
    m_per_px: float = 1.0
    scaled: bool = False
    """Whether lengths are known, so that a scale bar tells the truth."""
    points: tuple[tuple[float, float], ...] = ()
    """Corners of a tracing."""
    points_closed: bool = False
    scale_points: tuple[tuple[float, float], ...] = ()

    def every_point(self) -> Array | None:
        """All that should be in view."""
        sets = [*self.faint, *(ring for area in self.areas for ring in area), *self.zones]
        if self.image is not None:
            wide, tall = self.image.width() * self.m_per_px, self.image.height() * self.m_per_px
            sets.append(np.array([[0.0, 0.0], [wide, -tall]]))
        return np.concatenate(sets) if sets else None


@dataclass(frozen=True)
class SheetScale:
    """Metres of the drawing to pixels of a widget: what is in its middle, and how large."""

    middle: tuple[float, float] = (0.0, 0.0)
    px_per_m: float = 1000.0
    width: float = 1.0
    height: float = 1.0

    def px(self, x: float, y: float) -> QPointF:
        """A point of the drawing on the screen."""
        return QPointF(
            0.5 * self.width + (x - self.middle[0]) * self.px_per_m,
            0.5 * self.height - (y - self.middle[1]) * self.px_per_m,
        )

    def at(self, point: QPointF) -> tuple[float, float]:
        """The point of the drawing under a point of the screen."""
        return (
            self.middle[0] + (point.x() - 0.5 * self.width) / self.px_per_m,
            self.middle[1] - (point.y() - 0.5 * self.height) / self.px_per_m,
        )

    def polygon(self, points: Array) -> QPolygonF:
        return polygon(
            0.5 * self.width + (points[:, 0] - self.middle[0]) * self.px_per_m,
            0.5 * self.height - (points[:, 1] - self.middle[1]) * self.px_per_m,
        )

    def fitted(self, points: Array, margin_px: float) -> SheetScale:
        """The scale at which all points are in view."""
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.maximum(high - low, 1e-9)
        room = max(self.width - 2 * margin_px, 60), max(self.height - 2 * margin_px, 60)
        x, y = (0.5 * (low + high)).tolist()
        return replace(self, middle=(x, y), px_per_m=float(min(room[0] / size[0], room[1] / size[1])))

    def moved(self, by: QPointF) -> SheetScale:
        """The sheet pulled along by so many pixels."""
        x, y = self.middle
        return replace(self, middle=(x - by.x() / self.px_per_m, y + by.y() / self.px_per_m))

    def zoomed(self, factor: float, about: QPointF) -> SheetScale:
        """Larger or smaller, the point under `about` staying where it is."""
        before = self.at(about)
        made = replace(self, px_per_m=min(max(self.px_per_m * factor, 1e-2), 1e7))
        after = made.at(about)
        x, y = self.middle
        return replace(made, middle=(x + before[0] - after[0], y + before[1] - after[1]))


def across(scene: Scene, scale: SheetScale, name: str) -> tuple[QPointF, QPointF]:
    """Ends of the clamp line ("clamp") or the tip line ("end") on the screen; needs a frame."""
    frame = scene.frame
    if frame is None:
        raise ValueError("There is no axis to lay a line across.")
    c, s = frame.direction
    along = frame.clamp_m if name == "clamp" else scene.span_end_m
    half = max(0.65 * scene.half_width_m, 24.0 / scale.px_per_m)
    x, y = frame.root[0] + along * c, frame.root[1] + along * s
    return scale.px(x - half * s, y + half * c), scale.px(x + half * s, y - half * c)


def handles(scene: Scene, scale: SheetScale) -> dict[str, QPointF]:
    """The two points of the axis on the screen."""
    frame = scene.frame
    if frame is None or frame.root == frame.tip:
        return {}
    return {"root": scale.px(*frame.root), "tip": scale.px(*frame.tip)}


# ---- made from what is chosen -----------------------------------------------------------------


def scene_of(
    state: ImportState | None, outcome: Outcome, tracing: Tracing | None, image: QImage | None
) -> Scene:
    """The scene of a drawing with its choices, of a picture being traced, or of nothing."""
    k = tracing.m_per_px if tracing is not None else 1.0
    base = Scene(
        image=image,
        m_per_px=k,
        scaled=state is not None or bool(tracing and tracing.has_scale),
        points=tuple((x * k, y * k) for x, y in tracing.corners) if tracing else (),
        points_closed=bool(tracing and tracing.closed),
        scale_points=tuple((x * k, y * k) for x, y in tracing.scale_points) if tracing else (),
    )
    if state is None:
        return base
    shown = state.areas[state.choices.part : state.choices.part + 1]
    areas = tuple(
        tuple(np.asarray(ring.coords)[:, :2] for ring in (area.exterior, *area.interiors)) for area in shown
    )
    scene = replace(base, faint=() if tracing else _faint(state, bool(shown)), areas=areas)
    return _with_beam(scene, state.choices.frame, outcome)


def _faint(state: ImportState, has_area: bool) -> tuple[Array, ...]:
    factor = UNITS[state.choices.unit][0]
    used = state.choices.layers(OUTLINE)
    return tuple(
        np.concatenate([t.points, t.points[:1]]) * factor if t.closed else t.points * factor
        for t in state.drawing.traces
        if t.layer not in used or not has_area or len(state.areas) > 1 or not t.closed
    )


def _with_beam(scene: Scene, frame: Frame | None, outcome: Outcome) -> Scene:
    if frame is None:
        return scene
    made = outcome.shape
    if made is None:
        length = math.dist(frame.root, frame.tip)
        end = length if frame.end_m is None else frame.end_m
        return replace(scene, frame=frame, span_end_m=end, half_width_m=0.1 * length)
    return replace(
        scene,
        frame=frame,
        span_end_m=frame.clamp_m + made.span_m,
        half_width_m=made.curve.widest_m,
        model=frame.to_drawing(corners(made.stations.x_m, made.stations.width_m)),
        cut_outs=tuple(frame.to_drawing(_ring(cut)) for cut in made.cut_outs),
        zones=tuple(frame.to_drawing(np.array(z.polygon_m)) for z in outcome.zones if z.polygon_m),
    )


def _ring(cut: CutOut) -> Array:
    if cut.kind == "hole":
        angle = np.linspace(0, 2 * np.pi, 33)
        r = 0.5 * cut.diameter_m
        return np.column_stack([cut.x_m + r * np.cos(angle), cut.y_m + r * np.sin(angle)])
    u, v = 0.5 * cut.length_m, 0.5 * cut.width_m
    return np.array([[cut.x_m + a * u, cut.y_m + b * v] for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
