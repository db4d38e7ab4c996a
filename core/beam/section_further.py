"""Sections of a lay-up with further functions: strips told how they warp and curve across, added over y."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.across import (
    CoveredStrips,
    FurtherSection,
    Shapes,
    Turn,
    inertia,
    slots_of,
    stiffness,
    warp_share,
    within,
)
from core.beam.free_strip import ACROSS, ALONG, MIXED, MODULI, SHEAR
from core.beam.functions import Aslant, Beside, Function, Warp, is_mixed
from core.beam.halves import half_of
from core.beam.mesh import Mesh
from core.beam.section import (
    Covered,
    Layers,
    Section,
    Strips,
    at_layouts,
    base_section,
    field_term,
    layers_at,
)
from core.beam.spec import BeamSpec
from core.beam.strip_law import BEND, E0, WARP, StripLaw
from core.beam.warping import Warping, warping

Array = NDArray[np.float64]

SQUARE = 2
"""Place of z^2 among the moments."""


@lru_cache(maxsize=32)
def with_base_functions(spec: BeamSpec, base: Mesh, functions: tuple[Function, ...]) -> Section:
    """The part without patches, on its own mesh, with what further functions do in it; remembered."""
    bare = base_section(spec, base)
    if not functions:
        return bare
    whole = np.nonzero(np.ones(base.segment.shape, dtype=bool))
    return replace(bare, further=_Sums(spec, base, bare, whole, None, functions).made())


def with_functions(
    spec: BeamSpec, mesh: Mesh, section: Section, functions: tuple[Function, ...], strips: Strips | None,
    nominal: BeamSpec, base: Mesh,
) -> Section:  # fmt: skip
    """The section of layouts with what further functions do in it: worked out where a package lies, ends, or is
    felt; elsewhere it is the part's own."""
    if spec.stacked:
        return replace(section, further=everywhere(spec, mesh, section, functions, strips))
    felt = mesh.of_base < 0
    if section.covered is not None:
        felt[section.covered.index] = True
    for function in functions:
        if function.reach_m is not None:
            felt |= within(mesh.middle_m, function.reach_m)
    index = np.nonzero(felt)
    part = _Sums(spec, mesh, section, index, strips, functions).made()
    own = tuple(f for f in functions if f.reach_m is None)
    bare = with_base_functions(nominal, base, own).further
    assert bare is not None
    return replace(section, further=_put(part, bare, mesh.of_base, index))


def everywhere(
    spec: BeamSpec, mesh: Mesh, section: Section, functions: tuple[Function, ...], strips: Strips | None
) -> FurtherSection:
    """What further functions do in every element of a mesh, worked out in each."""
    shape = mesh.segment.shape
    made = _Sums(spec, mesh, section, np.nonzero(np.ones(shape, dtype=bool)), strips, functions).made()
    return made.mapped(lambda v: v.reshape(*shape, *v.shape[1:]))


def _put(part: FurtherSection, bare: FurtherSection, of_base: NDArray[np.intp], index: tuple[NDArray[np.intp], ...]) -> FurtherSection:
    """Values of some elements in the place of the bare part's; functions it has not are nothing there."""
    values: dict[str, Any] = {}
    for name, new in part.arrays().items():
        old = getattr(bare, name)
        grown = np.zeros((len(old), *new.shape[1:]))
        grown[(*(slice(n) for n in old.shape[:-1]), slice(None))] = old
        whole = grown[of_base]
        whole[index] = new
        values[name] = whole
    return replace(part, **values)


class _Sums:
    """Of the elements `index` of a mesh, n of them in a row."""

    def __init__(
        self, spec: BeamSpec, mesh: Mesh, section: Section, index: tuple[NDArray[np.intp], ...],
        strips: Strips | None, functions: tuple[Function, ...],
    ) -> None:  # fmt: skip
        self.section, self.strips, self.functions, self.index = section, strips, functions, index
        segment, lead = mesh.segment[index], index[:-1]
        # Where nothing varies along an element, one point tells of all: every array then has one in its last axis.
        even = spec.is_even and not any(isinstance(f, Aslant) for f in functions)
        self.points = slice(1) if even else slice(None)
        self.x_m = mesh.x_m[index][:, self.points]
        self.layers = layers_at(spec, self.x_m, segment, lead)
        at = (*lead, segment) if spec.stacked else (segment,)
        n, lanes = self.layers.strips.width_m.shape[:2]
        layers = self.layers.moments.shape[1]
        self.moduli = np.swapaxes(spec.stiffness_rows[at].reshape(n, lanes, MODULI, layers), -1, -2)
        self.density = spec.density_rows[at]
        self.warp = _warping_of(self.layers, self.moduli) if any(isinstance(f, Warp) for f in functions) else None
        self.moments = self.layers.moments
        if self.warp is not None:
            self.moments = np.concatenate([self.layers.moments, self.warp.moments], axis=-2)
        # Heights count from the bare part's own neutral axis: where Y(y) bends strips, it is that surface that does not
        # stretch with them (in plane the part is stiff), not the underside.
        axial, first, _ = self.layers.strips.stiffness
        self.reference = np.divide(first, axial, out=np.zeros_like(first), where=axial > 0.0)
        self.moments = about(self.moments, self.reference[:, None, :])
        self.bows = any(f.bows for f in functions)
        self.shape = mesh.segment.shape

    def made(self) -> FurtherSection:
        lanes = sums_of(self.moduli, self.moments)
        width = self.layers.strips.width_m
        dense = sums_of(self.density[..., None], self.moments)[..., 0, :, :]
        shear = None if self.warp is None else self.warp.stiffness
        length, share = None, None
        if self.warp is not None:
            free = StripLaw(lanes, bows=False, warps=np.zeros(()))
            length = _warping_length(_added(free, width), self.warp.stiffness)
            share = warp_share(width.sum(axis=-2), length)[..., None, :]
        turning = (dense * width[..., None, :]).sum(axis=-3)
        inner, outer, of = self._cut(width)
        both, weights, fold = lanes[:, of], dense[:, of, 0], 2.0
        if is_mixed(self.functions):
            both, weights = (np.concatenate([v[:, ::-1], v], axis=1) for v in (both, weights))
            inner, outer = np.concatenate([-outer[:, ::-1], inner], axis=1), np.concatenate([-inner[:, ::-1], outer], axis=1)
            fold = 1.0
        shapes = Shapes(self.functions, inner, outer, self.index[:-1], self.x_m, fold)
        whole = stiffness(self.functions, StripLaw(both, bows=self.bows, warps=share), shapes, shear)
        mass = inertia(self.functions, weights, shapes)
        covered = None
        at = self.section.covered
        if at is not None and self.strips is not None:
            covered = self._cover(at, self.strips, whole, mass, turning, length, dense, lanes)
        return self._joined(whole, mass, turning, covered)

    def _cut(self, width: Array) -> tuple[Array, Array, NDArray[np.intp]]:
        """(n, s, q) inner and outer |y| of the lanes cut where a shape's curvature jumps, and (s,) which lane each part is of."""
        outer = 0.5 * np.cumsum(width, axis=-2)
        inner, of = outer - 0.5 * width, np.arange(width.shape[-2])
        for function in self.functions:
            if isinstance(function, Beside):
                side = function.side_m[self.index[:-1]][:, None, None] if function.side_m.ndim else function.side_m
                at = np.clip(side, inner, outer)
                inner, outer = np.concatenate([inner, at], axis=-2), np.concatenate([at, outer], axis=-2)
                of = np.concatenate([of, of])
        return inner, outer, of

    def _cover(
        self, at: Covered, strips: Strips, whole: Array, mass: Array, turning: Array, length: Array | None, dense: Array, lanes: Array
    ) -> CoveredStrips:
        """Put the strips under packages in the place of the lanes."""
        place = np.full(self.shape, -1)
        place[self.index] = np.arange(len(self.index[0]))
        rows = place[at.index]
        lead, n = at.index[:-1], len(rows)
        own = lanes[rows]
        sheets = self._sheet_moments(at, at.top_m[..., self.points], rows, strips)
        outer, width = (v[..., self.points] for v in (at.outer_m, at.strips.width_m))
        sums = (at.lane @ own.reshape(*own.shape[:2], -1)).reshape(n, -1, MODULI, *own.shape[-2:])
        stiff = at_layouts(strips.stiffness_pa, lead, 2)[..., None, None] * sheets[:, :, None]
        field = at_layouts(field_term(strips), lead, 2)
        stiff[:, :, [ALONG, MIXED, ACROSS], SQUARE] += field[..., None]
        sums = sums + (at.there @ stiff.reshape(*stiff.shape[:2], -1)).reshape(sums.shape)
        if strips.skew is not None:
            skew = at_layouts(strips.skew[..., :2], lead, 2)[..., None, None] * sheets[:, :, None]
            aslant = (at.there @ skew.reshape(*skew.shape[:2], -1)).reshape(*sums.shape[:2], 2, *sums.shape[3:])
            sums = np.concatenate([sums, aslant], axis=2)
        share, top, shear = None, None, None
        if self.warp is not None:
            assert length is not None
            top, shear = self.warp.top[rows], self.warp.stiffness[rows]
            solid = strips.thickness_m.reshape(-1, strips.thickness_m.shape[-1]).any(axis=0)
            bonded = np.asarray(at.there[..., solid].any(axis=-1))[..., None]
            if at.edge_m is None:
                under = 2.0 * (outer * bonded).max(axis=-2, keepdims=True)
            else:
                under = (width * bonded).sum(axis=-2, keepdims=True)
            wide = width.sum(axis=-2, keepdims=True)
            share = warp_share(np.where(bonded, under, wide), length[rows][..., None, :])
        law = StripLaw(sums, bows=self.bows, warps=share)
        inner, fold = at.inner_m[..., self.points], 2.0 if at.edge_m is None else 1.0
        shapes = Shapes(self.functions, inner, outer, lead, self.x_m[rows], fold)
        whole[rows] = stiffness(self.functions, law, shapes, shear)
        with np.errstate(divide="ignore", invalid="ignore"):
            density = np.nan_to_num(strips.mass_width / (2.0 * (strips.outer_m - strips.inner_m)))
        own = (at_layouts(density, lead, 1)[..., None, None] * sheets).reshape(*sheets.shape[:2], -1)
        added = (at.there @ own).reshape(n, -1, *sheets.shape[-2:])
        here = dense[rows]
        total = (at.lane @ here.reshape(*here.shape[:2], -1)).reshape(added.shape) + added
        mass[rows] = inertia(self.functions, total[..., 0, :], shapes)
        turning[rows] = (total * width[..., None, :]).sum(axis=-3)
        turn = Turn.of(whole[rows]) if is_mixed(self.functions) else None
        return CoveredStrips(law, shapes, self.reference[rows], top, turn)

    def _sheet_moments(self, at: Covered, at_top: Array, rows: NDArray[np.intp], strips: Strips) -> Array:
        """(n, k, M, q) moments of the sheets; F stays what it is at the face."""
        lead = at.index[:-1]
        t, mid = (at_layouts(v, lead, 1)[..., None] for v in (strips.thickness_m, strips.mid_m))
        z = strips.on_top[:, None] * at_top[:, None, :] + mid
        parts = [t + 0.0 * z, t * z, t * (z * z + t * t / 12.0)]
        if self.warp is not None:
            f = strips.on_top[:, None] * self.warp.top[rows][:, None, :]
            parts += [f * parts[0], f * parts[1], f * f * parts[0]]
        return about(np.stack(np.broadcast_arrays(*parts), axis=-2), self.reference[rows][:, None, :])

    def _joined(self, whole: Array, mass: Array, turning: Array, covered: CoveredStrips | None) -> FurtherSection:
        if is_mixed(self.functions):
            whole = Turn.of(whole).out_of(whole)
        axial = whole[..., 0, 0, :]
        inverse = np.divide(1.0, axial, out=np.zeros_like(axial), where=axial > 0.0)
        row = whole[..., 0, 1:, :]
        rest = whole[..., 1:, 1:, :] - row[..., :, None, :] * (row * inverse[..., None, :])[..., None, :, :]
        bending, coupling = rest[..., 0, 0, :], rest[..., 0, 1:, :]
        lean = coupling / np.where(bending > 0.0, bending, np.inf)[..., None, :]
        rows, columns = half_of(lean.shape[-2])
        own = rest[..., 1 + rows, 1 + columns, :] - coupling[..., rows, :] * lean[..., columns, :]
        membrane = -row * inverse[..., None, :]
        count = len(self.functions)
        rotary = turned = None
        own_mass, beside = mass[..., :count, :].copy(), mass[..., count, :]
        if self.warp is not None:
            rotary, turned = self._rotary(membrane, turning, own_mass)
        return FurtherSection(
            functions=self.functions, bending=bending, axial=axial, neutral_axis_m=membrane[..., 0, :],
            membrane=membrane[..., 1:, :], coupling=coupling, own=own, beside=beside,
            own_mass=own_mass, rotary=rotary, turned=turned,
            shear_layers=None if self.warp is None else self.warp.layers, covered=covered,
        )  # fmt: skip

    def _rotary(self, membrane: Array, turning: Array, own_mass: Array) -> tuple[Array, Array]:
        """Inertia of (-(z - z_n) w' + (F - F0) g): of the slope, of it with g, and of g into `own_mass`."""
        place = next(i for i, f in enumerate(self.functions) if isinstance(f, Warp))
        slot = slots_of(self.functions).of(place)[0]
        zn, f0 = membrane[..., 0, :], -membrane[..., 1 + slot, :]
        m, z, zz, f, zf, ff = (turning[..., i, :] for i in range(6))
        own_mass[..., place, place, :] = ff - 2.0 * f0 * f + f0 * f0 * m
        turned = np.zeros((*own_mass.shape[:-3], len(self.functions), own_mass.shape[-1]))
        turned[..., place, :] = -(zf - f0 * z - zn * f + zn * f0 * m)
        return zz - 2.0 * zn * z + zn * zn * m, turned


def _warping_of(layers: Layers, q: Array) -> Warping:
    """F of the bare part: moduli (n, lanes, L, 5) of each layer free across by itself, pieces side by side adding."""
    along, mixed, across = q[..., ALONG], q[..., MIXED], q[..., ACROSS]
    own = along - np.divide(mixed * mixed, across, out=np.zeros_like(mixed), where=across > 0.0)
    width = layers.strips.width_m
    both = (np.swapaxes(v, -1, -2) @ width for v in (own, q[..., SHEAR]))
    return warping(layers.moments[..., 0, :], *both)


def warping_of(spec: BeamSpec, x: Array, segment: NDArray[np.intp]) -> tuple[Array, Array]:
    """(n, q) length over which the bare part's warping dies away, and EI over its stiffness in shear [m^2], at x (n, q)
    in segments (n,)."""
    layers = layers_at(spec, x, segment)
    n, lanes = layers.strips.width_m.shape[:2]
    moduli = np.swapaxes(spec.stiffness_rows[segment].reshape(n, lanes, MODULI, -1), -1, -2)
    warp = _warping_of(layers, moduli)
    sums = sums_of(moduli, np.concatenate([layers.moments, warp.moments], axis=-2))
    a = _added(StripLaw(sums, bows=False, warps=np.zeros(())), layers.strips.width_m)
    length = _warping_length(a, warp.stiffness)
    # In the shear angle of the rotation, beta g, the stiffness is S = S_g/beta^2.
    beta = np.divide(a[1], a[0], out=np.zeros_like(a[0]), where=a[0] > 0.0)
    return length, np.divide(beta**2 * a[0], warp.stiffness, out=np.zeros_like(length), where=warp.stiffness > 0.0)


def sums_of(values: Array, moments: Array) -> Array:
    """(..., e, lanes, C, M, q) sums over the layers of values (..., e, lanes, L, C) times moments (..., e, L, M, q)."""
    lanes, layers, kinds = values.shape[-3:]
    m, q = moments.shape[-2:]
    rows = np.swapaxes(values, -1, -2).reshape(*values.shape[:-3], lanes * kinds, layers)
    flat = rows @ moments.reshape(*moments.shape[:-3], layers, m * q)
    return flat.reshape(*flat.shape[:-2], lanes, kinds, m, q)


def about(moments: Array, height: Array) -> Array:
    """Moments (..., M, q) of 1, z, z^2 and, where they are there, F, z F, F^2, about a height (..., q)."""
    out = moments.copy()
    one, first = moments[..., 0, :], moments[..., 1, :]
    out[..., 1, :] -= height * one
    out[..., 2, :] -= height * (2.0 * first - height * one)
    if moments.shape[-2] > 3:
        out[..., 4, :] -= height * moments[..., 3, :]
    return out


def _added(law: StripLaw, width: Array) -> tuple[Array, Array, Array]:
    """(..., q) stiffness against w0'', between it and g', and against g', without axial force."""
    a = {(i, j): (law(i, j) * width).sum(axis=-2) for i in (E0, BEND, WARP) for j in (E0, BEND, WARP) if i <= j}
    with np.errstate(divide="ignore", invalid="ignore"):
        ww = a[BEND, BEND] - a[E0, BEND] ** 2 / a[E0, E0]
        wg = a[BEND, WARP] - a[E0, BEND] * a[E0, WARP] / a[E0, E0]
        gg = a[WARP, WARP] - a[E0, WARP] ** 2 / a[E0, E0]
    return np.nan_to_num(ww), np.nan_to_num(wg), np.nan_to_num(gg)


def _warping_length(added: tuple[Array, Array, Array], shear: Array) -> Array:
    """(..., q) lambda = sqrt(EI_Phi/S)."""
    ww, wg, gg = added
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.sqrt(np.nan_to_num(np.maximum((gg - wg * wg / ww) / shear, 0.0)))
