"""Many layouts of one candidate, solved together by the engine of the single prediction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.ritz import SURVEY, Accuracy
from core.beam.varied import Variation
from core.circuit.at_rest import held_ports, volts_at_rest
from core.circuit.connect import coupled_system, strengths
from core.circuit.damping import mode_damping, runs_away
from core.circuit.objective import Aim
from core.circuit.peaks import peak_heights
from core.circuit.system import CoupledSystem
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.piezo.strain import StaticStrain, static_strain, static_use
from core.predict.forcing import active_load, forcing, place
from core.predict.predict import bare, modes_kept
from core.project.candidate import Candidate
from core.project.model import Project
from core.study.carried import solve_many

Array = NDArray[np.float64]

KEPT = 8
AIMED = ("peak", "mean square")
"""Goals that look at the response, and at whether the base moves."""
BEYOND = 3
"""Modes kept beyond those looked at, as a prediction does."""


@dataclass(frozen=True)
class Layouts:
    """P layouts with their circuits following their tuning rules."""

    project: Project
    candidate: Candidate
    variation: Variation
    beam: CoupledBeam

    @cached_property
    def aim(self) -> Aim:
        """The active load and the output point."""
        return forcing(self.beam, active_load(self.project), self.project.view).aim

    @cached_property
    def system(self) -> CoupledSystem:
        aim = None
        if any(t.goal in AIMED for t in self.candidate.tunings):
            aim = forcing(self.beam, active_load(self.project), self.project.view).tuning_aim
        return coupled_system(self.beam, self.candidate, aim, self.variation)

    def damping(self, modes: int) -> Array:
        """(P, modes) damping ratios with the circuits; nan where nothing oscillates."""
        return mode_damping(self.system, modes)

    def peaks(self, modes: tuple[int, ...]) -> tuple[Array, Array]:
        """(P, M) highest response about each mode (from 0): every group shorted, and with the circuits (inf where
        they run away)."""
        before, after = peak_heights(self.system, self.aim, strengths(self.beam, self.system), modes)
        return before, np.where(self.runs_away[:, None], np.inf, after)

    @cached_property
    def runs_away(self) -> NDArray[np.bool_]:
        """(P,) layouts whose circuit does not hold."""
        return runs_away(self.system.stacked())

    @cached_property
    def static(self) -> StaticStrain:
        """Of every ceramic under the service's static forces."""
        forces, span = self.project.service.static_forces, self.project.structure.span_m
        x = np.array([span if f.x_m is None else f.x_m for f in forces], dtype=float)
        held = held_ports(self.system)
        return static_strain(self.beam, x, np.array([f.force_n for f in forces], dtype=float), self._standing_v if held else None)

    def static_use(self, patches: tuple[str, ...]) -> Array:
        """(P, 3) worst tension, compression and field over their allowables among the ceramics of some patches."""
        return np.asarray(static_use(self.beam, self.static)[..., self.plates_of(patches), :].max(axis=-2, initial=0.0))

    def _standing_v(self, charge_c: Array) -> Array:
        """(P, S, ports) volts once nothing flows any more, of the charges that bending brings; like the strain of what is
        carried over from another level still that level's."""
        combine, free = self.beam.terminals.combine, self.system.free_f.copy()
        own = slice(combine.shape[-1])
        free[..., own, own] += np.swapaxes(combine, -1, -2) @ self.beam.free_f @ combine - self.beam.group_free_f
        return volts_at_rest(self.system, charge_c, free)

    def plates_of(self, patches: tuple[str, ...]) -> list[int]:
        """Indices of the ceramics of some patches."""
        return [j for j, patch in enumerate(self.beam.ceramics.patches) if patch in patches]


def layouts(
    project: Project,
    candidate: Candidate,
    variation: Variation,
    modes: int,
    *,
    kept: int | None = None,
    accuracy: Accuracy = SURVEY,
    near: bool = False,
    carry: Callable[[CoupledBeam], CoupledBeam] | None = None,
) -> Layouts:
    """Solve the candidate with its inputs varied, for questions about the first `modes` modes.

    variation : path of an input to (P,) values in SI; kept : modes the solution carries, None for as many as
    the prediction keeps, whose damping depends on them; accuracy : moments of the Ritz basis beyond the
    modes; near : all lie close to the candidate as drawn (`core.study.carried`); carry : takes what is solved to another level. KeyError
    for an unknown material or package.
    """
    n_modes = kept_for(project, modes) if kept is None else kept
    if near:
        beam = solve_many(project, candidate, modes, n_modes, variation, accuracy)
    else:
        beam = solve(project, candidate, n_modes, variation=variation, accuracy=accuracy)
    return Layouts(project, candidate, variation, beam if carry is None else carry(beam))


def kept_for(project: Project, modes: int) -> int:
    """Modes that a question about the first `modes` of them carries."""
    return max(modes_kept(project, bare(project)), modes + BEYOND)


def why_no_peaks(project: Project) -> str:
    """Why the highest response of many layouts says nothing of this part, as a sentence; '' where it does."""
    beam = bare(project)
    if beam.n_rigid:
        return "This part is free to move as a rigid body, and the response peaks of many layouts do not count that."
    item = forcing(beam, active_load(project), project.view)
    if item.load_held:
        return f"The load acts at {place(item.load_x_m, project.structure.span_m)}, which cannot move: it does nothing. Let it act elsewhere."
    if item.output_held:
        return f"The output, {place(item.output_x_m, project.structure.span_m)}, cannot move: it has no response. Choose another output point."
    return ""


def placed(
    candidate: Candidate,
    patch_id: str,
    x_start_m: Array,
    length_m: Array | None = None,
    width_m: Array | None = None,
    thickness_m: Array | None = None,
) -> dict[str, Array]:
    """The variation that gives one patch many places, sizes and ceramic thicknesses, (P,) each; what
    is None stays."""
    path = f"candidates[{candidate.id}].patches[{patch_id}]"
    given = {
        "x_start_m": x_start_m,
        "length_m": length_m,
        "width_m": width_m,
        "ceramic_thickness_m": thickness_m,
    }
    return {f"{path}.{name}": v for name, v in given.items() if v is not None}
