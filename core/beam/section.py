"""Section integrals of the lay-up with whatever is bonded to it, at many x at once.

    A1 = sum E b t,  B1 = sum E b t z_mid,  D1 = sum E b t (z_mid^2 + t^2/12)
    z_n = B1/A1,  EI = D1 - B1^2/A1,  m = sum rho b t

(classical lamination of a beam without axial force, e.g. Gere & Timoshenko 1997, section 6.3).
All functions take leading batch axes, so that one call serves one layout or hundreds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strips:
    """Strips bonded to a face over a range of x; every array ends in the strip axis (..., k).

    `offset_m` is the distance of the strip's inner side from the bonded face. `extra_ei_nm2` is
    stiffness added about the section's neutral axis (the ceramic's own field term).
    """

    on_top: NDArray[np.bool_]
    offset_m: Array
    thickness_m: Array
    stiffness_width: Array
    mass_width: Array
    extra_ei_nm2: Array
    x0_m: Array
    x1_m: Array


@dataclass(frozen=True)
class Section:
    """Section values at (..., n_elements, n_points)."""

    axial: Array
    neutral_axis_m: Array
    bending: Array
    mass: Array
    top_m: Array
    """Height of the bare lay-up's top face above its underside."""


def interpolate(spec: BeamSpec, table: Array, x: Array, segment: NDArray[np.intp]) -> Array:
    """A (3, ..., n_segments) table at x (..., e, q) in segment (..., e): (..., e, q) behind the
    table's own axes."""
    left = spec.bounds_m[segment]
    f = (x - left[..., None]) / (spec.bounds_m[segment + 1] - left)[..., None]
    if spec.stacked:
        segment = np.broadcast_to(segment, (table.shape[-2], segment.shape[-1]))
        index = np.broadcast_to(segment, (*table.shape[:-2], *segment.shape))
        ends = np.take_along_axis(table, index, axis=-1)
    else:
        ends = table[..., segment]
    a = ends[0][..., None]
    found = a + (ends[1][..., None] - a) * f
    return found - ends[2][..., None] * spec.width.chord_m(x) if spec.round.any() else found


@dataclass(frozen=True)
class Layers:
    """The bare lay-up at (..., e, q); every array begins with the layer axis."""

    thickness_m: Array
    middle_m: Array
    """Mid-height above the underside."""
    stiffness_width: Array
    mass_width: Array


def layers_at(spec: BeamSpec, x: Array, segment: NDArray[np.intp]) -> Layers:
    """Layers at x (..., e, q) in segment (..., e)."""
    t, eb, rb = interpolate(spec, spec.tables, x, segment)
    return Layers(t, t.cumsum(axis=0) - 0.5 * t, eb, rb)


def strip_active(strips: Strips, middle_m: Array) -> NDArray[np.bool_]:
    """Whether each strip lies over each element, from the elements' middles (..., e): (..., k, e)."""
    m = middle_m[..., None, :]
    return (m > strips.x0_m[..., :, None]) & (m < strips.x1_m[..., :, None])


def section(
    spec: BeamSpec,
    x: Array,
    segment: NDArray[np.intp],
    strips: Strips | None,
    active: NDArray[np.bool_] | None,
) -> Section:
    """Section integrals at x (..., n_elements, n_points), strips included where active."""
    return section_of(layers_at(spec, x, segment), strips, active)


def section_of(layers: Layers, strips: Strips | None, active: NDArray[np.bool_] | None) -> Section:
    """Section integrals of layers, strips included where active."""
    t, z, eb, rb = layers.thickness_m, layers.middle_m, layers.stiffness_width, layers.mass_width
    top = t.sum(axis=0)
    ebt = eb * t
    a1 = ebt.sum(axis=0)
    ebtz = ebt * z
    b1 = ebtz.sum(axis=0)
    d1 = (ebtz * z + ebt * t * t / 12.0).sum(axis=0)
    m = (rb * t).sum(axis=0)
    extra: Array | float = 0.0
    if strips is not None and active is not None:
        sums = (_strip_sums(strips) @ active.astype(float))[..., None]
        w, w_top, first, first_top, second, mass, extra = (sums[..., i, :, :] for i in range(7))
        a1 = a1 + w
        b1 = b1 + w_top * top + first
        d1 = d1 + (w_top * top + 2.0 * first_top) * top + second
        m = m + mass
    zn = b1 / a1
    return Section(axial=a1, neutral_axis_m=zn, bending=d1 - b1 * zn + extra, mass=m, top_m=top)


def _strip_sums(strips: Strips) -> Array:
    """(..., 7, k) what each strip adds over its length: E b t; the same on top; first moments about the
    underside with those on top about the top face; the latter alone; second moments; mass; stiffness of
    its own. On top the height is that of the top face plus a distance, so sums over strips suffice."""
    t, on_top = strips.thickness_m, strips.on_top
    w = strips.stiffness_width * t
    distance = strips.offset_m + 0.5 * t
    first = w * distance
    out = np.empty((*w.shape[:-1], 7, w.shape[-1]))
    out[..., 0, :] = w
    out[..., 1, :] = w * on_top
    out[..., 2, :] = np.where(on_top, first, -first)
    out[..., 3, :] = first * on_top
    out[..., 4, :] = first * distance + w * t * t / 12.0
    out[..., 5, :] = strips.mass_width * t
    out[..., 6, :] = strips.extra_ei_nm2
    return out
