"""The touring-ski example on twenty stations, and its drag step both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.spectrum import spectra
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.predict.forcing import active_load, forcing
from core.predict.poles import mode_damping
from core.predict.predict import MODES_BEYOND
from core.predict.response import Sampled, Side, sample
from core.project import library
from core.project.candidate import Candidate, Tuning
from core.project.model import Project
from core.project.record import Profile

MODES = 8
STATIONS = 20


def ski() -> tuple[Project, Candidate]:
    """Twenty equal stations, eight modes, a resistor following mode 1 by its closed form."""
    project = library.example("touring-ski")
    old = np.asarray(project.structure.stations_m)
    new = np.linspace(0.0, project.structure.span_m, STATIONS)

    def resample(profile: Profile) -> Profile:
        if isinstance(profile, tuple):
            return tuple(float(v) for v in np.interp(new, old, profile))
        return profile

    layers = tuple(replace(a, thickness_m=resample(a.thickness_m)) for a in project.structure.layers)
    structure = replace(
        project.structure,
        stations_m=tuple(float(v) for v in new),
        width_m=resample(project.structure.width_m),
        layers=layers,
        level="plain",  # what the rivals compute
    )
    candidate = project.candidate("A")
    circuit = replace(candidate.groups[0].circuit, kind="resistor", tuning=Tuning(1, "closed form"))
    candidate = replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),))
    project = replace(
        project, structure=structure, candidates=(candidate,), view=replace(project.view, modes_shown=MODES)
    )
    return project, candidate


def moved(candidate: Candidate, start_m: float) -> Candidate:
    return replace(candidate, patches=(replace(candidate.patches[0], x_start_m=start_m),))


@dataclass(frozen=True)
class Step:
    """What one drag step of the engine yields."""

    beam: CoupledBeam
    damping: np.ndarray
    sampled: Sampled


def drag_step(project: Project, candidate: Candidate) -> Step:
    """Modes, coupling, tuned circuit, poles and damping of every mode shown, 400-point response."""
    beam = solve(project, candidate, n_modes=MODES + MODES_BEYOND)
    item = forcing(beam, active_load(project), project.view)
    system = coupled_system(beam, candidate, item.aim)
    found = spectra(system, MODES)
    damping = np.array([mode_damping(spectrum, mode) for mode, spectrum in enumerate(found)])
    return Step(beam, damping, sample(Side(system, item), found, None, modes=MODES, points=400))
