"""A candidate solved, and what several parts of its prediction are read off."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from core.circuit.spectrum import Spectrum
from core.circuit.system import CoupledSystem
from core.piezo.layout import CoupledBeam
from core.predict import growing
from core.predict.fields import Fields, fields, shapes
from core.predict.forcing import response_words
from core.predict.leads import Leads, lead_voltages
from core.predict.limits import StaticBend, static_bends
from core.predict.loading import Vibration, vibrate
from core.predict.patch_output import at_patch, patch_words, without_before
from core.predict.poles import unstable_sentences
from core.predict.prediction import Response, Shapes
from core.predict.response import Sampled, Side, response, sample
from core.predict.transient import Stretch, transient
from core.project.candidate import Candidate
from core.project.model import Project

BEFORE_LABELS = {"patch shorted": "patches shorted", "bare structure": "bare structure"}


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
        return BEFORE_LABELS[self.project.view.before]

    @cached_property
    def over_x(self) -> Fields:
        return fields(self.beam)

    @cached_property
    def shapes(self) -> Shapes:
        return shapes(self.over_x, self.modes)

    @cached_property
    def bends(self) -> tuple[StaticBend, ...]:
        """Under the service's static forces."""
        return static_bends(self.over_x, self.project.service, self.system)

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """Motion under a load that happens once, else of a mode let go."""
        return transient(self.system, self.side.forcing)

    @cached_property
    def unstable(self) -> tuple[str, ...]:
        return unstable_sentences(self.spectra)

    @cached_property
    def sampled(self) -> Sampled:
        """Responses at the output point."""
        return sample(self.side, self.spectra, self.before, modes=self.modes, points=self.points)

    @cached_property
    def vibration(self) -> Vibration:
        """What the active load does to every ceramic and group."""
        if self.unstable:
            return growing.vibration(self.over_x, self.side)
        return vibrate(self.over_x, self.side, self.sampled, self.stretches)

    @cached_property
    def leads(self) -> Leads | None:
        return lead_voltages(self.project, self.beam, self.system, self.spectra, self.bends)

    @property
    def response(self) -> Response:
        return self._shown[0]

    @property
    def peak_change_db(self) -> tuple[float | None, ...]:
        """Of every mode, at the output shown."""
        return self._shown[1]

    @cached_property
    def _shown(self) -> tuple[Response, tuple[float | None, ...]]:
        curves, peaks = self._at_output
        return (growing.curves(curves), (None,) * self.modes) if self.unstable else (curves, peaks)

    @property
    def _at_output(self) -> tuple[Response, tuple[float | None, ...]]:
        """At the output point, or at the patch looked at."""
        view, span, forcing = self.project.view, self.beam.spec.span_m, self.side.forcing
        item = at_patch(self.over_x, self.candidate, forcing, view)
        if item is None:
            words = response_words(forcing, view, span)
            curves = response(self.sampled, forcing.load, *words, self.before_label)
            if forcing.output_held:
                return dataclasses.replace(curves, mean_square_change_db=np.nan), (None,) * self.modes
            return curves, self.sampled.peak_change_db
        shown = sample(Side(self.system, item), self.spectra, None, modes=self.modes, points=self.points)
        words = patch_words(item, self.candidate, view, span)
        curves = response(shown, forcing.load, *words, BEFORE_LABELS["patch shorted"])
        return (without_before(curves) if view.output == "voltage" else curves), shown.peak_change_db
