"""One candidate solved, and its prediction: modes, damping, response, ring-down, limits, remarks."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from core.circuit.connect import coupled_system, hold
from core.circuit.spectrum import spectra
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.piezo.without_circuits import WithoutCircuits, alone
from core.predict.forcing import active_load, forcing
from core.predict.parts import Parts
from core.predict.prediction import Prediction
from core.predict.response import Side
from core.predict.solved import Solved
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.model import Project
from core.project.served import tuned_modes
from core.project.structure import Structure

MODES_BEYOND = 3
FEWEST_KEPT = 8
MOST_IN_BAND = 30


def predict(
    project: Project,
    candidate_id: str | None = None,
    *,
    points: int = 400,
    temperature_c: float | None = None,
) -> Prediction:
    """Prediction of a valid project's candidate (None: the active one): solved here, its parts when asked for.

    `points` is the length of the response curves. At `temperature_c` every constant follows its
    coefficient while the circuits hold the values they are tuned to at the reference temperature;
    None is the reference. Raises KeyError for an unknown candidate, material, package or circuit.
    """
    candidate = project.candidate(candidate_id)
    if temperature_c is not None:
        candidate = held_circuits(project, candidate)
    modes = project.view.modes_shown
    kept = modes_kept(project, bare(project))
    beam = layout(project, candidate, kept, temperature_c)
    bare_beam = bare(project, kept, temperature_c)
    modes = min(modes, len(beam.omega_rad_s))
    item = forcing(beam, active_load(project), project.view)
    item = replace(item, served=_served(project, candidate_id))
    system = coupled_system(beam, candidate, item.tuning_aim)
    return Parts(
        Solved(
            project=project,
            candidate=candidate,
            bare_beam=bare_beam,
            beam=beam,
            side=Side(system, item),
            before=_bare_side(project, bare_beam, item.served),
            spectra=spectra(system, modes),
            modes=modes,
            points=points,
        )
    )


def _served(project: Project, candidate_id: str | None) -> int | None:
    """Index of the mode the circuits are tuned on, else of the first asked for; None where neither says."""
    modes = (*tuned_modes(project.candidate(candidate_id)), *project.service.asked.modes)
    return modes[0] - 1 if modes else None


def modes_kept(project: Project, bare_beam: CoupledBeam) -> int:
    """Modes to keep: those shown, those in the load's band, those any candidate is tuned on, and a few above for
    accuracy (a millionth of the damping, with the static residual of the rest)."""
    tuned = max((mode for candidate in project.candidates for mode in tuned_modes(candidate)), default=0)
    high = 2 * np.pi * active_load(project).band_hz[1]
    in_band = int(np.searchsorted(bare_beam.beam.omega_rad_s, high))
    return max(FEWEST_KEPT, max(project.view.modes_shown, min(in_band, MOST_IN_BAND), tuned) + MODES_BEYOND)


def held_circuits(project: Project, candidate: Candidate) -> Candidate:
    """The candidate with every circuit and tuned mass fixed at the values it is tuned to at the reference
    temperature."""
    if not candidate.tunings and candidate.build.series == "exact":
        return candidate
    beam = layout(project, candidate, modes_kept(project, bare(project)))
    return hold(candidate, coupled_system(beam, candidate, forcing(beam, active_load(project), project.view).tuning_aim))


def layout(project: Project, candidate: Candidate, n_modes: int, temperature_c: float | None = None) -> CoupledBeam:
    """`core.piezo.layout.solve` of one layout; the last few are remembered, for a hand at a circuit, a loop or a
    waveform moves no patch."""
    return _layout(WithoutCircuits.of(project, candidate), n_modes, project.at_c(temperature_c))


@lru_cache(maxsize=4)
def _layout(layout: WithoutCircuits, n_modes: int, temperature_c: float) -> CoupledBeam:
    return solve(layout.project(), layout.candidate(), n_modes=n_modes, temperature_c=temperature_c)


def bare(
    project: Project, n_modes: int = FEWEST_KEPT, temperature_c: float | None = None
) -> CoupledBeam:
    """The structure without patches, solved once per structure."""
    return _bare(project.structure, project.materials, n_modes, project.at_c(temperature_c))


@lru_cache(maxsize=4)
def _bare(
    structure: Structure, materials: tuple[Material, ...], n_modes: int, temperature_c: float
) -> CoupledBeam:
    nothing = alone(structure, materials, ())
    return solve(nothing, Candidate("", ""), n_modes=n_modes, temperature_c=temperature_c)


def _bare_side(project: Project, beam: CoupledBeam, served: int | None) -> Side | None:
    if project.view.before != "bare structure":
        return None
    item = replace(forcing(beam, active_load(project), project.view), served=served)
    return Side(coupled_system(beam, Candidate("", "")), item)


__all__ = ["bare", "held_circuits", "modes_kept", "predict"]
