"""Sections of the lay-up with whatever is bonded to it, at many x at once.

A section is cut into strips side by side, each a constant stack (`free_strip`); they add with a common
strain along the axis and a common curvature w'', and no axial force removes the former:

    z_n = B1/A1,  EI = D1 - B1^2/A1,  m = sum rho b t

All functions take leading batch axes, so that one call serves one layout or hundreds; only elements under a
package are cut anew for each.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.across import FurtherSection
from core.beam.askew import Askew
from core.beam.free_strip import ACROSS, ALONG, FREE, MIXED, FreeStrips
from core.beam.mesh import Mesh
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strips:
    """Sheets bonded to a face over a range of x and of y; every array ends in the axis of the sheets (..., k).

    `offset_m` is the distance of the sheet's inner side from the bonded face, `inner_m` and `outer_m` the |y|
    between which it lies; where `askew` is given they lie as it says instead, and only the difference of the two counts.
    `stiffness_pa` is (..., k, 5) moduli. `electrode` (..., k, 3) holds e_x', e_y'
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
    askew: Askew | None = None
    skew: Array | None = None
    """(..., k, 3) Q_16, Q_26 [Pa] and e_xy' [C/m^2] of sheets that are not alike in all directions and are turned."""

    @property
    def mid_m(self) -> Array:
        """(..., k) distance of the middle from the bonded face, downwards negative."""
        distance = self.offset_m + 0.5 * self.thickness_m
        return np.where(self.on_top, distance, -distance)

    def placed(self, kept: NDArray[np.intp], x0_m: Array, x1_m: Array) -> Strips:
        """Some of the sheets over these ranges of x."""
        flat = (self.offset_m, self.thickness_m, self.inner_m, self.outer_m, self.mass_width)
        offset, thickness, inner, outer, mass = (v[..., kept] for v in flat)
        stiffness, electrode = self.stiffness_pa[..., kept, :], self.electrode[..., kept, :]
        out = Strips(self.on_top[kept], offset, thickness, inner, outer, stiffness, electrode, mass, x0_m, x1_m)
        out.__dict__["by_height"] = self.by_height[..., kept, :]  # they do not depend on x
        return out

    @cached_property
    def by_height(self) -> Array:
        """(..., k, 27) of each modulus of a strip free across: thickness integrals of 1, z and z^2, each without the
        height of the top face, with it and with its square."""
        t, d = self.thickness_m, self.mid_m
        face = self.on_top * t
        none = np.zeros_like(t)
        powers = (t, none, none, t * d, face, none, t * (d * d + t * t / 12.0), 2.0 * face * d, face)
        table = np.stack(np.broadcast_arrays(*powers), axis=-1)
        whole = self.stiffness_pa[..., :FREE, None] * table[..., None, :]
        whole[..., 6] += field_term(self)
        return whole.reshape(*whole.shape[:-2], 9 * FREE)


@dataclass(frozen=True)
class Layers:
    """The bare lay-up at (..., e, q): L layers, lanes side by side.

    moments : (..., e, L, 3, q) integrals of 1, z, z^2 over each layer.
    """

    top_m: Array
    moments: Array
    mass: Array
    strips: FreeStrips


@dataclass(frozen=True)
class Covered:
    """Elements under a package, n of them, cut into s strips.

    index : into (..., e). lane : (n, s, lanes), there : (n, s, k) 1 where the lane of the part, the bonded sheet
    lies in a strip. top_m : (n, q). edge_m : (n, q) y of the first strip's outer side where strips lie side by side over
    the whole width; None where each is one on both halves, from the middle outward.
    """

    index: tuple[NDArray[np.intp], ...]
    strips: FreeStrips
    lane: Array
    there: Array
    top_m: Array
    edge_m: Array | None = None

    @cached_property
    def outer_m(self) -> Array:
        """(n, s, q) of |y|, or of y."""
        if self.edge_m is not None:
            return self.edge_m[:, None, :] + np.cumsum(self.strips.width_m, axis=-2)
        return 0.5 * np.cumsum(self.strips.width_m, axis=-2)

    @property
    def inner_m(self) -> Array:
        return self.outer_m - (0.5 if self.edge_m is None else 1.0) * self.strips.width_m


@dataclass(frozen=True)
class Section:
    """Section values at (..., n_elements, n_points); axial stiffness, neutral axis and EI free across as a whole."""

    axial: Array
    neutral_axis_m: Array
    bending: Array
    mass: Array
    top_m: Array
    """Height of the bare lay-up's top face above its underside."""
    cover: Covered | Callable[[], Covered | None] | None = None
    """What is under packages, or how to find out where it is seldom asked."""
    further: FurtherSection | None = None

    @cached_property
    def covered(self) -> Covered | None:
        """Elements under packages, None without."""
        return self.cover() if callable(self.cover) else self.cover

    @property
    def centreline_bending(self) -> Array:
        """EI against w0'' while the strains of further functions are held."""
        return self.bending if self.further is None else self.further.bending

    @property
    def values(self) -> tuple[Array, ...]:
        """Every array at the points."""
        return self.axial, self.neutral_axis_m, self.bending, self.mass, self.top_m

    def with_values(self, values: Sequence[Array]) -> Section:
        """With other arrays in the order of `values`."""
        axial, neutral, bending, mass, top = values
        return Section(axial, neutral, bending, mass, top, self.cover)


def in_segments(table: Array, stacked: bool, segment: NDArray[np.intp]) -> Array:
    """A (..., n_segments) table in segment (..., e); of many structures the axis of them stands before."""
    if not stacked:
        return np.asarray(table[..., segment])
    index = np.broadcast_to(segment, (*table.shape[:-2], *segment.shape))
    return np.take_along_axis(table, index, axis=-1)


def layers_at(spec: BeamSpec, x: Array, segment: NDArray[np.intp], lead: tuple[NDArray[np.intp], ...] = ()) -> Layers:
    """The lay-up at x (..., e, q) in segment (..., e), of the structures `lead` where the spec holds many."""
    at = (*lead, segment) if spec.stacked else (segment,)
    ends, rows = spec.ends_of_segments[at], spec.free_rows[at]
    start = spec.bounds_m[segment]
    f = (x - start[..., None]) / (spec.bounds_m[segment + 1] - start)[..., None]
    found = ends[..., 1, :, None] * f[..., None, :]
    found += ends[..., 0, :, None]
    if spec.round.any():
        found -= ends[..., 2, :, None] * spec.width.chord_m(x)[..., None, :]
    n, q = spec.tables.shape[2], x.shape[-1]
    t = found[..., :n, :]
    middle = t.cumsum(axis=-2) - 0.5 * t
    moments = np.empty((*t.shape[:-1], 3, q))
    moments[..., 0, :] = t
    np.multiply(t, middle, out=moments[..., 1, :])
    np.multiply(t, middle * middle + t * t / 12.0, out=moments[..., 2, :])
    sums = rows @ moments.reshape(*t.shape[:-1], 3 * q)
    sums = sums.reshape(*t.shape[:-2], sums.shape[-2] // FREE, FREE, 3, q)
    strips = FreeStrips(sums, np.maximum(found[..., 2 * n :, :], 0.0))
    return Layers(t.sum(axis=-2), moments, (found[..., n : 2 * n, :] * t).sum(axis=-2), strips)


def strip_active(strips: Strips, mesh: Mesh) -> NDArray[np.bool_]:
    """(..., k, e) whether each sheet lies over each element; over what rounding leaves between the ends of two lies
    none, or a part of a pair would seem to work alone there."""
    m = mesh.middle_m[..., None, :]
    return mesh.is_one[..., None, :] & (m > strips.x0_m[..., :, None]) & (m < strips.x1_m[..., :, None])


def section(
    spec: BeamSpec,
    x: Array,
    segment: NDArray[np.intp],
    strips: Strips | None,
    active: NDArray[np.bool_] | None,
) -> Section:
    """Section integrals at x (..., e, q) in segment (..., e), bonded sheets included where active (..., k, e);
    where the spec holds many structures the axis of them comes first."""
    whole = np.ones(segment.shape, dtype=bool)
    part = _of_elements(spec, x, segment, np.nonzero(whole), strips, active)
    return part.with_values([v.reshape(x.shape) for v in part.values])


@lru_cache(maxsize=32)
def base_section(spec: BeamSpec, base: Mesh) -> Section:
    """Of the structure without patches on its own mesh, remembered: layouts differ from it only where a package
    lies or ends."""
    return section(spec, base.x_m, base.segment, None, None)


def section_on(
    spec: BeamSpec, mesh: Mesh, bare: Section, strips: Strips | None, active: NDArray[np.bool_] | None
) -> Section:
    """`section` at the points of a mesh; `bare` is the `base_section`, of no use where the spec holds many."""
    if spec.stacked:
        return section(spec, mesh.x_m, mesh.segment, strips, active)
    changed = mesh.of_base < 0
    if active is not None:
        changed |= active.any(axis=-2)
    index = np.nonzero(changed)
    part = _of_elements(spec, mesh.x_m[index], mesh.segment[index], index, strips, active)
    found = [v[mesh.of_base] for v in bare.values]
    for whole, own in zip(found, part.values, strict=True):
        whole[index] = own
    return part.with_values(found)


def _of_elements(
    spec: BeamSpec,
    x: Array,
    segment: NDArray[np.intp],
    index: tuple[NDArray[np.intp], ...],
    strips: Strips | None,
    active: NDArray[np.bool_] | None,
) -> Section:
    """Of the elements `index` of a mesh, (n, q) each; x and segment are theirs or the whole mesh's."""
    x, segment = x.reshape(-1, x.shape[-1]), segment.reshape(-1)
    layers = layers_at(spec, x, segment, index[:-1])
    a1, b1, d1 = layers.strips.stiffness
    m, covered = layers.mass, None
    if strips is not None and active is not None:
        on = np.swapaxes(active, -1, -2)[index]
        rows = np.flatnonzero(on.any(axis=-1))
        at, on = tuple(i[rows] for i in index), on[rows]
        each = on * at_layouts(strips.mass_width * strips.thickness_m, at[:-1], 1)
        if strips.askew is None:
            m[rows] += each.sum(axis=-1)[:, None]
            covered = _cover(layers, rows, at, strips, on)
        else:
            low, high = strips.askew.sides(x[rows], at[:-1])
            whole = at_layouts(strips.askew.eta1_m - strips.askew.eta0_m, at[:-1], 1)
            share = np.divide(each, whole, out=np.zeros_like(each), where=whole > 0.0)
            m[rows] += (share[..., None] * (high - low)).sum(axis=-2)
            covered = _cover_whole(layers, rows, at, strips, on, low, high)
        for whole, part in zip((a1, b1, d1), covered.strips.stiffness, strict=True):
            whole[rows] = part
    zn = np.divide(b1, a1, out=np.zeros_like(a1), where=a1 > 0.0)
    return Section(a1, zn, d1 - b1 * zn, m, layers.top_m, covered)


def covered_at(
    spec: BeamSpec, x: Array, segment: NDArray[np.intp], strips: Strips | None, active: NDArray[np.bool_] | None
) -> Covered | None:
    """What `section` finds under packages, where nothing else of it is asked."""
    if strips is None or active is None:
        return None
    index = np.nonzero(active.any(axis=-2))
    x, on = x[index], np.swapaxes(active, -1, -2)[index]
    layers, rows = layers_at(spec, x, segment[index], index[:-1]), np.arange(len(x))
    if strips.askew is None:
        return _cover(layers, rows, index, strips, on)
    return _cover_whole(layers, rows, index, strips, on, *strips.askew.sides(x, index[:-1]))


def _cover(
    layers: Layers, rows: NDArray[np.intp], index: tuple[NDArray[np.intp], ...], strips: Strips, on: NDArray[np.bool_]
) -> Covered:
    """Cut elements under packages, `rows` of the layers and `index` of the mesh, into strips between the edges of
    lanes and sheets; `on` (n, k) tells which sheets lie over them."""
    lead = index[:-1]
    inner, outer = at_layouts(strips.inner_m, lead, 1), at_layouts(strips.outer_m, lead, 1)
    lanes = 0.5 * layers.strips.width_m[rows].cumsum(axis=-2)
    n, _, q = lanes.shape
    cuts = _distinct(np.concatenate([np.where(on, inner, 0.0), np.where(on, outer, 0.0)], axis=-1))
    # Which strip lies where is asked at the middle of an element; the widths follow every point.
    outside = lanes.mean(axis=-1)
    at_middle = np.concatenate([outside, cuts], axis=-1)
    order = at_middle.argsort(axis=-1)
    everywhere = np.concatenate([lanes, np.broadcast_to(cuts[..., None], (*cuts.shape, q))], axis=-2)
    pick = np.arange(n)[:, None]
    edges, middles = everywhere[pick, order], at_middle[pick, order]
    width = edges.copy()
    width[:, 1:] -= edges[:, :-1]
    width = np.maximum(2.0 * width, 0.0)
    used = (width > 0.0).any(axis=(0, 2))
    y = middles.copy()
    y[:, 1:] += middles[:, :-1]
    y = 0.5 * y[:, used, None]
    outside = outside[:, None, :]
    inside = np.zeros_like(outside)
    inside[..., 1:] = outside[..., :-1]
    lane = ((inside < y) & (y < outside)).astype(float)
    there = ((inner[:, None, :] < y) & (y < outer[:, None, :]) & on[:, None, :]).astype(float)
    top, own = layers.top_m[rows], layers.strips.sums[rows]
    # Told in full: nothing may be covered at all, and a size of none tells no other.
    sums = (lane @ own.reshape(n, own.shape[1], FREE * 3 * q)).reshape(n, lane.shape[1], FREE, 3, q)
    _add_sheets(sums, strips, lead, there, top)
    return Covered(index, FreeStrips(sums, width[:, used]), lane, there, top)


def _cover_whole(
    layers: Layers, rows: NDArray[np.intp], index: tuple[NDArray[np.intp], ...], strips: Strips, on: NDArray[np.bool_],
    low: Array, high: Array,
) -> Covered:  # fmt: skip
    """The same over the whole width, edge to edge, for sheets from y = low to high (n, k, q); those of no thickness are marks
    on the part."""
    half = 0.5 * layers.strips.width_m[rows].cumsum(axis=-2)
    lanes = np.concatenate([-half[:, ::-1], half], axis=-2)
    marks = ~strips.thickness_m.reshape(-1, strips.thickness_m.shape[-1]).any(axis=0)
    low[:, marks], high[:, marks] = (np.clip(v[:, marks], lanes[:, :1], lanes[:, -1:]) for v in (low, high))
    first = np.where(on[..., None], np.minimum(low, lanes[:, :1]), lanes[:, :1]).min(axis=-2, keepdims=True)
    cuts = np.concatenate([np.where(on[..., None], v, first) for v in (low, high)], axis=-2)
    edges = np.concatenate([first, lanes, cuts], axis=-2)
    n, q = len(edges), edges.shape[-1]
    edges = np.take_along_axis(edges, edges.mean(axis=-1).argsort(axis=-1)[..., None], axis=-2)
    width = np.maximum(edges[:, 1:] - edges[:, :-1], 0.0)
    # Strips of no width go last, so that all rows together need no more columns than the fullest.
    empty = (width <= NO_WIDTH).all(axis=-1)
    middles = 0.5 * (edges[:, 1:] + edges[:, :-1]).mean(axis=-1)
    order = np.where(empty, np.inf, middles).argsort(axis=-1, kind="stable")[:, : max(int((~empty).sum(axis=-1).max()), 1)]
    width = np.take_along_axis(np.where(empty[..., None], 0.0, width), order[..., None], axis=-2)
    y = np.take_along_axis(middles, order, axis=-1)[..., None]
    outside = half.mean(axis=-1)[:, None, :]
    inside = np.full_like(outside, -1.0)  # a strip over the centreline lies in the first lane
    inside[..., 1:] = outside[..., :-1]
    lane = ((inside < np.abs(y)) & (np.abs(y) < outside)).astype(float)
    start, end = (v.mean(axis=-1)[:, None, :] for v in (low, high))
    there = ((start < y) & (y < end) & on[:, None, :]).astype(float)
    top, own = layers.top_m[rows], layers.strips.sums[rows]
    sums = (lane @ own.reshape(n, own.shape[1], FREE * 3 * q)).reshape(n, lane.shape[1], FREE, 3, q)
    _add_sheets(sums, strips, index[:-1], there, top)
    return Covered(index, FreeStrips(sums, width), lane, there, top, first[:, 0])


NO_WIDTH = 1e-12


def _distinct(cuts: Array) -> Array:
    """Sorted (n, c) with what repeats in a row made 0, and no more columns than the fullest row needs."""
    ordered = np.sort(cuts, axis=-1)
    again = ordered[:, 1:] <= ordered[:, :-1]
    ordered[:, 1:][again] = 0.0
    ordered.sort(axis=-1)
    return ordered[:, ordered.any(axis=0)]


def _add_sheets(sums: Array, strips: Strips, lead: tuple[NDArray[np.intp], ...], there: Array, top: Array) -> None:
    """Add to the sums of strips (n, s, 3, 3, q) what the sheets that lie in them (n, s, k) do: on top the height is
    the top face's plus a distance, so that a few numbers a sheet serve every point."""
    n, s, k = there.shape
    sheets = at_layouts(strips.by_height, lead, 2)
    found = there.reshape(n * s, k) @ sheets[0] if len(sheets) == 1 else there @ sheets
    powers = np.stack([np.ones_like(top), top, top * top], axis=-2)
    sums += (found.reshape(n, 9 * s, 3) @ powers).reshape(sums.shape)


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
