"""The ski made large: many stations, many patches in many groups, many modes; and with a tuned mass."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from core.project import library
from core.project.candidate import Absorber, Circuit, Group, Member, Tuning
from core.project.model import Project
from core.project.record import Profile

PATCHES, GROUPS = 12, 6
LENGTH_M = 0.05


def with_stations(stations: int) -> Project:
    """The ski on so many equal stations."""
    project = library.example("touring-ski")
    s = project.structure
    old = np.asarray(s.stations_m)
    new = np.linspace(0.0, s.span_m, stations)

    def resample(profile: Profile) -> Profile:
        if isinstance(profile, tuple):
            return tuple(float(v) for v in np.interp(new, old, profile))
        return profile

    layers = tuple(replace(a, thickness_m=resample(a.thickness_m)) for a in s.layers)
    structure = replace(
        s, stations_m=tuple(float(v) for v in new), width_m=resample(s.width_m), layers=layers
    )
    return replace(project, structure=structure)


def with_groups() -> Project:
    """Twelve patches along the ski, two to a group, every circuit at the optimum for a mode of its own."""
    project = library.example("touring-ski")
    candidate = project.candidate("A")
    first = candidate.patches[0]
    starts = np.linspace(0.02, project.structure.span_m - LENGTH_M - 0.02, PATCHES)
    patches = tuple(
        replace(first, id=f"P{i + 1}", x_start_m=float(x), length_m=LENGTH_M, width_m=0.02)
        for i, x in enumerate(starts)
    )
    groups = tuple(
        Group(
            f"G{g + 1}",
            (Member(f"P{g + 1}"), Member(f"P{g + 1 + GROUPS}")),
            circuit=Circuit("series R-L", tuning=Tuning(1 + g % 5, "optimum")),
        )
        for g in range(GROUPS)
    )
    candidate = replace(candidate, patches=patches, groups=groups)
    return replace(project, candidates=(candidate,))


def with_modes(modes: int) -> Project:
    """The ski with so many modes shown."""
    project = library.example("touring-ski")
    return replace(project, view=replace(project.view, modes_shown=modes))


def with_tuned_mass() -> Project:
    """The ski with its patch tuned on mode 1 and a mass at the tip on mode 2, both at their optimum."""
    project = library.example("touring-ski")
    mass = Absorber("M1", project.structure.span_m, 0.02, 40.0, tuning=Tuning(2, "optimum"))
    return replace(project, candidates=(replace(project.candidate("A"), absorbers=(mass,)),))
