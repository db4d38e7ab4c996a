"""The loop of a project on a solved layout, and what is to be said of it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import floor, isinf, log10

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.circuit.connect import coupled_system, hold
from core.circuit.loop.closed import control_of
from core.circuit.loop.law import Control, Law, PositionFeedback, VelocityFeedback
from core.circuit.loop.loop import Loop
from core.circuit.loop.margins import Crossing, Margins, alternation, law_decays, locus, margins, safe_gain
from core.circuit.loop.plant import Plant
from core.circuit.loop.result import ModeChange, changes
from core.circuit.loop.tuning import closed_form_position, closed_form_velocity, optimum
from core.circuit.loop.wait import GoesOn
from core.circuit.system import CoupledSystem
from core.predict.poles import Growth, growths
from core.predict.solved import Solved
from core.project.loop import LoopDesign, LoopFilter
from core.project.loop_edits import as_closed
from core.units import words

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

CLOSED_FORM_ZETA = 0.02
ON_LOCUS = 33
"""Gains at which the root locus has its poles."""
SHOWN_TO = 2.0
"""Times the highest mode kept, up to where the loop gain is drawn."""
HEADS = ("Mode", "Hz", "off → on, %", "change", "")
KEPT_BELOW = 0.999
"""Of the limit, up to which a gain is called one that holds."""
LAW_GROWS = "The law grows by itself, whatever it is closed over: type a denominator whose roots all decay."
TWO_GROUPS = (
    "A loop needs two groups: one listens, one drives. Bond a second patch and leave it in a group of its own "
    "(its Circuit section on the left)."
)


@dataclass(frozen=True, eq=False)
class LoopView:
    """A design on a solved layout; every part worked out when first asked for."""

    solved: Solved
    design: LoopDesign
    sensing: int
    driven: int

    def at(self, design: LoopDesign) -> LoopView:
        """Another design on the same layout and groups."""
        return dataclasses.replace(self, design=design)

    @cached_property
    def unit(self) -> Loop:
        """With the law as it is, not multiplied."""
        return Loop(self._system, self.sensing, self.driven, control_of(self.design))

    @cached_property
    def loop(self) -> Loop:
        return self.unit.with_control(control_of(self.design, self.design.times))

    @cached_property
    def _system(self) -> CoupledSystem:
        """Of the candidate as it is with the loop closed, what follows a rule held where the prediction has it."""
        solved = self.solved
        if solved.candidate.loop_is_closed:
            return solved.system
        closed = as_closed(hold(solved.candidate, solved.system))
        assert closed is not None  # there are two groups
        return coupled_system(solved.beam, closed)

    @cached_property
    def limit(self) -> Crossing | None:
        """What grows first as `times` is raised from nothing, counted in `times`; None too where the law grows by itself."""
        return safe_gain(self.unit) if self.law_decays else None

    @property
    def law_decays(self) -> bool:
        return law_decays(self.unit.control)

    @property
    def highest(self) -> float | None:
        """The highest gain that holds, counted in `times`, rounded down to three figures; None without a limit."""
        if self.limit is None:
            return None
        return rounded_down(KEPT_BELOW * self.limit.times)

    @cached_property
    def margins(self) -> Margins:
        return margins(self.loop)

    @cached_property
    def changes(self) -> tuple[ModeChange, ...]:
        return changes(self.loop, self.design.modes)

    @cached_property
    def growing(self) -> tuple[Growth, ...]:
        return growths(self.loop.spectra)

    @property
    def is_stable(self) -> bool:
        return not self.growing and (self.limit is None or self.design.times < self.limit.times)

    @cached_property
    def gain(self) -> tuple[Array, ComplexArray]:
        """Frequencies in Hz and the loop gain there, from a tenth of mode 1 to beyond the highest mode kept."""
        w = self.loop.plant.grid_rad_s
        omega = self._system.omega_rad_s
        shown = (w > 0.1 * float(omega[0])) & (w < SHOWN_TO * float(omega[-1]))
        return w[shown] / (2 * np.pi), self.loop.gain_on_grid[shown]

    def locus(self) -> tuple[Array, ComplexArray]:
        """`times` from nothing to beyond the limit, and the poles there."""
        top = 1.25 * (self.limit.times if self.limit is not None else 4.0 * max(self.design.times, 1.0))
        return _locus(self.unit.plant, self.unit.control, max(top, 1.25 * self.design.times))

    # -- words ---------------------------------------------------------------------------------

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Under HEADS; what loses damping without being controlled is called spillover."""
        return tuple(
            (
                str(c.number),
                words.unitless(words.frequency(c.frequency_hz)),
                words.unitless(words.zeta_change(c.off, c.on)) if c.on == c.on else words.UNSTABLE,
                words.signed(100 * c.change, 3) if c.on == c.on else words.NO_VALUE,
                "controlled" if c.controlled else "spillover" if c.loses else "",
            )
            for c in self.changes
        )

    @property
    def limit_told(self) -> str:
        limit = self.limit
        if not self.law_decays:
            return "the law grows by itself: no gain is low enough"
        if limit is None:
            return "no gain makes it grow"
        at = f"× {words.significant(limit.times)}"
        if limit.mode is None:
            return f"stops at {at}: would drift to one side"
        return f"stops at {at}: mode {limit.mode} would grow, {words.frequency(limit.frequency_hz)}"

    @property
    def margin_lines(self) -> tuple[str, ...]:
        m = self.margins
        gain = "no limit" if isinf(m.gain_db) else f"{words.signed(m.gain_db)} dB"
        phase = "the loop gain stays below 1" if m.phase_hz is None else (
            f"{words.significant(float(np.rad2deg(m.phase_rad)), 2)}° at {words.frequency(m.phase_hz)}"
        )  # fmt: skip
        delay = "any delay holds" if m.delay_hz is None else (
            f"{words.engineering(m.delay_s, 's')} more, then {words.frequency(m.delay_hz)} grows"
        )  # fmt: skip
        return (
            f"Gain margin {gain}: {self.limit_told}",
            f"Phase margin {phase}",
            f"Delay margin {delay}",
            f"Nearest to −1: {words.significant(m.nearest, 2)} at {words.frequency(m.nearest_hz)}",
            self.alternation_told,
        )

    @property
    def alternation_told(self) -> str:
        found = alternation(self.loop)
        if found.collocated:
            return "Poles and zeros alternate for every mode: sensor and driver see them alike"
        after = found.broken[0]
        return (
            f"Poles and zeros alternate up to mode {after}: sensor and driver see modes {after} and {after + 1} "
            "with different signs"
        )


def rounded_down(value: float) -> float:
    """A positive number to three figures, never above it: what is told of a limit holds."""
    step = 10.0 ** (floor(log10(value)) - 2)
    return floor(value / step) * step


@lru_cache(maxsize=4)
def _locus(plant: Plant, control: Control, top: float) -> tuple[Array, ComplexArray]:
    """Up to so many times the gain."""
    times = np.linspace(0.0, top, ON_LOCUS)
    return times, locus(Loop(plant.system, plant.sensing, plant.driven, control), times)


def loop_view(solved: Solved) -> LoopView | None:
    """The loop of the candidate solved, closed or not; None where it has no two groups with patches for it."""
    ends = solved.candidate.loop_ends
    return None if ends is None else LoopView(solved, solved.candidate.loop, *ends)


def tuned(view: LoopView, rule: str, goes_on: GoesOn = lambda share: True) -> LoopDesign:
    """The design with its law by the closed form, or moved to the optimum under 6 dB and 30 degrees."""
    design, loop = view.design, view.unit
    modes = tuple(m for m in design.modes if m <= view.solved.modes) or (1,)
    if design.law == "typed":
        return design
    if rule == "closed form":
        law: Law = (
            closed_form_velocity(loop, modes[0], CLOSED_FORM_ZETA + float(loop.system.zeta[modes[0] - 1]))
            if design.law == "velocity"
            else closed_form_position(loop, modes, 0.02)
        )
    else:
        law = optimum(view.loop, modes, goes_on=goes_on).law
        # the optimum's law goes with the gain as it was multiplied
        return replace(_with_law(design, law), modes=modes)
    return replace(_with_law(design, law), modes=modes, times=1.0)


def _with_law(design: LoopDesign, law: Law) -> LoopDesign:
    if isinstance(law, VelocityFeedback):
        return replace(design, velocity_gain_s=law.gain_s)
    if isinstance(law, PositionFeedback):
        return replace(design, filters=tuple(LoopFilter(f.frequency_hz, f.damping_ratio, f.gain) for f in law.filters))
    return design
