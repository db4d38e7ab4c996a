"""Section values and curvatures along the span, sampled a few times in every element.

Elements end at every jump, so x repeats there with the values of both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.beam.section import Section, section
from core.piezo.layout import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.prediction import Shapes

Array = NDArray[np.float64]

SAMPLES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True)
class Fields:
    """x_m : (e, s); section at the same points."""

    beam: CoupledBeam
    x_m: Array
    section: Section

    @cached_property
    def mode_curvature(self) -> Array:
        """(N, e, s)"""
        return self.curvature_of(self.beam.beam.mode_vectors(self.beam.n_kept))

    @cached_property
    def width_m(self) -> Array:
        """(e, s) net width."""
        return self.beam.spec.width.at(self.x_m)

    def curvature_of(self, vectors: Array) -> Array:
        """(k, e, s) curvature of displacement vectors (k, n) in the beam's unknowns; a static
        force along row r bends the beam by the vector r itself."""
        return self.beam.beam.moment_along(vectors, SAMPLES) / self.stiffness_nm2

    @property
    def stiffness_nm2(self) -> Array:
        """(e, s) EI; inf where the part ends in a point, and no moment bends it."""
        return np.where(self.section.bending > 0.0, self.section.bending, np.inf)

    def under(self, plate: CeramicPlate) -> NDArray[np.intp]:
        """Elements under the working part of a ceramic, root side first."""
        middle = 0.5 * (self.x_m[:, 0] + self.x_m[:, -1])
        return np.flatnonzero((middle > plate.x_a_eff_m) & (middle < plate.x_b_eff_m))


def fields(beam: CoupledBeam) -> Fields:
    """Sample a solved layout."""
    at, x = beam.sections, beam.mesh.at(SAMPLES)
    strips = None if at.bonded is None else at.bonded.strips
    return Fields(beam, x, section(at.spec, x, at.mesh.segment, strips, at.active))


def shapes(sampled: Fields, modes: int) -> Shapes:
    """What is drawn over x for the first modes."""
    beam = sampled.beam
    x = sampled.x_m.ravel()
    modes = min(modes, len(beam.omega_rad_s))
    deflection = beam.beam.deflection_along(beam.beam.mode_vectors(modes), SAMPLES)
    sec = sampled.section
    return Shapes(
        x_m=x,
        deflection=deflection.reshape(modes, -1),
        curvature=sampled.mode_curvature[:modes].reshape(modes, -1),
        bending_stiffness_nm2=sec.bending.ravel(),
        mass_per_length_kg_m=sec.mass.ravel(),
        neutral_axis_m=sec.neutral_axis_m.ravel(),
        thickness_m=sec.top_m.ravel(),
        net_width_m=sampled.width_m.ravel(),
    )


def strain_nodes(shown: Shapes) -> tuple[tuple[float, ...], ...]:
    """For every mode drawn, the x at which its curvature changes sign inside the span, m."""
    k, x = shown.curvature, shown.x_m
    if len(k) == 0:
        return ()
    size = np.abs(k)
    least = 1e-6 * size.max(axis=1, keepdims=True)
    crossing = (k[:, :-1] * k[:, 1:] < 0) & (np.maximum(size[:, :-1], size[:, 1:]) > least)
    mode, i = np.nonzero(crossing)
    before, after = k[mode, i], k[mode, i + 1]
    at = (x[i] + (x[i + 1] - x[i]) * before / (before - after)).tolist()
    ends = np.searchsorted(mode, np.arange(len(k) + 1))
    return tuple(tuple(at[a:b]) for a, b in pairwise(ends.tolist()))
