"""Section values and curvatures along the span, sampled a few times in every element.

Elements end at every jump, so x repeats there with the values of both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.section import Section, section
from core.piezo.charge import PerVolt
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
    def membranes(self) -> list[Array]:
        """Per ceramic, (e, s) strain of the whole section per volt on it: its force over A1 where it works."""
        out = [np.zeros(self.x_m.shape) for _ in self.beam.plates]
        at, bonded = self.section.covered, self.beam.sections.bonded
        if at is not None and bonded is not None:
            for _, j, force, _ in PerVolt(self.section, bonded):
                out[j][at.index] = force / self.section.axial[at.index]
        return out

    def under(self, plate: CeramicPlate) -> NDArray[np.intp]:
        """Elements under the working part of a ceramic, root side first."""
        middle = 0.5 * (self.x_m[:, 0] + self.x_m[:, -1])
        return np.flatnonzero((middle > plate.x_a_eff_m) & (middle < plate.x_b_eff_m))


def fields(beam: CoupledBeam) -> Fields:
    """Sample a solved layout."""
    at, x = beam.sections, beam.mesh.at(SAMPLES)
    strips = None if at.bonded is None else at.bonded.strips
    return Fields(beam, x, section(at.spec, x, at.mesh.segment, strips, at.active))


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


def strain_nodes(shown: Shapes, beam: CoupledBeam | None = None) -> tuple[tuple[float, ...], ...]:
    """For every mode drawn, the x inside the span at which its bending moment changes sign, m.

    Between samples the moment is taken as the polynomial through those of its element; with the beam
    the root is then mended by the curvature there. A moment that only dies away at an end (free, pinned)
    is no node.
    """
    moments = shown.curvature * shown.bending_stiffness_nm2
    found = [_sign_changes(shown.x_m, moment) for moment in moments]
    if beam is not None and any(found):
        at = np.array([x for nodes in found for x, _ in nodes])
        slope = np.array([s for nodes in found for _, s in nodes])
        mode = np.repeat(np.arange(len(found)), [len(nodes) for nodes in found])
        left = (beam.beam.mode_vectors(len(found))[mode] * beam.curvature_row(at)).sum(axis=-1)
        left = left * np.interp(at, shown.x_m, shown.bending_stiffness_nm2)
        mended = iter((at - left / np.where(slope == 0, np.inf, slope)).tolist())
        return tuple(tuple(next(mended) for _ in nodes) for nodes in found)
    return tuple(tuple(x for x, _ in nodes) for nodes in found)


NOTHING, NOTHING_AT_END = 1e-5, 1e-3
"""A moment below this share of the largest is nothing; what is left of it at a free end has any sign."""
_INTO_POLYNOMIAL = np.linalg.inv(np.vander(SAMPLES, increasing=True))


def _sign_changes(x: Array, moment: Array) -> list[tuple[float, float]]:
    """(place, slope of the moment there) of every change of sign."""
    samples = len(SAMPLES)
    size = np.abs(moment) / np.abs(moment).max(initial=1e-300)
    size[[0, -1]] *= NOTHING / NOTHING_AT_END
    there = np.flatnonzero(size > NOTHING)
    before, after = there[:-1], there[1:]
    change = moment[before] * moment[after] < 0
    out = []
    for i, j in zip(before[change].tolist(), after[change].tolist(), strict=True):
        at = x[i] + (x[j] - x[i]) * moment[i] / (moment[i] - moment[j])
        slope = (moment[j] - moment[i]) / max(x[j] - x[i], 1e-300)
        first = i - i % samples
        if j < first + samples <= len(x):
            start, length = x[first], x[first + samples - 1] - x[first]
            a = _INTO_POLYNOMIAL @ moment[first : first + samples]
            s, grown = (at - start) / length, 0.0
            for _ in range(4):
                grown = sum(k * a[k] * s ** (k - 1) for k in range(1, samples))
                s -= float(a @ s ** np.arange(samples)) / grown if grown else 0.0
            if x[i] <= start + s * length <= x[j]:
                at, slope = start + s * length, grown / length
        out.append((float(at), float(slope)))
    return out
