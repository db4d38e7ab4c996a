"""Sections of the lay-up with whatever is bonded to it, at many x at once.

A section is cut into strips side by side, each a constant stack (`free_strip`); they add with a common
strain along the axis and a common curvature w'', and no axial force removes the former:

    z_n = B1/A1,  EI = D1 - B1^2/A1,  m = sum rho b t

All functions take leading batch axes, so that one call serves one layout or hundreds; only elements under a
package are cut anew for each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.free_strip import ACROSS, ALONG, MIXED, FreeStrips
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strips:
    """Sheets bonded to a face over a range of x and of y; every array ends in the axis of the sheets (..., k).

    `offset_m` is the distance of the sheet's inner side from the bonded face, `inner_m` and `outer_m` the |y|
    between which it lies; `stiffness_pa` is (..., k, 3) Q_x, Q_xy, Q_y. `electrode` (..., k, 3) holds e_x', e_y'
    [C/m^2] and the permittivity with both strains held [F/m]; zero without electrodes.
    """

    on_top: NDArray[np.bool_]
    offset_m: Array
    thickness_m: Array
    inner_m: Array
    outer_m: Array
    stiffness_pa: Array
    electrode: Array
    mass_width: Array
    x0_m: Array
    x1_m: Array

    @property
    def mid_m(self) -> Array:
        """(..., k) distance of the middle from the bonded face, downwards negative."""
        distance = self.offset_m + 0.5 * self.thickness_m
        return np.where(self.on_top, distance, -distance)


@dataclass(frozen=True)
class Layers:
    """The bare lay-up at (..., e, q): L layers, lanes side by side.

    moments : (..., e, L, 3, q) integrals of 1, z, z^2 over each layer; stiffness : (..., e, lanes, L, 3);
    """

    top_m: Array
    moments: Array
    stiffness: Array
    mass: Array
    strips: FreeStrips


@dataclass(frozen=True)
class Covered:
    """Elements under a package, n of them, cut into s strips.

    index : into (..., e). lane : (n, s, lanes), there : (n, s, k) 1 where the lane of the part, the bonded sheet
    lies in a strip. top_m : (n, q).
    """

    index: tuple[NDArray[np.intp], ...]
    strips: FreeStrips
    lane: Array
    there: Array
    top_m: Array


@dataclass(frozen=True)
class Section:
    """Section values at (..., n_elements, n_points)."""

    axial: Array
    neutral_axis_m: Array
    bending: Array
    mass: Array
    top_m: Array
    """Height of the bare lay-up's top face above its underside."""
    covered: Covered | None = None


def interpolate(spec: BeamSpec, table: Array, stacked: bool, x: Array, segment: NDArray[np.intp]) -> Array:
    """A (3, ..., n_segments) table, stacked over structures or not, at x (..., e, q) in segment (..., e):
    (..., e, q) behind the table's own axes."""
    left = spec.bounds_m[segment]
    f = (x - left[..., None]) / (spec.bounds_m[segment + 1] - left)[..., None]
    ends = in_segments(table, stacked, segment)
    a = ends[0][..., None]
    found = a + (ends[1][..., None] - a) * f
    return found - ends[2][..., None] * spec.width.chord_m(x) if spec.round.any() else found


def in_segments(table: Array, stacked: bool, segment: NDArray[np.intp]) -> Array:
    """A (..., n_segments) table in segment (..., e); of many structures the axis of them stands before."""
    if not stacked:
        return np.asarray(table[..., segment])
    index = np.broadcast_to(segment, (*table.shape[:-2], *segment.shape))
    return np.take_along_axis(table, index, axis=-1)


def layers_at(spec: BeamSpec, x: Array, segment: NDArray[np.intp]) -> Layers:
    """The lay-up at x (..., e, q) in segment (..., e)."""
    t, rb = interpolate(spec, spec.tables, spec.stacked, x, segment)
    width = np.maximum(interpolate(spec, spec.lane_width_m, False, x, segment), 0.0)
    t, width = np.moveaxis(t, 0, -2), np.moveaxis(width, 0, -2)
    middle = np.cumsum(t, axis=-2) - 0.5 * t
    moments = np.stack([t, t * middle, t * (middle * middle + t * t / 12.0)], axis=-2)
    stiffness = np.moveaxis(in_segments(spec.stiffness_pa, spec.stacked, segment), (1, 2, 0), (-3, -2, -1))
    lanes, layers = stiffness.shape[-3:-1]
    q = moments.shape[-1]
    rows = np.swapaxes(stiffness, -1, -2).reshape(*stiffness.shape[:-3], lanes * 3, layers)
    sums = rows @ moments.reshape(*moments.shape[:-3], layers, 3 * q)
    strips = FreeStrips(sums.reshape(*sums.shape[:-2], lanes, 3, 3, q), width)
    return Layers(t.sum(axis=-2), moments, stiffness, (rb * np.moveaxis(t, -2, 0)).sum(axis=0), strips)


def strip_active(strips: Strips, middle_m: Array) -> NDArray[np.bool_]:
    """Whether each sheet lies over each element, from the elements' middles (..., e): (..., k, e)."""
    m = middle_m[..., None, :]
    return (m > strips.x0_m[..., :, None]) & (m < strips.x1_m[..., :, None])


def section(
    spec: BeamSpec,
    x: Array,
    segment: NDArray[np.intp],
    strips: Strips | None,
    active: NDArray[np.bool_] | None,
) -> Section:
    """Section integrals at x (..., n_elements, n_points), bonded sheets included where active."""
    return section_of(layers_at(spec, x, segment), strips, active)


def section_of(layers: Layers, strips: Strips | None, active: NDArray[np.bool_] | None) -> Section:
    """Section integrals of layers, bonded sheets included where active."""
    a1, b1, d1 = layers.strips.stiffness
    m, covered = layers.mass, None
    if strips is not None and active is not None:
        m = m + ((strips.mass_width * strips.thickness_m)[..., None, :] @ active.astype(float))[..., 0, :, None]
        covered = _cover(layers, strips, active)
        for whole, part in zip((a1, b1, d1), covered.strips.stiffness, strict=True):
            whole[covered.index] = part
    with np.errstate(divide="ignore", invalid="ignore"):
        zn = np.where(a1 > 0.0, b1 / a1, 0.0)
    return Section(a1, zn, d1 - b1 * zn, m, layers.top_m, covered)


def _cover(layers: Layers, strips: Strips, active: NDArray[np.bool_]) -> Covered:
    """Cut the elements under packages into strips between the edges of lanes and sheets."""
    index = np.nonzero(active.any(axis=-2))
    lead = index[:-1]
    on = np.swapaxes(active, -1, -2)[index]
    inner, outer = at_layouts(strips.inner_m, lead, 1), at_layouts(strips.outer_m, lead, 1)
    lanes = 0.5 * np.cumsum(layers.strips.width_m[index], axis=-2)
    n, _, q = lanes.shape
    cuts = _distinct(np.concatenate([np.where(on, inner, 0.0), np.where(on, outer, 0.0)], axis=-1))
    # Which strip lies where is asked at the middle of an element; the widths follow every point.
    at_middle = np.concatenate([lanes.mean(axis=-1), cuts], axis=-1)
    order = np.argsort(at_middle, axis=-1)
    everywhere = np.concatenate([lanes, np.broadcast_to(cuts[..., None], (*cuts.shape, q))], axis=-2)
    edges = np.take_along_axis(everywhere, order[..., None], axis=-2)
    middles = np.take_along_axis(at_middle, order, axis=-1)
    width = np.maximum(2.0 * np.diff(edges, axis=-2, prepend=0.0), 0.0)
    used = (width > 0.0).any(axis=(0, 2))
    width = width[:, used]
    y = (0.5 * (middles + np.concatenate([np.zeros((n, 1)), middles[:, :-1]], axis=-1)))[:, used, None]
    outside = lanes.mean(axis=-1)[:, None, :]
    inside = np.concatenate([np.zeros_like(outside[..., :1]), outside[..., :-1]], axis=-1)
    lane = ((inside < y) & (y < outside)).astype(float)
    there = ((inner[:, None, :] < y) & (y < outer[:, None, :]) & on[:, None, :]).astype(float)
    top = layers.top_m[index]
    own = layers.strips.sums[index]
    sums = (lane @ own.reshape(n, own.shape[1], -1)).reshape(n, -1, 3, 3, q)
    sums = sums + _sheets(strips, lead, there, top)
    return Covered(index, FreeStrips(sums, width), lane, there, top)


def _distinct(cuts: Array) -> Array:
    """Sorted (n, c) with the columns that repeat their neighbour everywhere left out."""
    ordered = np.sort(cuts, axis=-1)
    return ordered[:, (np.diff(ordered, axis=-1, prepend=0.0) > 0.0).any(axis=0)]


def _sheets(strips: Strips, lead: tuple[NDArray[np.intp], ...], there: Array, top: Array) -> Array:
    """(n, s, 3, 3, q) what the bonded sheets add to the strips: on top the height is the top face's plus a
    distance, so that six numbers a sheet serve every point."""
    t, d = strips.thickness_m, strips.mid_m
    face = strips.on_top * t
    powers = (t, t * d, face, t * (d * d + t * t / 12.0), 2.0 * face * d, face)
    table = np.stack(np.broadcast_arrays(*powers), axis=-1)
    whole = strips.stiffness_pa[..., None] * table[..., None, :]
    whole[..., 3] += field_term(strips)
    found = there @ at_layouts(whole.reshape(*whole.shape[:-2], 18), lead, 2)
    c = found.reshape(*found.shape[:-1], 3, 6)[..., None]
    z = top[:, None, None, :]
    zeroth = np.broadcast_to(c[..., 0, :], (*c.shape[:3], top.shape[-1]))
    return np.stack([zeroth, c[..., 1, :] + c[..., 2, :] * z, c[..., 3, :] + (c[..., 4, :] + c[..., 5, :] * z) * z], axis=-2)


def field_term(strips: Strips) -> Array:
    """(..., k, 3) added to the second moments: e e t^3/12 over the permittivity, for the strain varies through a
    ceramic and its D3 cannot."""
    ex, ey, permittivity = (strips.electrode[..., i] for i in range(3))
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(permittivity > 0.0, strips.thickness_m**3 / 12.0 / permittivity, 0.0)
    out = np.empty((*scale.shape, 3))
    out[..., ALONG], out[..., MIXED], out[..., ACROSS] = ex * ex * scale, ex * ey * scale, ey * ey * scale
    return out


def at_layouts(values: Array, lead: tuple[NDArray[np.intp], ...], own_axes: int) -> Array:
    """Values that may differ from layout to layout, for elements of the layouts `lead`; else one for all."""
    return values[lead] if values.ndim > own_axes and lead else np.asarray(values)[None]
