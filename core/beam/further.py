"""Further functions of x beside the centreline's deflection: the section's warping, functions across.

Each is a polynomial of `DEGREE` (`core.beam.function_shapes`) over the elements of the mesh, continuous at their ends with its value
(order 1) or with value and slope (order 2): unknowns at the boundaries, and bubbles inside whose highest derivative is a
Legendre polynomial. Their strain energy, the centreline's bending moment given, is a matrix of blocks along
the span (`core.beam.further_energy`); its Cholesky factor L turns unknowns v into z = L^T v in which the energy is half the squared length, as it is
for the bending moments (`core.beam.bending`).

Leading axes are layouts. A vector of unknowns is (..., k, n): block by block the unknowns at a boundary and the bubbles
of the element behind it, last the unknowns at the far end. Over an element shorter than `SHORTEST` of the span the
functions stay what they are: a sliver would cost the blocks their digits (`core.beam.mesh` leaves few).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.axes import ahead_last, each_ahead, last_ahead
from core.beam.function_shapes import Table
from core.beam.gauss import flattened
from core.beam.loose import Loose
from core.beam.mesh import Mesh
from core.beam.narrowed import Narrowed
from core.beam.orthonormal import orthonormal_moves

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Inertia:
    """Of the functions' values, times the integration weight: beside (..., e, F, q) with the deflection, own (..., e, F,
    F, q) with each other, turned (..., e, q) of the warping, which function that is, with the slope (None without)."""

    beside: Array
    own: Array
    turned: Array | None
    warp: int = 0

    @cached_property
    def per_value(self) -> Array:
        """(..., e, q, F, F + 1), or (..., F + 2): forces on the functions, on the deflection and, with `turned`, moments on the
        slope, per value of each."""
        parts = [self.own, self.beside[..., None, :]]
        if self.turned is not None:
            turned = np.zeros_like(parts[1])
            turned[..., self.warp, 0, :] = self.turned
            parts.append(turned)
        return np.ascontiguousarray(last_ahead(np.concatenate(parts, axis=-2)))

    def on(self, values: Array) -> tuple[Array, Array, Array | None]:
        """Forces on the functions (..., k, e, F, q), on the deflection and moments on the slope (..., k, e, q), of values
        (..., e, q, k, n) of the first n functions."""
        count = self.own.shape[-2]
        found = values @ self.per_value[..., : values.shape[-1], :]
        found = np.ascontiguousarray(each_ahead(found))
        return found[..., :count, :], found[..., count, :], None if self.turned is None else found[..., count + 1, :]


@dataclass(frozen=True, eq=False)
class Further:
    """Functions on a mesh with their energy factored. Made by `further_of`.

    A window (..., e, k, m) holds what the unknowns of each element make of its shapes. scale : (..., e, m) of unknowns
    to windows; length : (..., e) of elements; weighed : inertia times the integration weight; diagonal : per boundary inverse Cholesky factors (..., stride, stride) or
    (..., block, block) for the last; below : (..., block, stride) what a load there leaves for the next boundary, with
    the sign turned.
    """

    mesh: Mesh
    table: Table
    scale: Array
    length: Array
    diagonal: tuple[Array, ...]
    below: tuple[Array, ...]
    bend: Array
    """(..., e, m, q) curvature of the centreline per window at the points, its bending moment unchanged."""
    weighed: Inertia
    value: Array
    """(m, F * q) of the functions at the points per window."""
    loose: Loose | None = None
    """In place of all factors: rows are then loads on every element's unknowns, until it is `narrowed`."""

    @property
    def size(self) -> int:
        """Unknowns of all; loose, those of every element by itself."""
        if self.loose is not None:
            return self.length.shape[-1] * self.table.size
        return self.length.shape[-1] * self.table.stride + self.table.block

    @property
    def functions(self) -> int:
        return len(self.table.slots.orders)

    @cached_property
    def _per_strain(self) -> Array:
        """(..., e, R) of derivatives by s those by x."""
        return np.asarray(self.length[..., None] ** -self.table.slots.derivatives)

    def solve_lower(self, loads: Array) -> Array:
        """(..., k, n) z of loads (..., k, n) on v: L z = load."""
        if self.loose is not None:
            return loads
        t, out, carried = self.table, np.empty_like(loads), None
        for i, inverse in enumerate(self.diagonal):
            start = i * t.stride
            own = loads[..., start : start + inverse.shape[-1]]
            if carried is not None:
                own = own.copy()
                own[..., : t.block] -= carried
            np.matmul(own, np.swapaxes(inverse, -1, -2), out=out[..., start : start + inverse.shape[-1]])
            if i < len(self.below):
                carried = own @ np.swapaxes(self.below[i], -1, -2)
        return out

    def solve_upper(self, z: Array) -> Array:
        """(..., k, n) v of z: L^T v = z."""
        t, out, later = self.table, np.empty_like(z), None
        for i in range(len(self.diagonal) - 1, -1, -1):
            inverse, start = self.diagonal[i], i * t.stride
            v = z[..., start : start + inverse.shape[-1]] @ inverse
            if later is not None:
                v -= later @ self.below[i]
            out[..., start : start + inverse.shape[-1]] = v
            later = v[..., : t.block]
        return out

    def _windows(self, v: Array) -> Array:
        """(..., e, k, m) unknowns of each element, scaled to shapes."""
        t, e = self.table, self.length.shape[-1]
        inner = v[..., : e * t.stride].reshape(*v.shape[:-1], e, t.stride)
        ends = v[..., t.stride :]
        ends = np.concatenate([inner[..., 1:, : t.block], ends[..., None, -t.block :]], axis=-2)
        window = np.concatenate([inner, ends], axis=-1)
        return np.swapaxes(window, -2, -3) * self.scale[..., None, :]

    def _gathered(self, window: Array) -> Array:
        """(..., k, n) loads on v from those on each element's unknowns (..., e, k, m), scaled."""
        t, e = self.table, self.length.shape[-1]
        window = np.swapaxes(window * self.scale[..., None, :], -2, -3)
        if self.loose is not None:
            return window.reshape(*window.shape[:-2], e * t.size)
        inner = np.zeros((*window.shape[:-1], t.stride))
        inner[...] = window[..., : t.stride]
        inner[..., 1:, : t.block] += window[..., :-1, t.stride :]
        flat = inner.reshape(*inner.shape[:-2], e * t.stride)
        return np.concatenate([flat, window[..., -1, t.stride :]], axis=-1)

    def narrowed(self, start: Array, others: Array) -> tuple[Narrowed, Array]:
        """With no unknowns left but what loads on v (..., k, n) move: `start`, which do not depend on each other, and
        `others`, which may; and all of these loads in the unknowns left."""
        assert self.loose is not None
        loads = np.concatenate([start, others], axis=-2)
        each = loads.reshape(*loads.shape[:-1], *self.scale.shape[-2:])
        moved = self.loose.solved(np.ascontiguousarray(ahead_last(each)), self.table)
        flat = np.ascontiguousarray(last_ahead(moved)).reshape(loads.shape)
        kept = orthonormal_moves(loads, flat, start.shape[-2])
        window = np.swapaxes(kept.reshape(each.shape), -2, -3) * self.scale[..., None, :]
        return self._narrowed(window), loads @ np.swapaxes(kept, -1, -2)

    def _narrowed(self, basis: Array) -> Narrowed:
        values = self._values(basis)
        forces, push, turn = self.weighed.on(values)
        values = np.ascontiguousarray(each_ahead(values))
        flat, heavy = (v.reshape(*v.shape[:-3], -1) for v in (values, forces))
        return Narrowed(self, basis, self.curvature(basis), values, push, turn, flat @ np.swapaxes(heavy, -1, -2))

    def window(self, z: Array) -> Array:
        """(..., e, k, m) windows of z (..., k, n)."""
        return self._windows(self.solve_upper(z))

    def curvature(self, window: Array) -> Array:
        """(..., k, e, q) what they bend the centreline by."""
        return np.swapaxes(window @ self.bend, -2, -3)

    def values(self, window: Array) -> Array:
        """(..., k, e, F, q) of the functions at the points."""
        return each_ahead(self._values(window))

    def _values(self, window: Array) -> Array:
        """(..., e, q, k, F)"""
        found = (window @ self.value).reshape(*window.shape[:-1], self.functions, self.bend.shape[-1])
        return np.ascontiguousarray(last_ahead(found))

    def inertia(
        self, deflection: Array, slope: Array, window: Array | None, besides: Array | None = None
    ) -> tuple[Array, Array | None, Array]:
        """Forces on the deflection and moments on the slope (..., k, e, q), and loads on windows, of a unit
        acceleration along motions and of forces on the values (..., k, e, F, q) besides. Without windows the first two are
        nothing."""
        own = self.weighed
        forces = own.beside[..., None, :, :, :] * deflection[..., None, :]
        if own.turned is not None:
            forces[..., own.warp, :] += own.turned[..., None, :, :] * slope
        if besides is not None:
            forces += besides
        if window is None:
            return np.zeros(()), None, self.pushed(forces)
        pushed, force, moment = own.on(self._values(window))
        forces += pushed
        return force, moment, self.pushed(forces)

    def pushed(self, values: Array) -> Array:
        """(..., e, k, m) loads on windows of forces on the values (..., k, e, F, q)."""
        flat = np.swapaxes(values.reshape(*values.shape[:-2], self.value.shape[-1]), -2, -3)
        return np.asarray(flat @ self.value.T)

    def rows(
        self, bend: Array, window: Array | None = None, values: Array | None = None, strains: Array | None = None
    ) -> Array:
        """(..., k, n) z of loads: what counts the curvature they give (..., k, e, q), loads on windows, forces on the
        values (..., k, e, F, q), and what counts every strain (..., k, e, R, q)."""
        found = np.swapaxes(bend, -2, -3) @ np.swapaxes(self.bend, -1, -2)
        if window is not None:
            found += window
        if values is not None:
            found += self.pushed(values)
        if strains is not None:
            found += self.from_strains(strains)
        return self.solve_lower(self._gathered(found))

    def strains(self, z: Array, s: Array | None = None) -> Array:
        """(..., k, e, R, q) strains at the points, or at parameters s of every element."""
        return self.strains_of(self.window(z), s)

    def strains_of(self, window: Array, s: Array | None = None) -> Array:
        """The same of windows."""
        s = self.mesh.rule.s if s is None else s
        found = (window @ self.table.strains(s)).reshape(*window.shape[:-1], -1, len(s))
        return np.swapaxes(found * self._per_strain[..., None, :, None], -4, -3)

    def from_strains(self, strains: Array) -> Array:
        """(..., e, k, m) loads on windows from loads on strains (..., k, e, R, q) at the points."""
        own = np.swapaxes(strains, -4, -3) * self._per_strain[..., None, :, None]
        return flattened(own) @ self.table.strains(self.mesh.rule.s).T
