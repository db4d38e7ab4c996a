"""What is drawn: one immutable value made from the project, its prediction, strip and selection."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from app.drawing.limit_marks import LimitMark, limit_marks
from app.drawing.patch_view import PatchView, patch_views
from app.drawing.refine import refined
from app.drawing.structure_view import StructureView, structure_view
from app.drawing.use_arrow import UseArrow, use_arrow
from core.predict.asked import asked_modes, damping_needed
from core.predict.asked_text import needed_text
from core.predict.loads.limit_words import STROKE
from core.project.model import Project
from core.project.served import served_mode, tuned_modes
from core.project.service import Service
from core.project.structure import DatumFeature
from core.project.use import Use
from core.units import words

if TYPE_CHECKING:
    from core.predict.mode_result import ModeResult
    from core.predict.prediction import Limit, Prediction
    from core.study.placement.position import PositionStrip

Array = NDArray[np.float64]

LATER = "told when the hand rests"
"""What stands beside a mode that twists while its frequency is of the last rest."""
FLAT = 1e-4
"""Relative differences of damping below this are rounding, not an effect of the place."""


@dataclass(frozen=True, eq=False)
class ModeView:
    """One mode over x, scaled to +/-1."""

    number: int
    """Rank by frequency, from 1: what is written. 0 of a mode that twists, which has its name alone."""
    colour: int
    """Number whose colour and dash it wears; differs from `number` only while a drag crosses modes."""
    frequency_hz: float
    deflection_x_m: Array
    deflection: Array
    x_m: Array
    curvature: Array
    """On its own `x_m`, where x repeats at a jump."""
    strain_nodes_m: Array
    name: str = ""
    """What it does where that is told: "C1" curves across, "T1" twists."""
    edges: tuple[Array, Array] | None = None
    """Of a mode that twists: deflection of the left and the right edge; `deflection` is their mean."""
    told: str = ""
    """Of a mode that twists: its coupling and damping, or that patches do not reach it; of one that curves across that it does."""
    old: bool = False
    """It belongs to an earlier layout: what costs a solution of its own waits until the hand rests."""
    chord: tuple[Array, Array] | None = None
    """Of a mode that curves across: the left and the right edge at `x_m`, beside the centreline's deflection."""

    @property
    def label(self) -> str:
        """How it is called in a sentence."""
        return f"Mode {self.number}" if self.number else self.name


@dataclass(frozen=True, eq=False)
class StripView:
    """Damping against the start of the selected patch."""

    x_start_m: Array
    zeta: Array
    """(n_positions, n_modes)"""
    allowed: NDArray[np.bool_]
    reasons: tuple[str, ...]
    tension: Array
    compression: Array
    """Static strain under the service forces, each a positive number."""
    allowed_pull: float
    allowed_push: float
    target_mode: int
    """Mode the circuit of the selected patch is tuned on, from 1."""
    inherent: float = 0.0
    """The least damping ratio the modes have by themselves: what the curves stand on."""
    needed: tuple[tuple[int, float, str], ...] = ()
    """Modes asked for with the damping ratio their target needs, and that in words."""
    held: tuple[str, ...] = ()
    """Per mode, what forbids a better place right beside the best one; '' where nothing does."""
    use: Use = "damp"
    of_use: Array | None = None
    """(n_positions, n_modes) motion per volt or volts per metre; None where the patch damps."""

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


@dataclass(frozen=True)
class AbsorberView:
    """A tuned mass where it sits."""

    id: str
    x_m: float
    label: str
    selected: bool
    broken: bool
    """Whether it moves further than it may."""


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
    asked: tuple[int, ...] = ()
    """Modes the question is about, from 1."""
    is_asked: bool = False
    """Whether a person typed them; else they are those the circuits are tuned on, if any is (`is_tuned`)."""
    is_tuned: bool = False
    marks: tuple[LimitMark, ...] = ()
    with_strain: bool = False
    strain_now: tuple[float | None, float | None] = (None, None)
    """Largest tension and compression of the selected patch where it lies, as the limits tell them."""
    with_strip: bool = True
    strip_is_old: bool = False
    """Whether the strip is of a layout of before, while the one of now is worked out."""
    unit: str = "mm"
    absorbers: tuple[AbsorberView, ...] = ()
    use: Use = "damp"
    arrow: UseArrow | None = None

    @property
    def asked_flags(self) -> tuple[bool, ...]:
        """Of every mode shown, whether it is asked for."""
        numbers = [mode.number for mode in self.modes] or range(1, self.modes_shown + 1)
        return tuple(number in self.asked for number in numbers)

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
    names: tuple[str, ...] = (),
    with_strip: bool = True,
    strip_is_old: bool = False,
    selected_absorber: str | None = None,
    twists: tuple[ModeView, ...] | None = None,
    limits: tuple[Limit, ...] | None = None,
) -> DrawingView:
    """The view of `project`. `colours` names the colour of each mode (empty: its own number); `twists` stand for the modes
    that twist the part in place of the prediction's, `limits` (worst first) in place of its limits."""
    structure = structure_view(project.structure)
    patches = patch_views(project, selected)
    shown = project.view.modes_shown
    told = () if prediction is None or stale else prediction.limits if limits is None else limits
    return DrawingView(
        structure=structure,
        patches=patches,
        modes=() if prediction is None else mode_views(prediction, shown, colours, names, twists),
        modes_shown=shown,
        neutral_axis=None
        if prediction is None or stale
        else (prediction.shapes.x_m, prediction.shapes.neutral_axis_m),
        strip=_strip_view(project, strip, selected, prediction) if strip and selected == strip.patch else None,
        stale=stale and prediction is not None,
        with_strip=with_strip,
        strip_is_old=strip_is_old,
        datum=next((d for d in structure.datums if d.name == project.sheet.datum), None),
        asked=asked_modes(project),
        is_asked=bool(project.service.asked.modes),
        is_tuned=bool(tuned_modes(project.candidate())),
        marks=limit_marks(tuple(limit for limit in told if limit.name != STROKE)),
        with_strain=with_strip and bool(project.service.static_forces) and bool(patches),
        strain_now=(_now(told, selected, TENSION), _now(told, selected, COMPRESSION)),
        absorbers=_absorber_views(project, told, selected_absorber),
        use=project.view.use,
        arrow=None if prediction is None or stale else _arrow(project, prediction, selected),
    )


def _arrow(project: Project, prediction: Prediction, selected: str | None) -> UseArrow | None:
    if project.view.use == "damp":
        return None
    from core.predict.prediction import group_of  # with the prediction, not with the window

    group = group_of(prediction, selected)
    return None if group is None else use_arrow(group, project.view.use)


def _absorber_views(
    project: Project, limits: tuple[Limit, ...], selected: str | None
) -> tuple[AbsorberView, ...]:
    over = {limit.patch for limit in limits if limit.margin < 1.0 and limit.name == STROKE}
    return tuple(
        AbsorberView(one.id, one.x_m, f"{one.id} {words.mass(one.mass_kg)}", one.id == selected, one.id in over)
        for one in project.candidate().absorbers
    )


TENSION, COMPRESSION = "Tensile strain, static", "Compressive strain, static"


def _now(limits: tuple[Limit, ...], patch: str | None, name: str) -> float | None:
    return next((abs(limit.value) for limit in limits if limit.patch == patch and limit.name == name), None)


def mode_views(
    prediction: Prediction, shown: int, colours: tuple[int, ...] = (), names: tuple[str, ...] = (),
    twists: tuple[ModeView, ...] | None = None,
) -> tuple[ModeView, ...]:
    """The first `shown` modes of a prediction and those that twist among them, in the order of their frequencies, scaled
    for drawing; a mode wears the name of its colour."""
    shapes = prediction.shapes
    fine_x, fine = refined(shapes.x_m, shapes.deflection[:shown], shapes.curvature[:shown])
    views, curving = [], any(name.startswith("C") for name in names)
    for index, mode in enumerate(prediction.modes[:shown]):
        colour = colours[index] if index < len(colours) else mode.number
        curvature = _scaled(shapes.curvature[index])
        chord = prediction.chords.get(mode.number) if curving else None
        peak = _peak(fine[index], *(chord or ()))
        views.append(
            ModeView(
                number=mode.number,
                colour=colour,
                frequency_hz=mode.f_short_hz,
                deflection_x_m=fine_x,
                deflection=fine[index] / peak,
                x_m=shapes.x_m,
                curvature=curvature,
                strain_nodes_m=np.array(mode.strain_nodes_m),
                name=names[colour - 1] if colour <= len(names) else "",
                chord=None if chord is None else (chord[0] / peak, chord[1] / peak),
                told="" if chord is None else "curves across: middle bold, edges thin",
            )
        )
    views += twist_views(prediction, shown) if twists is None else twists
    return tuple(sorted(views, key=lambda view: view.frequency_hz))


def twist_views(prediction: Prediction, shown: int) -> tuple[ModeView, ...]:
    """The modes that twist the part, below the highest of those shown."""
    if not prediction.torsion:
        return ()
    from core.predict.prediction import twists_among  # with the prediction, not with the window
    from core.predict.report.torsion_text import reach

    none = np.zeros(0)
    return tuple(
        ModeView(
            number=0,
            colour=0,
            frequency_hz=one.f_hz,
            deflection_x_m=one.x_m,
            deflection=0.5 * (one.edge + one.other_edge),
            x_m=none,
            curvature=none,
            strain_nodes_m=none,
            name=one.name,
            edges=(one.edge, one.other_edge),
            told=reach(one),
        )
        for one in twists_among(prediction, shown)
    )


def _scaled(values: Array) -> Array:
    return values / _peak(values)


def _peak(*lines: Array) -> float:
    """The largest of all; 1 where they are nothing."""
    return max(float(np.abs(values).max(initial=0.0)) for values in lines) or 1.0


def _stable(zeta: Array) -> Array:
    """The damping with a gap where the layout would be unstable; the same array where it never is."""
    unstable = zeta < 0.0
    return np.where(unstable, np.nan, zeta) if unstable.any() else zeta


def _strip_view(
    project: Project, strip: PositionStrip, selected: str, prediction: Prediction | None
) -> StripView:
    candidate = project.candidate()
    n_modes = strip.zeta.shape[1]
    limits = project.package(candidate.patch(selected).package).limits
    modes = () if prediction is None else prediction.modes[: project.view.modes_shown]
    return StripView(
        x_start_m=strip.x_start_m,
        zeta=_stable(strip.zeta),
        allowed=np.asarray(strip.allowed, dtype=bool),
        reasons=tuple(strip.reasons),
        tension=strip.tension,
        compression=strip.compression,
        allowed_pull=limits.tensile_strain.value,
        allowed_push=limits.compressive_strain.value,
        held=tuple(strip.held),
        target_mode=min(served_mode(project, candidate, selected), n_modes),
        inherent=min((mode.zeta_inherent for mode in modes), default=0.0),
        needed=_needed(project.service, modes),
        use=strip.use,
        of_use=strip.of_use,
    )


def _needed(service: Service, modes: tuple[ModeResult, ...]) -> tuple[tuple[int, float, str], ...]:
    asked = service.asked
    out = []
    for mode in modes:
        zeta = damping_needed(asked, mode, service.settle_to)
        if zeta is not None:
            out.append((mode.number, zeta, needed_text(asked, mode.number, zeta)))
    return tuple(out)
