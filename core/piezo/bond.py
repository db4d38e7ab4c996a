"""Shear lag: how far inside its ends a bonded ceramic starts to work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.free_strip import ACROSS, ALONG, MIXED, MODULI, SHEAR
from core.beam.mesh import segments_at
from core.beam.section import Section, layers_at, section
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


def bare_sections(spec: BeamSpec, x: Array) -> Section:
    """Section of the bare structure at each x (..., n), taken just inside the span; (..., n, 1)."""
    near = 1e-9 * spec.span_m
    point = np.minimum(np.maximum(x, near), spec.span_m - near)
    return section(spec, point[..., None], segments_at(spec, point), None, None)


SOFT = 0.1
"""Of the ceramic's E b t: an outermost layer with less carries strain across like the bond line, not along."""


def soft_sheet_m_pa(
    spec: BeamSpec, x: Array, on_top: NDArray[np.bool_], thickness_m: Array, modulus_pa: Array
) -> Array:
    """t/G of a soft outermost layer (top sheet, paint) under the ceramic at each x (..., n); zero where it is stiff,
    or all there is. The other arrays are (..., n), the ceramic's own."""
    point = np.clip(x, 1e-9 * spec.span_m, (1.0 - 1e-9) * spec.span_m)
    lead = np.nonzero(np.ones(point.shape, dtype=bool))[:-1]
    segment = segments_at(spec, point).reshape(-1)
    layers = layers_at(spec, point.reshape(-1, 1), segment, lead)
    thick, width = layers.moments[..., 0, 0], layers.strips.width_m[..., 0]
    if thick.shape[-1] < 2:
        return np.zeros(x.shape)
    rows = spec.stiffness_rows[(*lead, segment) if spec.stacked else (segment,)]
    moduli = rows.reshape(*width.shape, MODULI, thick.shape[-1])
    along, mixed, across, through = (moduli[..., i, :] for i in (ALONG, MIXED, ACROSS, SHEAR))
    own = along - np.divide(mixed * mixed, across, out=np.zeros_like(mixed), where=across > 0.0)
    # Per width of the layer: whatever lies far beside the ceramic holds the sheet under it no more than it.
    stiff = (own * width[..., None]).sum(axis=-2) / width.sum(axis=-1)[..., None] * thick
    thick, stiff, shear = (v.reshape(*x.shape, -1) for v in (thick, stiff, through[..., 0, :]))
    place = np.where(on_top, thick.shape[-1] - 1, 0)
    sheet, held, g = (_at(v, place) for v in (thick, stiff, shear))
    soft = (held > 0.0) & (held < SOFT * modulus_pa * thickness_m) & (g > 0.0)
    return np.asarray(np.where(soft, sheet / np.where(soft, g, 1.0), 0.0))


def _at(values: Array, place: NDArray[np.intp]) -> Array:
    """Values (..., n, L) at the places (n,)."""
    index = np.broadcast_to(place, values.shape[:-1])
    return np.take_along_axis(values, index[..., None], axis=-1)[..., 0]


@dataclass(frozen=True)
class BondStack:
    """What lies between the structure and the ceramic: adhesive and lower skin, thickness and shear
    modulus of each, arrays over ceramics; and what a soft sheet of the part adds, shear displacement per stress."""

    bond: tuple[Array, Array]
    skin: tuple[Array, Array]
    sheet_m_pa: Array | float = 0.0

    @property
    def compliance_m_pa(self) -> Array:
        """Shear displacement per shear stress, t_b/G_b + t_s/G_s."""
        return self.bond[0] / self.bond[1] + self.skin[0] / self.skin[1] + self.sheet_m_pa

    @property
    def thickness_m(self) -> Array:
        return self.bond[0] + self.skin[0]


def shear_lag_m(
    bare: Section,
    *,
    on_top: NDArray[np.bool_],
    paired: NDArray[np.bool_],
    width_m: Array,
    thickness_m: Array,
    modulus_pa: Array,
    stack: BondStack,
) -> Array:
    """(..., n) build-up length 1/Gamma of the ceramic strain, m.

    bare : sections of the part under each ceramic (..., n, 1); on_top, paired : (..., n) which face, and whether
    the other carries one wired for bending; width_m, thickness_m, modulus_pa : (..., n) of the ceramic; stack :
    thickness and shear modulus of the sheets between ceramic and part.

    Gamma^2 = b_p/(t_b/G_b + t_s/G_s) [1/(E_p b_p t_p) + 1/A1 + c_s c_p/EI], for a patch on one
    face (Crawley & de Luis 1987, AIAA J. 25, 1373, the bonded actuator, extended to an
    unsymmetric base); for a bending pair the axial term drops and the bending term doubles.
    c_s and c_p are the distances of the bonded face and of the ceramic's mid-plane from the bare
    neutral axis.
    """
    top, neutral, axial, bending = (
        v[..., 0] for v in (bare.top_m, bare.neutral_axis_m, bare.axial, bare.bending)
    )
    c_s = np.where(on_top, top - neutral, neutral)
    c_p = c_s + stack.thickness_m + 0.5 * thickness_m
    membrane = np.where(paired, 0.0, 1.0 / axial)
    flexure = np.where(paired, 2.0, 1.0) * c_s * c_p / bending
    own = 1.0 / (modulus_pa * width_m * thickness_m)
    return np.sqrt(stack.compliance_m_pa / (width_m * (own + membrane + flexure)))
