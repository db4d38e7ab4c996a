"""A candidate solved, and what several parts of its prediction are read off."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from core.circuit.serving import served_by
from core.circuit.spectrum import Spectrum, spectrum_at
from core.circuit.system import CoupledSystem
from core.piezo.coupled_beam import CoupledBeam
from core.predict.electrics.leads import Leads, lead_voltages
from core.predict.fields import Fields, fields, shapes
from core.predict.forcing import Forcing, response_words
from core.predict.loads.limits import StaticBend, static_bends
from core.predict.loads.loading import Vibration, vibrate
from core.predict.loads.transient import Stretch, transient
from core.predict.poles import Growth, growths_of, mode_damping
from core.predict.prediction import Response, Shapes
from core.predict.remarks import unstable
from core.predict.response import Sampled, Side, peak_changes_to, response, sample
from core.predict.use.patch_output import at_patch, patch_words, without_before
from core.project.candidate import Candidate, Tuning
from core.project.model import Project

if TYPE_CHECKING:
    from core.beam.torsion import Twists
    from core.predict.electrics.board import Board
    from core.predict.loop.design import LoopView

Array = NDArray[np.float64]
T = TypeVar("T")

BEFORE_LABELS = {"patch shorted": "patches shorted", "bare structure": "bare structure"}


def before_label(candidate: Candidate, before: str) -> str:
    """What a candidate is compared with."""
    if before == "bare structure" or not candidate.absorbers:
        return BEFORE_LABELS[before]
    return f"{BEFORE_LABELS[before]}, masses off"


@dataclass(frozen=True, eq=False)
class Solved:
    """A candidate solved.

    side : the layout with its circuits; before : the bare structure where the view compares with it,
    else None; spectra : of the first `modes` modes; points : length of the response curves.
    """

    project: Project
    candidate: Candidate
    bare_beam: CoupledBeam
    beam: CoupledBeam
    side: Side
    before: Side | None
    spectra: list[Spectrum]
    modes: int
    points: int

    @property
    def system(self) -> CoupledSystem:
        return self.side.system

    @property
    def before_label(self) -> str:
        return before_label(self.candidate, self.project.view.before)

    @property
    def over_x(self) -> Fields:
        return self._of_layout("over x", fields)

    def _of_layout(self, name: str, work: Callable[[CoupledBeam], T]) -> T:
        """Worked out once a layout, however often a circuit on it changes."""
        kept = self.beam.kept
        if name not in kept:
            kept[name] = work(self.beam)
        return cast(T, kept[name])

    @cached_property
    def shapes(self) -> Shapes:
        return shapes(self.over_x, self.modes)

    @property
    def twists(self) -> Twists | None:
        """Torsion with the packages; None at levels that do not let sections curve across."""
        if self.beam.spec.level != "across":
            return None
        from core.piezo.twist import (
            torsion_of,  # its band solver takes long to load, and other levels do without
        )

        return self._of_layout("twists", torsion_of)

    def edges_of(self, modes: Sequence[int]) -> tuple[Array, Array]:
        """(k, n) deflection of both edges of some modes (from 0), at the places and in the measure of `shapes`."""
        from core.piezo.twist import edges_along

        return edges_along(self.beam, self.beam.beam.mode_vectors(self.modes)[list(modes)])

    @cached_property
    def serves(self) -> tuple[int, ...]:
        """The mode (from 0) that each group's circuit serves; where it has nothing to tune the one named for it, else the first."""
        tunings = [group.circuit.tuning or Tuning() for group in self.candidate.groups]
        found = [served_by(self.system, g, group.circuit.tuning, self.modes, self.spectra) for g, group in enumerate(self.candidate.groups)]
        return tuple(min(t.mode, self.system.n_modes) - 1 if mode is None else mode for t, mode in zip(tunings, found, strict=True))

    def damping_of(self, mode: int) -> float:
        """Damping ratio with the circuits of any mode kept (from 0); nan where anything grows."""
        if self.growths:
            return np.nan
        standing = self.system
        for index in standing.absent_for(mode):
            standing = standing.opened(index)
        return mode_damping(spectrum_at(standing, float(standing.omega_rad_s[mode])), mode)

    @cached_property
    def bends(self) -> tuple[StaticBend, ...]:
        """Under the service's static forces."""
        return static_bends(self.over_x, self.project.service, self.system)

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """Motion under a load that happens once, else of a mode let go."""
        return transient(self.system, self.side.forcing)

    @cached_property
    def growths(self) -> tuple[Growth, ...]:
        """Every pole that grows, fastest first."""
        return growths_of(self.system, self.spectra)

    @cached_property
    def unstable(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.sentence for one in self.growths))

    @cached_property
    def sampled(self) -> Sampled:
        """Responses at the output point."""
        return sample(self.side, self.spectra, self.before, modes=self.modes, points=self.points)

    @cached_property
    def vibration(self) -> Vibration:
        """What the active load does to every ceramic and group."""
        if self.unstable:
            return unstable.vibration(self.over_x, self.side)
        return vibrate(self.over_x, self.side, self.sampled, self.stretches)

    @cached_property
    def leads(self) -> Leads | None:
        return lead_voltages(self.project, self.candidate, self.beam, self.system, self.spectra)

    @cached_property
    def board(self) -> Board:
        """What the circuits are built from, and what every load does to it."""
        from core.predict.electrics.board import board  # it reads a layout solved

        return board(self)

    @cached_property
    def loop(self) -> LoopView | None:
        """The active loop of the candidate, closed or not; None without two groups for one."""
        from core.predict.loop.design import loop_view  # it reads a layout solved

        return loop_view(self)

    @cached_property
    def _patch_output(self) -> Forcing | None:
        """The forcing with an output at the patch looked at; None where the output is a point."""
        return at_patch(self.over_x, self.candidate, self.side.forcing, self.project.view)

    @cached_property
    def _shown(self) -> Sampled:
        """Responses at the output shown."""
        item = self._patch_output
        if item is None:
            return self.sampled
        return sample(Side(self.system, item), self.spectra, None, modes=self.modes, points=self.points)

    @property
    def peak_change_db(self) -> tuple[float | None, ...]:
        """Of every mode, at the output shown."""
        return (None,) * self.modes if self._no_peaks else self._shown.peak_change_db

    @property
    def _no_peaks(self) -> bool:
        forcing = self.side.forcing
        return bool(self.unstable) or forcing.load_held or (self._patch_output is None and forcing.output_held)

    def peak_change_with(self, system: CoupledSystem) -> tuple[float | None, ...]:
        """Change of every mode's peak at the output shown, dB, were the system that one; with the circuits both."""
        if self._no_peaks:
            return (None,) * self.modes
        return peak_changes_to(self._shown, Side(system, self._patch_output or self.side.forcing), self.modes)

    @property
    def response(self) -> Response:
        """The curves at the output shown."""
        view, span, forcing, item = self.project.view, self.beam.spec.span_m, self.side.forcing, self._patch_output
        if item is None:
            curves = response(self._shown, forcing.load, *response_words(forcing, view, span), self.before_label)
            if forcing.output_held:
                curves = dataclasses.replace(curves, mean_square_change_db=np.nan)
        else:
            words = patch_words(item, self.candidate, view, span)
            curves = response(self._shown, forcing.load, *words, before_label(self.candidate, "patch shorted"))
            curves = without_before(curves) if view.output == "voltage" else curves
        return unstable.curves(curves) if self.unstable else curves
