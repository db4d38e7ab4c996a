"""Sections with further functions: their energy and inertia beside the centreline's curvature.

A section's strains are e0, w0'' and those of the functions (`core.beam.further.Slots`): of the warping g' and g, of a
shape Y(y) f(x) f'', f' and f, which curve strips along by Y f'', twist them by 2 Y' f' and curve them across by
Y'' f. Strips (`core.beam.strip_law`) add over y by Gauss points; no axial force takes e0 out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.functions import Function, Warp
from core.beam.further import Slots, table_of
from core.beam.gauss import rule
from core.beam.mesh import Mesh
from core.beam.restraint import Restraint
from core.beam.spec import BeamSpec
from core.beam.strip_law import BEND, BOW, E0, WARP, StripLaw

Array = NDArray[np.float64]

ACROSS_POINTS = 5
"""Gauss points over y in each strip: products of functions up to the fourth power are exact."""


@dataclass(frozen=True)
class FurtherSection:
    """At (..., e, q), R strains and F values of the functions.

    bending : EI with every strain of the functions held; neutral_axis_m : e0 per w0''; membrane (..., e, R, q) : e0 per
    strain; coupling (..., e, R, q), own (..., e, R, R, q) : energy beside w0''; beside, own_mass : inertia of the
    values with the deflection and each other; rotary, turned : of the slope, and of the slope with the values.
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
    return Slots(tuple(f.order for f in functions))


class Shapes:
    """Values of the functions over strips: integrals over y of products, weights included.

    inner, outer : (..., s, q) of |y|; lead as in `Function.shape`.
    """

    def __init__(self, functions: tuple[Function, ...], inner: Array, outer: Array, lead: tuple[NDArray[np.intp], ...]) -> None:
        r = rule(ACROSS_POINTS)
        y = inner[..., None, :] + (outer - inner)[..., None, :] * r.s[:, None]
        self._weight = 2.0 * (outer - inner)[..., None, :] * r.weight[:, None]
        self.width = 2.0 * (outer - inner)
        self._of = [f.shape(y, lead) if not isinstance(f, Warp) else None for f in functions]
        self._known: dict[tuple[int, int, int, int], Array] = {}

    def one(self, function: int, derivative: int) -> Array:
        """(..., s, q) integral of a derivative (0, 1, 2) of a shape; -1 is the shape 1."""
        return self.product(-1, 0, function, derivative)

    def product(self, i: int, a: int, j: int, b: int) -> Array:
        """(..., s, q) integral of the a-th derivative of shape i times the b-th of j."""
        if (j, b) < (i, a):
            i, a, j, b = j, b, i, a
        if i == -1 and j == -1:
            return self.width
        found = self._known.get((i, a, j, b))
        if found is None:
            both = self._shape(j, b)
            if i != -1:
                both = self._shape(i, a) * both
            found = self._known[i, a, j, b] = (both * self._weight).sum(axis=-2)
        return found

    def _shape(self, function: int, derivative: int) -> Array:
        shape = self._of[function]
        assert shape is not None
        return shape[derivative]


@dataclass(frozen=True)
class CoveredStrips:
    """Law and shapes of the strips under packages, for charges and strains."""

    law: StripLaw
    shapes: Shapes
    warp_top: Array | None
    """(n, q) F at the top face."""


def stiffness(functions: tuple[Function, ...], law: StripLaw, shapes: Shapes, shear: Array | None) -> Array:
    """(..., N, N, q) of e0, w0'' and the functions' strains; `shear` (..., q) the stiffness against g."""
    slots = slots_of(functions)
    sample = law(E0, E0)
    out = np.zeros((*sample.shape[:-2], 2 + slots.count, 2 + slots.count, sample.shape[-1]))

    def put(i: int, j: int, value: Array) -> None:
        out[..., i, j, :] = out[..., j, i, :] = value

    # Every strain that lies along or bends across: (place, strain of the strip, function, derivative of its shape).
    terms = [(0, E0, -1, 0), (1, BEND, -1, 0)]
    twists = []
    for i, function in enumerate(functions):
        at = [2 + k for k in slots.of(i)]
        if isinstance(function, Warp):
            terms.append((at[0], WARP, -1, 0))
            assert shear is not None
            put(at[1], at[1], shear)
        else:
            terms += [(at[0], BEND, i, 0), (at[2], BOW, i, 2)]
            twists.append((at[1], i))
    for n, (i, a, f, d) in enumerate(terms):
        for j, b, g, e in terms[n:]:
            put(i, j, (law(a, b) * shapes.product(f, d, g, e)).sum(axis=-2))
    for n, (i, f) in enumerate(twists):
        for j, g in twists[n:]:
            put(i, j, 4.0 * (law.twist * shapes.product(f, 1, g, 1)).sum(axis=-2))
    return out


def over_width(functions: tuple[Function, ...], column: dict[int, Array], shapes: Shapes) -> Array:
    """(..., N, q) of e0, w0'' and the functions' strains: what a column of the strips' strains comes to over y."""
    slots, sample = slots_of(functions), np.broadcast_to(column[E0], shapes.width.shape)
    out = np.zeros((*sample.shape[:-2], 2 + slots.count, sample.shape[-1]))
    out[..., 0, :], out[..., 1, :] = ((column[a] * shapes.width).sum(axis=-2) for a in (E0, BEND))
    for i, function in enumerate(functions):
        at = [2 + k for k in slots.of(i)]
        if isinstance(function, Warp):
            out[..., at[0], :] = (column[WARP] * shapes.width).sum(axis=-2)
        else:
            out[..., at[0], :] = (column[BEND] * shapes.one(i, 0)).sum(axis=-2)
            out[..., at[2], :] = (column[BOW] * shapes.one(i, 2)).sum(axis=-2)
    return out


def inertia(functions: tuple[Function, ...], mass: Array, shapes: Shapes) -> Array:
    """(..., F, F + 1, q) of the values with each other, and last with the deflection; mass per area (..., s, q)."""
    count = len(functions)
    out = np.zeros((*mass.shape[:-2], count, count + 1, mass.shape[-1]))
    for i, function in enumerate(functions):
        if isinstance(function, Warp):
            continue
        out[..., i, count, :] = (mass * shapes.one(i, 0)).sum(axis=-2)
        for j in range(i + 1):
            if not isinstance(functions[j], Warp):
                out[..., i, j, :] = out[..., j, i, :] = (mass * shapes.product(j, 0, i, 0)).sum(axis=-2)
    return out


def held_unknowns(
    functions: tuple[Function, ...], spec: BeamSpec, mesh: Mesh, supports: tuple[Restraint, ...]
) -> NDArray[np.bool_]:
    """(..., e + 1, unknowns) True where an unknown is zero: at a support, outside a function's reach."""
    table = table_of(tuple(f.order for f in functions))
    out = np.zeros((*mesh.bounds_m.shape, table.stride), dtype=bool)
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
        if isinstance(function, Warp):
            for x in _stiff_places(spec, supports):
                out[..., node] |= (np.abs(mesh.bounds_m - x) <= 1e-9 * spec.span_m)[..., None]
            continue
        for place, x in ((0, 0.0), (-1, spec.span_m)):
            for order in {r.order for r in supports if r.x_m == x}:
                out[..., place, node[order]] = True
    return out


def _stiff_places(spec: BeamSpec, supports: tuple[Restraint, ...]) -> list[float]:
    """Where something that turns with the section holds it from warping: moments act on the section as a whole."""
    turned = (np.atleast_2d(spec.rotary_kg_m2) > 0.0).any(axis=0)
    return [*(r.x_m for r in supports if r.order == 1), *spec.mass_x_m[turned].tolist()]


def within(x: Array, reach: tuple[Array, Array]) -> NDArray[np.bool_]:
    """Whether places (..., e) lie between some pair of `reach` (..., k)."""
    low, high = (np.asarray(v)[..., None, :] for v in reach)
    return np.asarray(((x[..., None] > low) & (x[..., None] < high)).any(axis=-1))


def warp_share(width: Array, length: Array) -> Array:
    """tanh(xi)/xi, xi = width/(2 lambda)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        xi = np.where(length > 0.0, width / (2.0 * length), np.inf)
        return np.asarray(np.where(xi < 1e-6, 1.0, np.tanh(xi) / xi))
