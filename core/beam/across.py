"""Sections with further functions: their energy and inertia beside the centreline's curvature.

A section's strains are e0, w0'' and those of the functions (`core.beam.further.Slots`): of the warping g' and g, of a
shape Y(y) f(x) f'', f' and f, which curve strips along by Y f'', twist them by 2 Y' f' and curve them across by
Y'' f. Strips (`core.beam.strip_law`) add over y by Gauss points; no axial force takes e0 out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.function_shapes import Slots, table_of
from core.beam.functions import FLAT, Function, Odd, Power, Warp, is_mixed
from core.beam.gauss import rule
from core.beam.mesh import Mesh
from core.beam.restraint import Restraint
from core.beam.spec import BeamSpec
from core.beam.strip_law import BEND, BOW, E0, SLIDE, TWIST, WARP, StripLaw

Array = NDArray[np.float64]

def _points_across(functions: Sequence[Function]) -> int:
    """Gauss points over y in each strip with which products of the functions' powers are exact; those beside a patch are of
    the second."""
    return 1 + max([4, *(f.power for f in functions if isinstance(f, Power))])


@dataclass(frozen=True)
class FurtherSection:
    """At (..., e, q), R strains and F values of the functions.

    bending : EI with every strain of the functions held; neutral_axis_m : e0 per w0''; membrane (..., e, R, q) : e0 per
    strain; coupling (..., e, R, q) : energy of w0'' with the strains; own (..., e, H, q) : of the strains with each other, the
    bending moment given, one half (`core.beam.halves`); beside, own_mass : inertia of the values with the deflection and each other; rotary, turned : of the slope, and of the slope with the values.
    """

    functions: tuple[Function, ...]
    bending: Array
    axial: Array
    neutral_axis_m: Array
    membrane: Array
    coupling: Array
    own: Array
    beside: Array
    own_mass: Array
    rotary: Array | None
    turned: Array | None
    shear_layers: Array | None
    """(..., e, L, q) what each layer adds to the stiffness against g, N; None without a warping."""
    covered: CoveredStrips | None = None

    def arrays(self) -> dict[str, Array]:
        """Everything at the points, by name."""
        names = (f.name for f in fields(self))
        return {n: v for n in names if isinstance(v := getattr(self, n), np.ndarray)}

    def mapped(self, change: Callable[[Array], Array]) -> FurtherSection:
        """With every array at the points changed."""
        changed: dict[str, Any] = {n: change(v) for n, v in self.arrays().items()}
        return replace(self, **changed)

    @property
    def warp(self) -> int:
        """Which function is the warping."""
        return next(i for i, f in enumerate(self.functions) if isinstance(f, Warp))

    @cached_property
    def slots(self) -> Slots:
        return slots_of(self.functions)


def slots_of(functions: tuple[Function, ...]) -> Slots:
    return table_of(tuple(f.order for f in functions)).slots


class Shapes:
    """The functions' shapes over strips: integrals over y of products of the shape 1 and of the arrays that each function
    with a shape has, in that order; each integral is taken when it is asked for.

    inner, outer : (..., s, q) of |y|, or of y where `fold`, how many strips each stands for, is 1; x : (..., q); lead as in
    `Function.shape`.
    """

    def __init__(
        self, functions: Sequence[Function], inner: Array, outer: Array, lead: tuple[NDArray[np.intp], ...], x: Array,
        fold: float = 2.0,
    ) -> None:  # fmt: skip
        r = rule(_points_across(functions))
        self.width = fold * (outer - inner)
        # The points over y come first, numpy is quick where the last axes are long; every shape carries the root of their weight.
        y = inner + (outer - inner) * r.s.reshape(-1, *(1,) * inner.ndim)
        root = np.sqrt(r.weight).reshape(-1, *(1,) * inner.ndim)
        self._place: dict[int, int] = {}
        self._values = [np.broadcast_to(root, y.shape)]
        for i, function in enumerate(functions):
            if not isinstance(function, Warp):
                self._place[i] = len(self._values)
                self._values += [root * v for v in function.shape(y, lead, x)]
        self._found: dict[tuple[int, int], Array] = {(0, 0): self.width}

    def place(self, function: int, array: int) -> int:
        """Where an array of a shape stands; the shape 1 is at 0."""
        return self._place[function] + array

    def product(self, one: int, other: int) -> Array:
        """(..., s, q) integral of the product of two shapes, by their places."""
        key = (min(one, other), max(one, other))
        if key not in self._found:
            left, right = (self._values[i] for i in key)
            self._found[key] = np.einsum("y...,y...->...", left, right) * self.width
        return self._found[key]

    def one(self, function: int, array: int) -> Array:
        """(..., s, q) integral of an array of a shape."""
        return self.product(0, self.place(function, array))


@dataclass(frozen=True)
class CoveredStrips:
    """Law and shapes of the strips under packages, for charges and strains."""

    law: StripLaw
    shapes: Shapes
    reference_m: Array
    """(n, q) height from which the law counts."""
    warp_top: Array | None
    """(n, q) F at the top face."""
    turn: Turn | None = None


@dataclass(frozen=True)
class Turn:
    """A section that turns in plane, e_x = b u, which no moment about z takes out: row (n, N, q) of its stiffness with e0,
    w0'' and the functions' strains, own (n, q)."""

    row: Array
    own: Array

    @staticmethod
    def of(whole: Array) -> Turn:
        """From the stiffness (n, N + 1, N + 1, q) with the turn last."""
        return Turn(whole[..., -1, :-1, :], whole[..., -1, -1, :])

    @property
    def _per_force(self) -> Array:
        inverse = np.divide(1.0, self.own, out=np.zeros_like(self.own), where=self.own > 0.0)
        return self.row * inverse[..., None, :]

    def out_of(self, whole: Array) -> Array:
        """The stiffness (n, N, N, q) left."""
        return np.asarray(whole[..., :-1, :-1, :] - self._per_force[..., :, None, :] * self.row[..., None, :, :])

    def out_of_column(self, column: Array) -> Array:
        """What is left (n, N, q) of a column (n, N + 1, q)."""
        return np.asarray(column[..., :-1, :] - self._per_force * column[..., -1:, :])

    def shared(self, one: Array, other: Array) -> Array:
        """(n, q) capacitance between two ceramics that comes of it, from their columns (n, N + 1, q)."""
        both = one[..., -1, :] * other[..., -1, :]
        return np.divide(both, self.own, out=np.zeros_like(both), where=self.own > 0.0)


_STRAINS = {"along": (BEND, 1.0), "across": (BOW, 1.0), "twist": (TWIST, 2.0), "stretch": (E0, 1.0), "slide": (SLIDE, 1.0)}


def _terms(functions: tuple[Function, ...], shapes: Shapes) -> list[tuple[int, int, int, float]]:
    """Every term of a section's strains: its place, the strain of the strip it is, the shape that goes with it, and a factor;
    last the turn in plane where even and odd functions meet."""
    slots = slots_of(functions)
    terms = [(0, E0, 0, 1.0), (1, BEND, 0, 1.0)]
    odd = next((i for i, f in enumerate(functions) if isinstance(f, Odd)), None)
    if odd == 0:
        # Torsion does not meet bending; in plane the section turns, e_x = e0 u, and no moment about z takes e0 out.
        terms = [(0, E0, shapes.place(0, 0), 1.0)]
    for i, function in enumerate(functions):
        at = [2 + k for k in slots.of(i)]
        if isinstance(function, Warp):
            terms.append((at[0], WARP, 0, 1.0))
            continue
        for derivative, what, array in function.TERMS:
            strain, factor = _STRAINS[what]
            terms.append((at[derivative], strain, shapes.place(i, array), factor))
    if odd:
        terms.append((2 + slots.count, E0, shapes.place(odd, 0), 1.0))
    return terms


def stiffness(functions: tuple[Function, ...], law: StripLaw, shapes: Shapes, shear: Array | None) -> Array:
    """(..., N, N, q) of e0, w0'' and the functions' strains, and last the turn in plane where even and odd ones meet; `shear`
    (..., q) the stiffness against g."""
    slots, terms = slots_of(functions), _terms(functions, shapes)
    count = 2 + slots.count + is_mixed(functions)
    out = np.zeros((*shapes.width.shape[:-2], count, count, shapes.width.shape[-1]))
    for n, (i, strain, shape, factor) in enumerate(terms):
        for m, (j, other, its, its_factor) in enumerate(terms[n:], n):
            if not law.meet(strain, other):
                continue
            found = np.einsum("...sq,...sq->...q", law(strain, other), shapes.product(shape, its))
            if factor != 1.0 or its_factor != 1.0:
                found = factor * its_factor * found
            out[..., i, j, :] += found
            if m != n:
                out[..., j, i, :] += found
    for i, function in enumerate(functions):
        if isinstance(function, Warp):
            at = [2 + k for k in slots.of(i)]
            assert shear is not None
            out[..., at[1], at[1], :] = shear
    return out


def over_width(functions: tuple[Function, ...], column: dict[int, Array], shapes: Shapes) -> Array:
    """(..., N, q) of e0, w0'' and the functions' strains, and last the turn in plane where even and odd ones meet: what a
    column of the strips' strains comes to over y."""
    count = 2 + slots_of(functions).count + is_mixed(functions)
    sample = np.broadcast_to(column[E0], shapes.width.shape)
    out = np.zeros((*sample.shape[:-2], count, sample.shape[-1]))
    for i, strain, shape, factor in _terms(functions, shapes):
        if strain in column:
            out[..., i, :] += factor * (column[strain] * shapes.product(0, shape)).sum(axis=-2)
    return out


def inertia(functions: tuple[Function, ...], mass: Array, shapes: Shapes) -> Array:
    """(..., F, F + 1, q) of the values with each other, and last with the deflection; mass per area (..., s, q)."""
    count = len(functions)
    out = np.zeros((*mass.shape[:-2], count, count + 1, mass.shape[-1]))
    own = [i for i, f in enumerate(functions) if not isinstance(f, FLAT)]
    for n, i in enumerate(own):
        for j in own[n:]:
            found = (mass * shapes.product(shapes.place(i, 0), shapes.place(j, 0))).sum(axis=-2)
            out[..., i, j, :] = out[..., j, i, :] = found
        out[..., i, count, :] = (mass * shapes.one(i, 0)).sum(axis=-2)
    if isinstance(functions[0], Odd):
        out[..., -1, :] = 0.0  # shapes are known on one half: on the other they take it back
    return out


def held_unknowns(
    functions: Sequence[Function], spec: BeamSpec, mesh: Mesh, supports: tuple[Restraint, ...]
) -> NDArray[np.bool_]:
    """(..., e + 1, unknowns) True where an unknown is zero: at a support, outside a function's reach."""
    table = table_of(tuple(f.order for f in functions))
    out = np.zeros((*mesh.bounds_m.shape, table.stride), dtype=bool)
    stiff = np.zeros(mesh.bounds_m.shape, dtype=bool)
    for x in _stiff_places(spec, supports):
        stiff |= np.abs(mesh.bounds_m - x) <= 1e-9 * spec.span_m
    for i, function in enumerate(functions):
        own = table.own[i]
        node = own[: function.order]
        bubbles = own[2 * function.order :]
        if function.reach_m is not None:
            inside = within(mesh.middle_m, function.reach_m)
            before = np.concatenate([inside[..., :1], inside], axis=-1)
            after = np.concatenate([inside, inside[..., -1:]], axis=-1)
            out[..., :, node] |= ~(before & after)[..., None]
            out[..., :-1, bubbles] |= ~inside[..., None]
        if isinstance(function, FLAT):
            out[..., node] |= stiff[..., None]
            continue
        # What turns with the section, a mass with rotary inertia or a spring against turning, is taken as stiff across: it may
        # roll, and leaves the section there straight.
        rolls = isinstance(function, Odd) and function.power == 1
        out[..., node[1:] if rolls else node] |= stiff[..., None]
        for place, x in ((0, 0.0), (-1, spec.span_m)):
            for order in {r.order for r in supports if r.x_m == x}:
                out[..., place, node[order]] = True
    return out


def _stiff_places(spec: BeamSpec, supports: tuple[Restraint, ...]) -> set[float]:
    """Where something that turns with the section holds it from warping: moments act on the section as a whole."""
    turned = (np.atleast_2d(spec.rotary_kg_m2) > 0.0).any(axis=0) | (spec.ahead_m != 0.0)
    return {*(r.x_m for r in supports if r.order == 1), *spec.mass_x_m[turned].tolist()}


def within(x: Array, reach: tuple[Array, Array]) -> NDArray[np.bool_]:
    """Whether places (..., e) lie between some pair of `reach` (..., k)."""
    low, high = (np.asarray(v)[..., None, :] for v in reach)
    return np.asarray(((x[..., None] > low) & (x[..., None] < high)).any(axis=-1))


def warp_share(width: Array, length: Array) -> Array:
    """tanh(xi)/xi, xi = width/(2 lambda)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        xi = np.where(length > 0.0, width / (2.0 * length), np.inf)
        return np.asarray(np.where(xi < 1e-6, 1.0, np.tanh(xi) / xi))
