"""The touring-ski example on twenty stations, and its drag step both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.spectrum import spectra
from core.piezo.coupling import moment_density
from core.piezo.layout import CoupledBeam, solve
from core.predict.forcing import active_load, forcing
from core.predict.predict import MODES_BEYOND
from core.predict.response import Sampled, Side, sample
from core.project import library
from core.project.model import Candidate, Profile, Project, Tuning
from tests.reference.hermite_route import PatchedBeam

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
    sampled: Sampled


def drag_step(project: Project, candidate: Candidate) -> Step:
    """Modes, coupling, tuned circuit, poles of every mode shown, 400-point response."""
    beam = solve(project, candidate, n_modes=MODES + MODES_BEYOND)
    item = forcing(beam, active_load(project), project.view)
    system = coupled_system(beam, candidate, item.aim)
    found = spectra(system, MODES)
    return Step(beam, sample(Side(system, item), found, None, modes=MODES, points=400))


def described(beam: CoupledBeam) -> PatchedBeam:
    """The same layout for the general-purpose route: functions of x, no more."""
    x = beam.elements.x_m
    bounds = beam.elements.mesh.bounds_m
    density = moment_density(beam.elements, beam.plates).sum(axis=0)

    def per_element(values: np.ndarray):
        """A function of x from Gauss values: the polynomial through them on each element."""
        fits = [np.polyfit(a - a.mean(), v, len(a) - 1) for a, v in zip(x, values, strict=True)]
        centres = x.mean(axis=1)

        def at(where: np.ndarray) -> np.ndarray:
            where = np.asarray(where)
            e = np.clip(np.searchsorted(bounds, where.ravel(), side="right") - 1, 0, len(fits) - 1)
            out = np.empty(where.size)
            for k in np.unique(e):
                pick = e == k
                out[pick] = np.polyval(fits[k], where.ravel()[pick] - centres[k])
            return out.reshape(where.shape)

        return at

    return PatchedBeam(
        breaks_m=tuple(bounds),
        ei_nm2=per_element(beam.elements.section.bending),
        mass_kg_m=per_element(beam.elements.section.mass),
        g_nm_v=per_element(density),
        blocked_capacitance_f=float(beam.group_blocked_f[0, 0]),
    )
