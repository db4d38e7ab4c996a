"""What the bare structure of a project comes to: stiffness and mass along x, their totals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.piezo.layout import solve
from core.project.candidate import Candidate
from core.project.model import Project

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bare:
    """EI(x) and m(x) (x repeated at jumps), total mass, static tip stiffness (None: cannot be told)."""

    x_m: Array
    bending_stiffness_nm2: Array
    mass_per_length_kg_m: Array
    mass_kg: float
    tip_stiffness_n_m: float | None


def bare(project: Project) -> Bare:
    """The bare structure of a project whose structure and materials have no problem."""
    beam = solve(project, Candidate("bare", "bare"))
    span = project.structure.span_m
    return Bare(
        x_m=beam.mesh.x_m.ravel(),
        bending_stiffness_nm2=beam.section.bending.ravel(),
        mass_per_length_kg_m=beam.section.mass.ravel(),
        mass_kg=beam.total_mass_kg,
        tip_stiffness_n_m=_stiffness(beam.deflection_row(span)) if beam.n_rigid == 0 else None,
    )


def _stiffness(row: Array) -> float | None:
    """Force over deflection where the unit-stiffness row is the deflection's; None if it cannot move."""
    compliance = float(np.vdot(row, row))
    return 1.0 / compliance if compliance > 1e-18 else None
