"""What is drawn: one immutable value made from the project, its prediction, strip and selection."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from app.drawing.patch_view import PatchView, patch_views, with_collisions
from app.drawing.refine import refined
from app.drawing.structure_view import StructureView, structure_view
from app.drawing.tracking import sign_changes
from core.project.model import DatumFeature, Project
from core.project.served import served_mode

if TYPE_CHECKING:
    from core.predict.prediction import Prediction
    from core.study.placement.position import PositionStrip

Array = NDArray[np.float64]


FLAT = 1e-4
"""Relative differences of damping below this are rounding, not an effect of the place."""


@dataclass(frozen=True, eq=False)
class ModeView:
    """One mode over x, scaled to +/-1."""

    number: int
    """Rank by frequency, from 1: what is written."""
    colour: int
    """Number whose colour and dash it wears; differs from `number` only while a drag crosses modes."""
    frequency_hz: float
    deflection_x_m: Array
    deflection: Array
    x_m: Array
    curvature: Array
    """On its own `x_m`, where x repeats at a jump."""
    strain_nodes_m: Array


@dataclass(frozen=True, eq=False)
class StripView:
    """Damping against the start of the selected patch."""

    x_start_m: Array
    zeta: Array
    """(n_positions, n_modes)"""
    allowed: Array
    reasons: tuple[str, ...]
    static_strain: Array | None
    target_mode: int
    """Mode the circuit of the selected patch is tuned on, from 1."""

    def best(self, mode: int) -> int | None:
        """Index of the allowed position with the largest damping of `mode`, None if none is allowed or
        the place makes no difference."""
        column = np.where(self.allowed & np.isfinite(self.zeta[:, mode - 1]), self.zeta[:, mode - 1], -np.inf)
        index = int(np.argmax(column))
        return index if np.isfinite(column[index]) and not self.is_flat(mode) else None

    def is_flat(self, mode: int) -> bool:
        """Whether the mode's damping is the same wherever the patch lies: it is not coupled."""
        column = self.zeta[np.isfinite(self.zeta[:, mode - 1]), mode - 1]
        return bool(column.size) and float(column.max() - column.min()) <= FLAT * abs(float(column.max()))


@dataclass(frozen=True, eq=False)
class DrawingView:
    """Everything the canvas shows."""

    structure: StructureView
    patches: tuple[PatchView, ...]
    modes: tuple[ModeView, ...]
    modes_shown: int
    neutral_axis: tuple[Array, Array] | None
    """x and height above the underside, m."""
    strip: StripView | None
    stale: bool
    datum: DatumFeature | None
    """The feature the sheet measures from, when one is chosen."""
    with_strip: bool = True
    unit: str = "mm"

    @property
    def selected(self) -> PatchView | None:
        return next((patch for patch in self.patches if patch.selected), None)

    @property
    def faces_looked_at(self) -> tuple[str, ...]:
        """The faces of the selected patch; the top without one."""
        return ("top",) if self.selected is None else self.selected.faces

    @property
    def span_m(self) -> float:
        return self.structure.span_m


def drawing_view(
    project: Project,
    prediction: Prediction | None,
    strip: PositionStrip | None,
    selected: str | None,
    *,
    stale: bool = False,
    colours: tuple[int, ...] = (),
    with_strip: bool = True,
) -> DrawingView:
    """The view of `project`. `colours` names the colour of each mode (empty: its own number)."""
    structure = structure_view(project.structure)
    patches = with_collisions(structure, patch_views(project, selected))
    shown = project.view.modes_shown
    return DrawingView(
        structure=structure,
        patches=patches,
        modes=() if prediction is None else mode_views(prediction, shown, colours),
        modes_shown=shown,
        neutral_axis=None
        if prediction is None or stale
        else (prediction.shapes.x_m, prediction.shapes.neutral_axis_m),
        strip=_strip_view(project, strip, selected) if strip and selected == strip.patch else None,
        stale=stale and prediction is not None,
        with_strip=with_strip,
        datum=next((d for d in structure.datums if d.name == project.sheet.datum), None),
    )


def mode_views(prediction: Prediction, shown: int, colours: tuple[int, ...] = ()) -> tuple[ModeView, ...]:
    """The first `shown` modes of a prediction, scaled for drawing."""
    shapes = prediction.shapes
    fine_x, fine = refined(shapes.x_m, shapes.deflection[:shown], shapes.curvature[:shown])
    views = []
    for index, mode in enumerate(prediction.modes[:shown]):
        curvature = _scaled(shapes.curvature[index])
        views.append(
            ModeView(
                number=mode.number,
                colour=colours[index] if index < len(colours) else mode.number,
                frequency_hz=mode.f_short_hz,
                deflection_x_m=fine_x,
                deflection=_scaled(fine[index]),
                x_m=shapes.x_m,
                curvature=curvature,
                strain_nodes_m=sign_changes(shapes.x_m, curvature),
            )
        )
    return tuple(views)


def _scaled(values: Array) -> Array:
    peak = float(np.abs(values).max()) if len(values) else 0.0
    return values / peak if peak > 0 else values


def _stable(zeta: Array) -> Array:
    """The damping with a gap where the layout would be unstable; the same array where it never is."""
    growing = zeta < 0.0
    return np.where(growing, np.nan, zeta) if growing.any() else zeta


def _strip_view(project: Project, strip: PositionStrip, selected: str) -> StripView:
    candidate = project.candidate()
    n_modes = strip.zeta.shape[1]
    strain = getattr(strip, "static_strain", None)
    return StripView(
        x_start_m=strip.x_start_m,
        zeta=_stable(strip.zeta),
        allowed=np.asarray(strip.allowed, dtype=bool),
        reasons=tuple(strip.reasons),
        static_strain=None if strain is None or not np.any(np.isfinite(strain)) else strain,
        target_mode=min(served_mode(project, candidate, selected), n_modes),
    )
