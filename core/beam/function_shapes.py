"""Shapes of further functions over one element: its unknowns, what each does to the strains, and the products of two."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from core.beam.gauss import rule
from core.beam.halves import in_half

Array = NDArray[np.float64]

DEGREE = 5
"""Of functions with a slope; of the others one less."""


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

    @cached_property
    def values(self) -> list[int]:
        return [self.of(i)[-1] for i in range(len(self.orders))]

    @cached_property
    def derivatives(self) -> Array:
        """(R,) which derivative each strain is."""
        return np.concatenate([np.arange(order, -1.0, -1.0) for order in self.orders])


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

    def strains(self, s: Array) -> Array:
        """(m, R * len(s)) of all derivatives by s, strain by strain."""
        return _strains(self.slots.orders, self.degree, s.tobytes())

    def values(self, s: Array) -> Array:
        """(m, F * len(s)) of the functions."""
        each = self.strains(s).reshape(self.size, self.slots.count, len(s))
        return each[:, self.slots.values].reshape(self.size, -1)

    @cached_property
    def order(self) -> NDArray[np.intp]:
        """(m,) place of every unknown where they stand function by function."""
        return np.argsort(np.concatenate(self.own))


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
def products_of(order: int, other: int, degree: int, points: int | None) -> Array:
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


@lru_cache(maxsize=64)
def _strains(orders: tuple[int, ...], degree: int, places: bytes) -> Array:
    table, s = table_of(orders, degree), np.frombuffer(places)
    out = np.zeros((table.size, table.slots.count, len(s)))
    for i, shape in enumerate(table.at(s)):
        out[table.own[i][:, None], np.array(table.slots.of(i))] = shape
    out.flags.writeable = False
    return out.reshape(table.size, -1)


@lru_cache(maxsize=32)
def pairs_of(
    orders: tuple[int, ...], degree: int
) -> tuple[list[tuple[Group, Group, NDArray[np.intp]]], NDArray[np.intp]]:
    """Pairs of groups, each with where the strains of each two of its functions stand in one half of all, two of one group
    once; and (m, m) where the energy of two unknowns stands in what the pairs come to, one after the other."""
    groups, place = groups_of(orders, degree), in_half(sum(order + 1 for order in orders))
    table = table_of(orders, degree)
    pairs, order, start = [], np.zeros((table.size, table.size), dtype=np.intp), 0
    for a in groups:
        for b in groups:
            if b.functions.start > a.functions.start:
                continue
            strains = np.swapaxes(place[a.strains, b.strains].reshape(a.count, a.order + 1, b.count, b.order + 1), 1, 2)
            once = np.tri(a.count, dtype=bool) if a is b else np.ones((a.count, b.count), dtype=bool)
            pairs.append((a, b, strains[once].ravel()))
            for i in range(a.functions.start, a.functions.stop):
                for j in range(b.functions.start, min(b.functions.stop, i + 1)):
                    left, right = table.own[i], table.own[j]
                    at = start + np.arange(len(left) * len(right)).reshape(len(left), len(right))
                    order[np.ix_(left, right)], order[np.ix_(right, left)] = at, at.T
                    start += at.size
    return pairs, order


@dataclass(frozen=True)
class Group:
    """Neighbouring functions of one order: which they are, their strains, their unknowns function by function."""

    order: int
    functions: slice
    strains: slice
    unknowns: slice

    @property
    def count(self) -> int:
        return int(self.functions.stop - self.functions.start)


@lru_cache(maxsize=32)
def groups_of(orders: tuple[int, ...], degree: int) -> tuple[Group, ...]:
    out, first, strain, unknown = [], 0, 0, 0
    for order, members in groupby(orders):
        n = len(list(members))
        strains, unknowns = n * (order + 1), n * (degree_of(order, degree) + 1)
        out.append(
            Group(order, slice(first, first + n), slice(strain, strain + strains), slice(unknown, unknown + unknowns))
        )
        first, strain, unknown = first + n, strain + strains, unknown + unknowns
    return tuple(out)
