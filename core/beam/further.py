"""Further functions of x beside the centreline's deflection: the section's warping, functions across.

Each is a polynomial of `DEGREE` over the elements of the mesh, continuous at their ends with its value
(order 1) or with value and slope (order 2): unknowns at the boundaries, and bubbles inside whose highest derivative is a
Legendre polynomial. Their strain energy, the centreline's bending moment given, is a matrix of blocks along
the span; its Cholesky factor L turns unknowns v into z = L^T v in which the energy is half the squared length, as it is
for the bending moments (`core.beam.bending`).

Leading axes are layouts. A vector of unknowns is (..., k, n): block by block the unknowns at a boundary and the bubbles
of the element behind it, last the unknowns at the far end. Over an element shorter than `SHORTEST` of the span the
functions stay what they are: a sliver would cost the blocks their digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from core.beam.chain import inverse_root, solve_chain
from core.beam.gauss import Rule, flattened, rule
from core.beam.halves import half_of, in_half
from core.beam.mesh import Mesh
from core.beam.orthonormal import orthonormal_moves

Array = NDArray[np.float64]

DEGREE = 5
"""Of functions with a slope; of the others one less."""
SHORTEST = 1e-4
APART = 1e-14
DOUBTFUL_APART = 1e-12
"""Of its own energy, added to each unknown's, so that rounding leaves energies positive: little more than rounding, for in a
short element the unknown's own energy is large, and what is added holds the function there as a spring to ground would.
More for a function that may be one with another (bending beside a patch as wide as the part): it shares between
them."""


@dataclass(frozen=True)
class Slots:
    """Where the derivatives of each function stand in a list of strains: highest first, the value last."""

    orders: tuple[int, ...]

    @property
    def count(self) -> int:
        return sum(order + 1 for order in self.orders)

    def of(self, function: int) -> list[int]:
        start = sum(order + 1 for order in self.orders[:function])
        return list(range(start, start + self.orders[function] + 1))

    @property
    def values(self) -> list[int]:
        return [self.of(i)[-1] for i in range(len(self.orders))]


@dataclass(frozen=True, eq=False)
class Table:
    """Unknowns of one element, (m,), and what they do.

    own : per function the places of its unknowns in the element's. block : size of a boundary's block. stride : of a
    boundary and the bubbles behind it. slope : (m,) 1 where the unknown is a slope.
    """

    slots: Slots
    degree: int
    own: tuple[NDArray[np.intp], ...]
    block: int
    stride: int
    slope: NDArray[np.bool_]

    @property
    def size(self) -> int:
        return self.stride + self.block

    def at(self, s: Array) -> tuple[Array, ...]:
        """Per function (unknowns, order + 1, len(s)) of derivatives by s, highest first."""
        places = tuple(s.tolist())
        return tuple(_shapes(order, degree_of(order, self.degree), places) for order in self.slots.orders)


def degree_of(order: int, degree: int) -> int:
    return degree + order - 2


@lru_cache(maxsize=32)
def table_of(orders: tuple[int, ...], degree: int = DEGREE) -> Table:
    """The element's unknowns for functions of these orders."""
    block = sum(orders)
    bubbles = sum(degree_of(order, degree) + 1 - 2 * order for order in orders)
    stride = block + bubbles
    own, slope = [], np.zeros(stride + block, dtype=bool)
    node, bubble = 0, block
    for order in orders:
        inside = degree_of(order, degree) + 1 - 2 * order
        first, last = list(range(node, node + order)), list(range(stride + node, stride + node + order))
        own.append(np.array([*first, *last, *range(bubble, bubble + inside)], dtype=np.intp))
        if order == 2:
            slope[[first[1], last[1]]] = True
        node, bubble = node + order, bubble + inside
    return Table(Slots(orders), degree, tuple(own), block, stride, slope)


@lru_cache(maxsize=64)
def _products(order: int, other: int, degree: int, points: int | None) -> Array:
    """(strains * strains * points, unknowns * unknowns) of the shapes of two functions, times the weights of the points; for
    None of their integral."""
    r = rule(degree + 1 if points is None else points)
    left, right = (_shapes(each, degree_of(each, degree), tuple(r.s.tolist())) for each in (order, other))
    weighed = "q,iaq,jbq->abij" if points is None else "q,iaq,jbq->abqij"
    return np.einsum(weighed, r.weight, left, right).reshape(-1, len(left) * len(right))


@lru_cache(maxsize=64)
def _shapes(order: int, degree: int, places: tuple[float, ...]) -> Array:
    """(degree + 1, order + 1, len(s)): both ends' unknowns, then bubbles; derivatives by s, highest first."""
    s = np.array(places)
    if order == 1:
        ends = np.array([[np.full_like(s, -1.0), 1.0 - s], [np.ones_like(s), s]])
    else:
        ends = np.array([
            [-6 + 12 * s, -6 * s + 6 * s**2, 1 - 3 * s**2 + 2 * s**3],
            [-4 + 6 * s, 1 - 4 * s + 3 * s**2, s - 2 * s**2 + s**3],
            [6 - 12 * s, 6 * s - 6 * s**2, 3 * s**2 - 2 * s**3],
            [-2 + 6 * s, -2 * s + 3 * s**2, -(s**2) + s**3],
        ])  # fmt: skip
    inner = []
    for k in range(order, degree + 1 - order):
        # P_k integrated `order` times from 0 vanishes at both ends with its slopes: P_k is orthogonal to lower powers.
        inner.append(np.stack([_integral(k, i, s) for i in range(order + 1)]))
    return np.concatenate([ends, np.array(inner).reshape(-1, order + 1, len(s))])


def _integral(k: int, times: int, s: Array) -> Array:
    poly = np.polynomial.Legendre.basis(k, domain=[0.0, 1.0])
    return np.asarray(poly.integ(times, lbnd=0.0)(s) if times else poly(s))


@dataclass(frozen=True)
class Inertia:
    """Of the functions' values, times the integration weight: beside (..., e, F, q) with the deflection, own (..., e, F,
    F, q) with each other, turned (..., e, F, q) with the slope (None without)."""

    beside: Array
    own: Array
    turned: Array | None

    @cached_property
    def per_value(self) -> Array:
        """(..., e, q, F, F + 1), or (..., F + 2): forces on the functions, on the deflection and, with `turned`, moments on the
        slope, per value of each."""
        parts = [self.own, self.beside[..., None, :]]
        if self.turned is not None:
            parts.append(self.turned[..., None, :])
        return np.ascontiguousarray(np.moveaxis(np.concatenate(parts, axis=-2), -1, -3))

    def on(self, values: Array) -> tuple[Array, Array, Array | None]:
        """Forces on the functions (..., k, e, F, q), on the deflection and moments on the slope (..., k, e, q), of values
        (..., e, q, k, n) of the first n functions."""
        count = self.own.shape[-2]
        found = values @ self.per_value[..., : values.shape[-1], :]
        found = np.ascontiguousarray(np.moveaxis(found, (-2, -1), (-4, -2)))
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
        moved = self.loose.solved(np.ascontiguousarray(np.moveaxis(each, -3, -1)), self.table)
        flat = np.ascontiguousarray(np.moveaxis(moved, -1, -3)).reshape(loads.shape)
        kept = orthonormal_moves(loads, flat, start.shape[-2])
        window = np.swapaxes(kept.reshape(each.shape), -2, -3) * self.scale[..., None, :]
        return self._narrowed(window), loads @ np.swapaxes(kept, -1, -2)

    def _narrowed(self, basis: Array) -> Narrowed:
        values = self._values(basis)
        forces, push, turn = self.weighed.on(values)
        values = np.ascontiguousarray(np.moveaxis(values, (-2, -1), (-4, -2)))
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
        return np.moveaxis(self._values(window), (-2, -1), (-4, -2))

    def _values(self, window: Array) -> Array:
        """(..., e, q, k, F)"""
        found = (window @ self.value).reshape(*window.shape[:-1], self.functions, self.bend.shape[-1])
        return np.ascontiguousarray(np.moveaxis(found, -1, -3))

    def inertia(self, deflection: Array, slope: Array, window: Array | None) -> tuple[Array, Array | None, Array]:
        """Forces on the deflection and moments on the slope (..., k, e, q), and loads on windows, of a unit
        acceleration along motions. Without windows the first two are nothing."""
        own = self.weighed
        forces = own.beside[..., None, :, :, :] * deflection[..., None, :]
        if own.turned is not None:
            forces += own.turned[..., None, :, :, :] * slope[..., None, :]
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
        out = np.zeros((*window.shape[:-1], self.table.slots.count, len(s)))
        for i, shape in enumerate(self.table.at(s)):
            found = window[..., self.table.own[i]] @ shape.reshape(len(shape), -1)
            found = found.reshape(*found.shape[:-1], shape.shape[1], len(s))
            out[..., self.table.slots.of(i), :] = found / self._lengths(i)[..., None, :, None]
        return np.swapaxes(out, -4, -3)

    def from_strains(self, strains: Array) -> Array:
        """(..., e, k, m) loads on windows from loads on strains (..., k, e, R, q) at the points."""
        strains = np.swapaxes(strains, -4, -3)
        out = np.zeros((*strains.shape[:-2], self.table.size))
        for i, shape in enumerate(self.table.at(self.mesh.rule.s)):
            own = strains[..., self.table.slots.of(i), :] / self._lengths(i)[..., None, :, None]
            out[..., self.table.own[i]] += own.reshape(*own.shape[:-2], own.shape[-2] * own.shape[-1]) @ shape.reshape(len(shape), -1).T
        return out

    def _lengths(self, function: int) -> Array:
        """(..., e, order + 1) powers of the length that go with the derivatives."""
        order = self.table.slots.orders[function]
        return self.length[..., None] ** np.arange(order, -1, -1)


@dataclass(frozen=True, eq=False)
class Narrowed:
    """Further functions with only a few unknowns left, r of them. To others it is as `Further`; what is a window there is
    (..., 1, k, r) of the unknowns themselves."""

    whole: Further
    basis: Array
    """(..., e, r, m) windows of the unknowns."""
    bend: Array
    """(..., r, e, q) what they bend the centreline by."""
    value: Array
    """(..., r, e, F, q)"""
    push: Array
    turn: Array | None
    """(..., r, e, q) their inertia against the deflection and the slope, None without."""
    own: Array
    """(..., r, r) and against each other."""
    lever: Array | None = None
    """(..., K, r) inertia of point masses off the centreline between the deflection there and the unknowns."""

    @property
    def size(self) -> int:
        return int(self.own.shape[-1])

    @property
    def functions(self) -> int:
        return self.whole.functions

    def window(self, z: Array) -> Array:
        return z[..., None, :, :]

    def curvature(self, window: Array) -> Array:
        return _spread(window[..., 0, :, :], self.bend)

    def values(self, window: Array) -> Array:
        z, shape = window[..., 0, :, :], self.value.shape
        return (z @ self.value.reshape(*shape[:-3], -1)).reshape(*z.shape[:-1], *shape[-3:])

    def inertia(self, deflection: Array, slope: Array, window: Array | None) -> tuple[Array, Array | None, Array]:
        loads = _read(deflection, self.push)
        if self.turn is not None:
            loads = loads + _read(slope, self.turn)
        if window is None:
            return np.zeros(()), None, loads[..., None, :, :]
        z = window[..., 0, :, :]
        moment = None if self.turn is None else _spread(z, self.turn)
        return _spread(z, self.push), moment, (loads + z @ self.own)[..., None, :, :]

    def rows(
        self, bend: Array, window: Array | None = None, values: Array | None = None, strains: Array | None = None
    ) -> Array:
        out = _read(bend, self.bend)
        if window is not None:
            out = out + window[..., 0, :, :]
        if values is not None:
            flat = self.value.reshape(*self.value.shape[:-3], -1)
            out = out + values.reshape(*values.shape[:-3], -1) @ np.swapaxes(flat, -1, -2)
        if strains is not None:
            loads = np.swapaxes(self.whole.from_strains(strains), -2, -3)
            out = out + flattened(loads) @ np.swapaxes(flattened(np.swapaxes(self.basis, -2, -3)), -1, -2)
        return out

    def strains(self, z: Array, s: Array | None = None) -> Array:
        flat = flattened(np.swapaxes(self.basis, -2, -3))
        window = (z @ flat).reshape(*z.shape[:-1], self.basis.shape[-3], self.basis.shape[-1])
        return self.whole.strains_of(np.swapaxes(window, -2, -3), s)


def _spread(z: Array, each: Array) -> Array:
    """(..., k, e, q) of unknowns (..., k, r) what each makes (..., r, e, q)."""
    return (z @ flattened(each)).reshape(*z.shape[:-1], *each.shape[-2:])


def _read(loads: Array, each: Array) -> Array:
    """(..., k, r) work of loads (..., k, e, q) along what each unknown makes."""
    return flattened(loads) @ np.swapaxes(flattened(each), -1, -2)


@dataclass(frozen=True)
class Stiffness:
    """Energy of strains r of further functions beside the centreline's bending moment M = EI k + d.r, per length:
    M^2/(2 EI) + (r.own r)/2. coupling d : (..., e, R, q); own : (..., e, H, q), one half."""

    coupling: Array
    own: Array


def further_of(
    mesh: Mesh, orders: tuple[int, ...], bending: Array, at: Stiffness, inertia: Inertia, held: NDArray[np.bool_],
    *, loose: bool = False, doubtful: Sequence[int] = (),
) -> Further:
    """Factor the energy of functions of these orders, or leave it `loose`; EI (..., e, q).

    doubtful : which functions may be one with another.

    held : (..., e + 1, block + bubbles) True where an unknown is zero, block by block (the bubbles behind the last
    boundary do not exist).
    """
    table, r = table_of(orders), mesh.rule
    least, jacobian = SHORTEST * float(mesh.bounds_m.max()), mesh.jacobian_m
    length, tied = np.maximum(mesh.length_m, least), mesh.length_m < least
    if tied.any():
        held, jacobian = _held_through(held, tied, table.block), np.where(tied[..., None], 0.0, jacobian)
    # Powers of the length that go with the derivatives, strain by strain.
    derivatives = np.concatenate([np.arange(order, -1.0, -1.0) for order in orders])
    powers, (rows, columns) = (length[..., None] ** -derivatives)[..., None], half_of(len(derivatives))
    lean = at.coupling * powers / np.where(bending > 0.0, bending, np.inf)[..., None, :]
    factor = powers[..., rows, :] * powers[..., columns, :]
    if mesh.arc is None:
        own = at.own * (factor * jacobian[..., None, :1])
    else:
        own = at.own * factor * jacobian[..., None, :]
    scale = np.where(table.slope, length[..., None] / (0.05 * mesh.bounds_m.max()), 1.0)
    free = np.where(held, 0.0, 1.0)
    scale = scale * np.concatenate([free[..., :-1, :], free[..., 1:, : table.block]], axis=-1)
    element, bend = _of_elements(table, r, own, lean)
    element *= scale[..., :, None] * scale[..., None, :]
    every, apart = np.arange(table.size), np.full(table.size, 1.0 + APART)
    for i in doubtful:
        apart[table.own[i]] = 1.0 + DOUBTFUL_APART
    element[..., every, every] *= apart
    if tied.any():
        bend[tied] = 0.0
    value = _values(table, r.s)
    if loose:
        return Further(mesh, table, scale, length, (), (), bend, inertia, value, loose=Loose(element, held, tied))
    diagonal, below = _factored(element, held, tied, table)
    return Further(mesh, table, scale, length, diagonal, below, bend, inertia, value)


@dataclass(frozen=True, eq=False)
class Loose:
    """Energy of the functions, not factored: elements (..., e, m, m) of unknowns v, held and tied as in `further_of`."""

    element: Array
    held: NDArray[np.bool_]
    tied: NDArray[np.bool_]

    def solved(self, loads: Array, table: Table) -> Array:
        """(..., e, m, k) unknowns of the elements of loads (..., e, m, k) on them. Bubbles are eliminated first, boundaries are a
        chain; at slivers the unknowns are left zero."""
        b, s, tied, held = table.block, table.stride, self.tied, self.held.astype(float)
        ends, inner = _ends(b, s), slice(b, s)
        inside = self.element[..., inner, inner].copy()
        bubbles = np.arange(s - b)
        inside[..., bubbles, bubbles] += np.maximum(held[..., :-1, inner], tied[..., None])
        beside, mine = self.element[..., ends, inner], loads[..., inner, :]
        root = inverse_root(inside)
        through, mine = beside @ np.swapaxes(root, -1, -2), root @ mine
        stiff = self.element[..., ends[:, None], ends] - through @ np.swapaxes(through, -1, -2)
        both = self._at_ends(stiff, loads[..., ends, :] - through @ mine, held[..., :b], b)
        out = np.empty_like(loads)
        out[..., inner, :] = np.swapaxes(root, -1, -2) @ (mine - np.swapaxes(through, -1, -2) @ both)
        out[..., ends, :] = both
        return out

    def _at_ends(self, stiff: Array, pushed: Array, fixed: Array, b: int) -> Array:
        """(..., e, 2 b, k) unknowns at both ends of the elements, of their stiffness and loads there."""
        shape, here = fixed.shape[:-1], ~self.tied
        own, rest = np.zeros((*shape, b, b)), np.zeros((*shape, b, pushed.shape[-1]))
        nodes = np.arange(b)
        if here.all():
            own[..., :-1, :, :] = stiff[..., :b, :b]
            own[..., 1:, :, :] += stiff[..., b:, b:]
            own[..., nodes, nodes] += fixed
            rest[..., :-1, :, :] = pushed[..., :b, :]
            rest[..., 1:, :, :] += pushed[..., b:, :]
            at = solve_chain(own, stiff[..., :b, b:], rest)
            return np.concatenate([at[..., :-1, :, :], at[..., 1:, :, :]], axis=-2)
        # Elements that are none have no place in the chain: the others are neighbours, and boundaries too many are held.
        index = np.nonzero(here)
        place = (*index[:-1], (np.cumsum(here, axis=-1) - 1)[index])
        after = (*place[:-1], place[-1] + 1)
        stiff, pushed = stiff[index], pushed[index]
        next_ = np.zeros((*here.shape, b, b))
        own[..., nodes, nodes] = 1.0
        own[place], own[after] = 0.0, 0.0
        own[place] += stiff[:, :b, :b]
        own[after] += stiff[:, b:, b:]
        next_[place] = stiff[:, :b, b:]
        rest[place] += pushed[:, :b]
        rest[after] += pushed[:, b:]
        held = np.zeros_like(fixed)
        held[place], held[after] = fixed[index], fixed[(*index[:-1], index[-1] + 1)]
        own[..., nodes, nodes] += held
        at = solve_chain(own, next_, rest)
        both = np.zeros((*here.shape, 2 * b, pushed.shape[-1]))
        both[index] = np.concatenate([at[place], at[after]], axis=-2)
        return both


@lru_cache(maxsize=32)
def _ends(block: int, stride: int) -> NDArray[np.intp]:
    """Places of both ends' unknowns in an element's."""
    return np.array([*range(block), *range(stride, stride + block)])


def _values(table: Table, s: Array) -> Array:
    """(m, F * q) of the functions per window."""
    out = np.zeros((table.size, len(table.own), len(s)))
    for i, shape in enumerate(table.at(s)):
        out[table.own[i], i] = shape[:, -1]
    return out.reshape(table.size, -1)


def _of_elements(table: Table, r: Rule, own: Array, lean: Array) -> tuple[Array, Array]:
    """Energy (..., e, m, m) of the elements' windows, and their `bend`. Strains carry the powers of the
    length. Functions of one order are worked out together, function by function, and put into the table's order last."""
    shapes, q, m = table.at(r.s), len(r.s), table.size
    lead, points = own.shape[:-2], None if own.shape[-1] == 1 and q > 1 else q
    groups, pairs, order = _groups(table.slots.orders, table.degree), *_pairs(table.slots.orders, table.degree)
    bend, parts = np.empty((*lead, m, q)), []
    for a in groups:
        left = shapes[a.functions.start]
        each = lean[..., a.strains, :].reshape(*lead, a.count, 1, a.order + 1, lean.shape[-1])
        bend[..., a.unknowns, :] = -(each * left).sum(axis=-2).reshape(*lead, a.count * len(left), q)
    for a, b, strains in pairs:
        part = np.take(own, strains, axis=-2).reshape(-1, (a.order + 1) * (b.order + 1) * own.shape[-1])
        found = part @ _products(a.order, b.order, table.degree, points)
        parts.append(found.reshape(*lead, -1))
    element = np.take(np.concatenate(parts, axis=-1), order, axis=-1)
    return element, np.take(bend, np.argsort(np.concatenate(table.own)), axis=-2)


@lru_cache(maxsize=32)
def _pairs(
    orders: tuple[int, ...], degree: int
) -> tuple[list[tuple[_Group, _Group, NDArray[np.intp]]], NDArray[np.intp]]:
    """Pairs of groups, each with where the strains of each two of its functions stand in one half of all; and (m, m) where
    the energy of two unknowns stands in what the pairs come to, one after the other."""
    groups, place = _groups(orders, degree), in_half(sum(order + 1 for order in orders))
    table = table_of(orders, degree)
    pairs, order, start = [], np.zeros((table.size, table.size), dtype=np.intp), 0
    for a in groups:
        for b in groups:
            if b.functions.start > a.functions.start:
                continue
            strains = place[a.strains, b.strains].reshape(a.count, a.order + 1, b.count, b.order + 1)
            pairs.append((a, b, np.swapaxes(strains, 1, 2).ravel()))
            for i in range(a.functions.start, a.functions.stop):
                for j in range(b.functions.start, b.functions.stop):
                    left, right = table.own[i], table.own[j]
                    at = start + np.arange(len(left) * len(right)).reshape(len(left), len(right))
                    order[np.ix_(left, right)], order[np.ix_(right, left)] = at, at.T
                    start += at.size
    return pairs, order


@dataclass(frozen=True)
class _Group:
    """Neighbouring functions of one order: which they are, their strains, their unknowns function by function."""

    order: int
    functions: slice
    strains: slice
    unknowns: slice

    @property
    def count(self) -> int:
        return int(self.functions.stop - self.functions.start)


@lru_cache(maxsize=32)
def _groups(orders: tuple[int, ...], degree: int) -> tuple[_Group, ...]:
    out, first, strain, unknown = [], 0, 0, 0
    for order, members in groupby(orders):
        n = len(list(members))
        strains, unknowns = n * (order + 1), n * (degree_of(order, degree) + 1)
        out.append(
            _Group(order, slice(first, first + n), slice(strain, strain + strains), slice(unknown, unknown + unknowns))
        )
        first, strain, unknown = first + n, strain + strains, unknown + unknowns
    return tuple(out)


def _held_through(held: NDArray[np.bool_], tied: NDArray[np.bool_], block: int) -> NDArray[np.bool_]:
    """What is zero at one end of a sliver is so at the other."""
    held, last = held.copy(), tied.shape[-1]
    for i in range(last):
        held[..., i + 1, :block] |= held[..., i, :block] & tied[..., i, None]
    for i in range(last - 1, -1, -1):
        held[..., i, :block] |= held[..., i + 1, :block] & tied[..., i, None]
    return held


def _factored(
    element: Array, held: NDArray[np.bool_], tied: NDArray[np.bool_], table: Table
) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
    """Inverse Cholesky factors on the diagonal and what each boundary leaves for the next; the near end of a sliver
    hands everything on."""
    diagonal, below = [], []
    carried: Array = np.zeros(())
    n, block, stride = element.shape[-3], table.block, table.stride
    ones = np.where(held, 1.0, 0.0)
    if tied.any():
        ones[..., :-1, block:] = np.where(tied[..., None], 1.0, ones[..., :-1, block:])
    for i in range(n + 1):
        size = stride if i < n else block
        own = np.zeros((*element.shape[:-3], size, size)) if i == n else element[..., i, :stride, :stride].copy()
        own[..., range(size), range(size)] += ones[..., i, :size]
        if i:
            own[..., :block, :block] += element[..., i - 1, stride:, stride:] - carried
        through = tied[..., i, None, None] if i < n else np.zeros((1, 1), dtype=bool)
        if through.any():
            free = np.where(through, np.eye(size), own)
            inverse = np.where(through, 0.0, np.linalg.inv(np.linalg.cholesky(free)))
        else:
            inverse = np.linalg.inv(np.linalg.cholesky(own))
        diagonal.append(inverse)
        if i == n:
            break
        lower = element[..., i, stride:, :stride] @ np.swapaxes(inverse, -1, -2)
        left, carried = lower @ inverse, lower @ np.swapaxes(lower, -1, -2)
        if through.any():
            left = np.where(through, -np.eye(block, stride), left)
            carried = np.where(through, -own[..., :block, :block], carried)
        below.append(left)
    return tuple(diagonal), tuple(below)
