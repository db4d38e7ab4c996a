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

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh

Array = NDArray[np.float64]

DEGREE = 5
SHORTEST = 1e-4


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
        return tuple(_shapes(order, self.degree, places) for order in self.slots.orders)


@lru_cache(maxsize=32)
def table_of(orders: tuple[int, ...], degree: int = DEGREE) -> Table:
    """The element's unknowns for functions of these orders."""
    block = sum(orders)
    bubbles = sum(degree + 1 - 2 * order for order in orders)
    stride = block + bubbles
    own, slope = [], np.zeros(stride + block, dtype=bool)
    node, bubble = 0, block
    for order in orders:
        inside = degree + 1 - 2 * order
        first, last = list(range(node, node + order)), list(range(stride + node, stride + node + order))
        own.append(np.array([*first, *last, *range(bubble, bubble + inside)], dtype=np.intp))
        if order == 2:
            slope[[first[1], last[1]]] = True
        node, bubble = node + order, bubble + inside
    return Table(Slots(orders), degree, tuple(own), block, stride, slope)


@lru_cache(maxsize=64)
def _products(order: int, other: int, degree: int, places: tuple[float, ...]) -> Array:
    """(strains * strains * len(s), unknowns * unknowns) of the shapes of two functions."""
    left, right = _shapes(order, degree, places), _shapes(other, degree, places)
    return np.einsum("iaq,jbq->abqij", left, right).reshape(-1, len(left) * len(right))


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


@dataclass(frozen=True, eq=False)
class Further:
    """Functions on a mesh with their energy factored. Made by `further_of`.

    scale : (..., e, m) of unknowns to shapes; length : (..., e) of elements. lean : (..., e, R, q) what the centreline curves
    per unit of each strain without a change of its bending moment, with the sign turned. diagonal : per boundary
    inverse Cholesky factors (..., stride, stride) or (..., block, block) for the last; below : (..., block, stride) what
    a load there leaves for the next boundary, with the sign turned.
    """

    mesh: Mesh
    table: Table
    scale: Array
    length: Array
    lean: Array
    diagonal: tuple[Array, ...]
    below: tuple[Array, ...]
    bend: Array
    """(..., e, m, q) curvature of the centreline per unknown at the points."""
    value: Array
    """(m, F * q) of the functions at the points, before the scale."""

    @property
    def size(self) -> int:
        """Unknowns of all."""
        return len(self.below) * self.table.stride + self.table.block

    @property
    def functions(self) -> int:
        return len(self.table.slots.orders)

    def solve_lower(self, loads: Array) -> Array:
        """(..., k, n) z of loads (..., k, n) on v: L z = load."""
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
        t, e = self.table, len(self.below)
        inner = v[..., : e * t.stride].reshape(*v.shape[:-1], e, t.stride)
        ends = v[..., t.stride :]
        ends = np.concatenate([inner[..., 1:, : t.block], ends[..., None, -t.block :]], axis=-2)
        window = np.concatenate([inner, ends], axis=-1)
        return np.swapaxes(window, -2, -3) * self.scale[..., None, :]

    def _gathered(self, window: Array) -> Array:
        """(..., k, n) loads on v from those on each element's unknowns (..., e, k, m), scaled."""
        t, e = self.table, len(self.below)
        window = np.swapaxes(window * self.scale[..., None, :], -2, -3)
        inner = np.zeros((*window.shape[:-1], t.stride))
        inner[...] = window[..., : t.stride]
        inner[..., 1:, : t.block] += window[..., :-1, t.stride :]
        flat = inner.reshape(*inner.shape[:-2], e * t.stride)
        return np.concatenate([flat, window[..., -1, t.stride :]], axis=-1)

    def move(self, z: Array) -> tuple[Array, Array]:
        """Of z (..., k, n): curvature they give the centreline (..., k, e, q), values (..., k, e, F, q)."""
        window = self._windows(self.solve_upper(z))
        q = self.lean.shape[-1]
        values = (window @ self.value).reshape(*window.shape[:-1], self.functions, q)
        return np.swapaxes(window @ self.bend, -2, -3), np.swapaxes(values, -4, -3)

    def rows(self, bend: Array, values: Array | None, strains: Array | None = None) -> Array:
        """(..., k, n) z of loads: what counts the curvature they give (..., k, e, q), forces on the values
        (..., k, e, F, q), and what counts every strain (..., k, e, R, q)."""
        window = np.swapaxes(bend, -2, -3) @ np.swapaxes(self.bend, -1, -2)
        if values is not None:
            flat = np.swapaxes(values.reshape(*values.shape[:-2], self.value.shape[-1]), -2, -3)
            window = window + flat @ self.value.T
        if strains is not None:
            window = window + self._from_strains(strains, self.mesh.rule.s)
        return self.solve_lower(self._gathered(window))

    def strains(self, z: Array, s: Array | None = None) -> Array:
        """(..., k, e, R, q) strains at the points, or at parameters s of every element."""
        window, s = self._windows(self.solve_upper(z)), self.mesh.rule.s if s is None else s
        out = np.zeros((*window.shape[:-1], self.table.slots.count, len(s)))
        for i, shape in enumerate(self.table.at(s)):
            found = window[..., self.table.own[i]] @ shape.reshape(len(shape), -1)
            found = found.reshape(*found.shape[:-1], shape.shape[1], len(s))
            out[..., self.table.slots.of(i), :] = found / self._lengths(i)[..., None, :, None]
        return np.swapaxes(out, -4, -3)

    def _from_strains(self, strains: Array, s: Array) -> Array:
        """(..., e, k, m) loads on the elements' unknowns from loads on strains (..., k, e, R, len(s))."""
        strains = np.swapaxes(strains, -4, -3)
        out = np.zeros((*strains.shape[:-2], self.table.size))
        for i, shape in enumerate(self.table.at(s)):
            own = strains[..., self.table.slots.of(i), :] / self._lengths(i)[..., None, :, None]
            out[..., self.table.own[i]] += own.reshape(*own.shape[:-2], own.shape[-2] * own.shape[-1]) @ shape.reshape(len(shape), -1).T
        return out

    def _lengths(self, function: int) -> Array:
        """(..., e, order + 1) powers of the length that go with the derivatives."""
        order = self.table.slots.orders[function]
        return self.length[..., None] ** np.arange(order, -1, -1)


@dataclass(frozen=True)
class Stiffness:
    """Energy of strains r of further functions beside the centreline's curvature k, per length:
    (EI k^2)/2 + k d.r + (r.own r)/2. coupling d : (..., e, R, q); own : (..., e, R, R, q)."""

    coupling: Array
    own: Array


def further_of(mesh: Mesh, orders: tuple[int, ...], bending: Array, at: Stiffness, held: NDArray[np.bool_], degree: int = DEGREE) -> Further:
    """Factor the energy of functions of these orders; EI (..., e, q).

    held : (..., e + 1, block + bubbles) True where an unknown is zero, block by block (the bubbles behind the last
    boundary do not exist).
    """
    table, r = table_of(orders, degree), mesh.rule
    least, weight = SHORTEST * float(mesh.bounds_m.max()), mesh.weight_m
    length, tied = np.maximum(mesh.length_m, least), mesh.length_m < least
    if tied.any():
        held, weight = _held_through(held, tied, table.block), np.where(tied[..., None], 0.0, weight)
    safe = np.where(bending > 0.0, bending, np.inf)
    lean = at.coupling / safe[..., None, :]
    own = at.own - at.coupling[..., :, None, :] * lean[..., None, :, :]
    shapes, q, places = table.at(r.s), len(r.s), tuple(r.s.tolist())
    scale = np.where(table.slope, length[..., None] / (0.05 * mesh.bounds_m.max()), 1.0)
    free = np.where(held, 0.0, 1.0)
    scale = scale * np.concatenate([free[..., :-1, :], free[..., 1:, : table.block]], axis=-1)
    element = np.zeros((*length.shape, table.size, table.size))
    bend = np.zeros((*length.shape, table.size, q))
    value = np.zeros((table.size, len(orders), q))
    powers = [length[..., None] ** -np.arange(order, -1.0, -1.0) for order in orders]
    for i, left in enumerate(shapes):
        a = table.slots.of(i)
        mine = -(lean[..., a, :] * powers[i][..., None])
        bend[..., table.own[i], :] = (mine[..., None, :, :] * left).sum(axis=-2)
        value[table.own[i], i] = left[:, -1]
        for j, right in enumerate(shapes[: i + 1]):
            b = table.slots.of(j)
            part = own[..., a, :, :][..., b, :] * (weight[..., None, None, :] * powers[i][..., :, None, None])
            part = part * powers[j][..., None, :, None]
            both = _products(orders[i], orders[j], degree, places)
            found = (part.reshape(*length.shape, -1) @ both).reshape(*length.shape, len(left), len(right))
            element[..., table.own[i][:, None], table.own[j]] = found
            if i != j:
                element[..., table.own[j][:, None], table.own[i]] = np.swapaxes(found, -1, -2)
    element *= scale[..., :, None] * scale[..., None, :]
    if tied.any():
        bend[tied] = 0.0
    diagonal, below = _factored(element, held, tied, table)
    return Further(mesh, table, scale, length, lean, diagonal, below, bend, value.reshape(table.size, -1))


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
