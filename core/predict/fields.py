"""Section values and curvatures along the span, sampled a few times in every element.

Elements end at every jump, so x repeats there with the values of both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.beam.legendre import curvature_table
from core.beam.section import Section, section
from core.piezo.layout import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.prediction import Shapes

Array = NDArray[np.float64]

SAMPLES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True)
class Fields:
    """x_m : (e, s); section at the same points; mode_curvature : (N, e, s)."""

    beam: CoupledBeam
    x_m: Array
    section: Section
    mode_curvature: Array

    @cached_property
    def width_m(self) -> Array:
        """(e, s) net width."""
        return self.beam.spec.width.at(self.x_m)

    def curvature_of(self, vectors: Array) -> Array:
        """(k, e, s) curvature of displacement vectors (k, n) in the beam's unknowns; a static
        force along row r bends the beam by the vector r itself."""
        return curvature_of(self.beam, vectors)

    def under(self, plate: CeramicPlate) -> NDArray[np.intp]:
        """Elements under the working part of a ceramic, root side first."""
        middle = 0.5 * (self.x_m[:, 0] + self.x_m[:, -1])
        return np.flatnonzero((middle > plate.x_a_eff_m) & (middle < plate.x_b_eff_m))


def curvature_of(beam: CoupledBeam, vectors: Array) -> Array:
    """Curvature of displacement vectors (k, n) at the samples of every element, (k, e, s)."""
    raw = beam.beam.raw_coefficients(vectors)
    return np.matmul(raw, _table(raw.shape[-1]))


@lru_cache(maxsize=8)
def _table(terms: int) -> Array:
    """(d, s) curvature polynomials at the samples."""
    return curvature_table(SAMPLES, terms).T.copy()


def fields(beam: CoupledBeam) -> Fields:
    """Sample a solved layout."""
    elements = beam.elements
    mesh = elements.mesh
    x = mesh.bounds_m[:-1, None] + mesh.length_m[:, None] * SAMPLES
    strips = None if beam.bonded is None else beam.bonded.strips
    return Fields(
        beam=beam,
        x_m=x,
        section=section(beam.spec, x, mesh.segment, strips, elements.active),
        mode_curvature=curvature_of(beam, beam.beam.mode_vectors(beam.n_kept)),
    )


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
