"""The energy of further functions, from that of sections: factored, or left loose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.function_shapes import Table, groups_of, pairs_of, products_of, table_of
from core.beam.further import Further, Inertia
from core.beam.gauss import Rule
from core.beam.halves import half_of
from core.beam.loose import Loose
from core.beam.mesh import Mesh

Array = NDArray[np.float64]

SHORTEST = 5e-5
"""Of the span: over shorter elements functions stay what they are. Longer ones lose no more digits than K^2 is off by where all are tied."""
APART = 1e-14
DOUBTFUL_APART = 1e-12
"""Of its own energy, added to each unknown's, so that rounding leaves energies positive: little more than rounding, for in a
short element the unknown's own energy is large, and what is added holds the function there as a spring to ground would.
More for a function that may be one with another (bending beside a patch as wide as the part): it shares between
them, where elements are not short."""
USUAL = 0.05
"""Of the span: elements shorter than that are stiff against what bends by the third power of their length."""


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
    derivatives = table.slots.derivatives
    powers, (rows, columns) = (length[..., None] ** -derivatives)[..., None], half_of(len(derivatives))
    lean = at.coupling * powers / np.where(bending > 0.0, bending, np.inf)[..., None, :]
    factor = powers[..., rows, :] * powers[..., columns, :]
    own = at.own * (factor * jacobian[..., None, :1])
    scale = np.where(table.slope, length[..., None] / (0.05 * mesh.bounds_m.max()), 1.0)
    free = np.where(held, 0.0, 1.0)
    scale = scale * np.concatenate([free[..., :-1, :], free[..., 1:, : table.block]], axis=-1)
    element, bend = _of_elements(table, r, own, lean)
    element *= scale[..., :, None] * scale[..., None, :]
    every, apart = np.arange(table.size), np.zeros(table.size)
    for i in doubtful:
        apart[table.own[i]] = DOUBTFUL_APART
    shorter = np.minimum(length / (USUAL * mesh.bounds_m.max()), 1.0) ** 3
    element[..., every, every] *= 1.0 + np.maximum(apart * shorter[..., None], APART)
    if tied.any():
        bend[tied] = 0.0
    value = table.values(r.s)
    if loose:
        return Further(mesh, table, scale, length, (), (), bend, inertia, value, loose=Loose(element, held, tied))
    diagonal, below = _factored(element, held, tied, table)
    return Further(mesh, table, scale, length, diagonal, below, bend, inertia, value)


def _of_elements(table: Table, r: Rule, own: Array, lean: Array) -> tuple[Array, Array]:
    """Energy (..., e, m, m) of the elements' windows, and their `bend`. Strains carry the powers of the
    length. Functions of one order are worked out together, function by function, and put into the table's order last."""
    shapes, q, m = table.at(r.s), len(r.s), table.size
    lead, points = own.shape[:-2], None if own.shape[-1] == 1 and q > 1 else q
    groups, pairs, order = groups_of(table.slots.orders, table.degree), *pairs_of(table.slots.orders, table.degree)
    bend, parts = np.empty((*lead, m, q)), []
    for a in groups:
        left = shapes[a.functions.start]
        each = lean[..., a.strains, :].reshape(*lead, a.count, 1, a.order + 1, lean.shape[-1])
        found = each[..., 0, :] * left[:, 0]
        for i in range(1, a.order + 1):
            found += each[..., i, :] * left[:, i]
        bend[..., a.unknowns, :] = -found.reshape(*lead, a.count * len(left), q)
    for a, b, strains in pairs:
        part = np.take(own, strains, axis=-2).reshape(-1, (a.order + 1) * (b.order + 1) * own.shape[-1])
        found = part @ products_of(a.order, b.order, table.degree, points)
        parts.append(found.reshape(*lead, -1))
    element = np.take(np.concatenate(parts, axis=-1), order, axis=-1)
    return element, np.take(bend, table.order, axis=-2)


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
