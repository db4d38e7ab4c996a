"""Section values and curvatures along the span, sampled a few times in every element.

Elements end at every jump, so x repeats there with the values of both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.beam.section import Section, covered_at, section
from core.piezo.ceramic_strain import CeramicStrain, ceramic_strains
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.prediction import Shapes

Array = NDArray[np.float64]

SAMPLES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
POINTED = 1e-9
"""Of the largest in an element, what counts as nothing."""


@dataclass(frozen=True)
class Fields:
    """x_m : (e, s); section at the same points."""

    beam: CoupledBeam
    x_m: Array
    section: Section

    @cached_property
    def mode_moment(self) -> Array:
        """(N, e, q) bending moment of the modes at the Gauss points."""
        solution = self.beam.beam
        return solution.bending.moment(solution.mode_vectors(self.beam.n_kept))

    @cached_property
    def mode_curvature(self) -> Array:
        """(N, e, s)"""
        return self.mode_moment @ self.beam.mesh.rule.to(SAMPLES) / self.stiffness_nm2

    @cached_property
    def width_m(self) -> Array:
        """(e, s) net width."""
        return self.beam.spec.width.at(self.x_m)

    @cached_property
    def means(self) -> dict[str, float]:
        """Means over the span of what one-line estimates need: axial (N) and bending stiffness (N m^2), mass
        (kg/m), width (m), polar inertia of a strip as wide (kg m)."""
        x, sec, width = self.x_m, self.section, self.width_m
        values = np.stack([sec.axial, sec.bending, sec.mass, width, sec.mass * width**2 / 12])
        length = x[:, 1:] - x[:, :-1]
        total = ((values[..., 1:] + values[..., :-1]) * length).sum(axis=(1, 2)) / (2 * length.sum())
        return dict(zip(("axial", "bending", "mass", "width", "polar"), total.tolist(), strict=True))

    def curvature_of(self, vectors: Array) -> Array:
        """(k, e, s) curvature of displacement vectors (k, n) in the beam's unknowns; a static
        force along row r bends the beam by the vector r itself."""
        return self.beam.beam.moment_along(vectors, SAMPLES) / self.stiffness_nm2

    @property
    def stiffness_nm2(self) -> Array:
        """(e, s) EI; inf where the part ends in a point, and no moment bends it."""
        return np.where(self.section.bending > 0.0, self.section.bending, np.inf)

    @cached_property
    def strains(self) -> tuple[CeramicStrain, ...]:
        """Of every ceramic, (e, s) each."""
        beam = self.beam
        return ceramic_strains(self.section, beam.sections.bonded, beam.ceramics.thickness_m, beam.spec.level, with_volts=True)

    def under(self, plate: CeramicPlate) -> NDArray[np.intp]:
        """Elements under the working part of a ceramic, root side first."""
        middle = 0.5 * (self.x_m[:, 0] + self.x_m[:, -1])
        return np.flatnonzero((middle > plate.works_m[0]) & (middle < plate.works_m[1]))


def fields(beam: CoupledBeam) -> Fields:
    """Sample a solved layout: its sections are read off those at the Gauss points, but where they are not smooth in an
    element (a round hole whose elements run with x)."""
    at, x = beam.sections, beam.mesh.at(SAMPLES)
    under = at.spec, x, at.mesh.segment, None if at.bonded is None else at.bonded.strips, at.active
    if at.mesh.arc is None and at.spec.round.any():
        return Fields(beam, x, section(*under))
    axial, neutral, bending, mass, top = (v @ at.mesh.rule.to(SAMPLES) for v in at.section.values)
    for size in (axial, bending, mass):
        # where the part ends in a point nothing but rounding is left
        size[size < POINTED * size.max(axis=-1, keepdims=True)] = 0.0
    return Fields(beam, x, Section(axial, neutral, bending, mass, top, lambda: covered_at(*under)))


def shapes(over_x: Fields, modes: int) -> Shapes:
    """What is drawn over x for the first modes."""
    beam = over_x.beam
    x = over_x.x_m.ravel()
    modes = min(modes, len(beam.omega_rad_s))
    deflection = beam.beam.deflection_along(beam.beam.mode_vectors(modes), SAMPLES)
    sec = over_x.section
    return Shapes(
        x_m=x,
        deflection=deflection.reshape(modes, -1),
        curvature=over_x.mode_curvature[:modes].reshape(modes, -1),
        bending_stiffness_nm2=sec.bending.ravel(),
        mass_per_length_kg_m=sec.mass.ravel(),
        neutral_axis_m=sec.neutral_axis_m.ravel(),
        thickness_m=sec.top_m.ravel(),
        net_width_m=over_x.width_m.ravel(),
    )


def strain_nodes(shown: Shapes, over_x: Fields | None = None) -> tuple[tuple[float, ...], ...]:
    """For every mode drawn, the x inside the span at which its bending moment changes sign, m.

    Between samples the moment is taken as the polynomial through those of its element; with the fields
    the root is then mended by the moment there. A moment that only dies away at an end (free, pinned)
    is no node.
    """
    moments = shown.curvature * shown.bending_stiffness_nm2
    mode, at, slope = _sign_changes(shown.x_m, moments)
    if over_x is not None and len(at):
        at = at - _moment_at(over_x, mode, at) / np.where(slope == 0, np.inf, slope)
    cuts, nodes = np.searchsorted(mode, np.arange(len(moments) + 1)).tolist(), at.tolist()
    return tuple(tuple(nodes[a:b]) for a, b in pairwise(cuts))


def _moment_at(over_x: Fields, mode: NDArray[np.intp], x: Array) -> Array:
    """(k,) bending moment of some modes, each at a place of its own."""
    mesh = over_x.beam.mesh
    element = np.searchsorted(mesh.bounds_m[1:-1], x, side="right")
    s = np.clip(mesh.parameter(x, element), 0.0, 1.0)
    return np.asarray((over_x.mode_moment[mode, element] * mesh.rule.to(s).T).sum(axis=1))


NOTHING, NOTHING_AT_END = 1e-5, 1e-3
"""A moment below this share of the largest is nothing; what is left of it at a free end has any sign."""
_INTO_POLYNOMIAL = np.linalg.inv(np.vander(SAMPLES, increasing=True))
_POWERS = np.arange(len(SAMPLES))


def _sign_changes(x: Array, moments: Array) -> tuple[NDArray[np.intp], Array, Array]:
    """(mode, place, slope of the moment there) of every change of sign of moments (N, n), mode by mode."""
    samples = len(SAMPLES)
    size = np.abs(moments)
    size /= size.max(axis=1, initial=1e-300, keepdims=True)
    size[:, 0] *= NOTHING / NOTHING_AT_END
    size[:, -1] *= NOTHING / NOTHING_AT_END
    mode, point = np.nonzero(size > NOTHING)
    value = moments[mode, point]
    change = np.flatnonzero((mode[:-1] == mode[1:]) & (value[:-1] * value[1:] < 0))
    mode, i, j = mode[change], point[change], point[change + 1]
    left, right = value[change], value[change + 1]
    at = x[i] + (x[j] - x[i]) * left / (left - right)
    slope = (right - left) / np.maximum(x[j] - x[i], 1e-300)
    first = i - i % samples
    inside = np.flatnonzero((j < first + samples) & (first + samples <= len(x)))
    first = first[inside]
    start, length = x[first], x[first + samples - 1] - x[first]
    a = moments[mode[inside, None], first[:, None] + np.arange(samples)] @ _INTO_POLYNOMIAL.T
    s, grown = (at[inside] - start) / length, np.zeros(len(inside))
    for _ in range(2):
        powers = s[:, None] ** _POWERS
        grown = (a[:, 1:] * _POWERS[1:] * powers[:, :-1]).sum(axis=1)
        s = s - np.where(grown == 0, 0.0, (a * powers).sum(axis=1) / np.where(grown == 0, 1.0, grown))
    root = start + s * length
    between = (x[i[inside]] <= root) & (root <= x[j[inside]])
    at[inside[between]], slope[inside[between]] = root[between], (grown / length)[between]
    return mode, at, slope
