"""Torsion of a straight, centred layout: by functions odd across the width, beside the beam that bends.

    w(x, y) = Y1(y) f1(x) + Y3(y) f3(x),   Y1 = u,  Y3 = u^3 - u,  u = y over half the largest width

Sections are those of bending (`core.beam.section_further`), packages included; in plane they may turn. Torsion and bending do
not meet there, so that they are solved apart and no patch on the centreline reaches torsion. Point masses turn
with the inertia given, else are taken as spread evenly over the width; tuned masses on the centreline stay where they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.across import FurtherSection, held_unknowns
from core.beam.functions import Odd
from core.beam.further import Further, Inertia, Stiffness, further_of
from core.beam.mesh import Mesh, base_mesh, mesh_on
from core.beam.point_roll import point_inertia
from core.beam.section import Section, Strips, base_section
from core.beam.section_further import everywhere
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

WAVES = 8
"""Modes of bending for which the elements are divided."""
LAYERS = (0.6, 2.0)
"""Of half the width: boundaries so far from the ends, where the part is held from warping out of plane."""
SMOOTH, STEPS = 5, 2
"""Modes come of so many polynomials for each function, taken through the compliance so often: the third to 1e-9."""
EDGE = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
"""Where in every element the deflection of an edge is told."""


@dataclass(frozen=True)
class Twists:
    """Modes of torsion, lowest first: frequencies, and the deflections (k, n) of the edges at +y and -y at places x (n,),
    largest 1."""

    frequency_hz: tuple[float, ...]
    x_m: Array
    edge: Array
    other_edge: Array


NONE = Twists((), np.zeros(0), np.zeros((0, 0)), np.zeros((0, 0)))


@lru_cache(maxsize=16)
def torsion_hz(spec: BeamSpec, count: int = 3) -> tuple[float, ...]:
    """The first frequencies of the part without patches, Hz; see `torsion`."""
    steps = spec.half_width_m * np.array(LAYERS)
    mesh = mesh_on(spec, base_mesh(spec, WAVES), np.concatenate([steps, spec.span_m - steps]))
    return torsion(spec, mesh, base_section(spec, mesh), None, count).frequency_hz


def torsion(
    spec: BeamSpec, mesh: Mesh, section: Section, strips: Strips | None, count: int = 3
) -> Twists:
    """The first modes of one layout, with ends held as those of the beam; none where nothing holds the part
    from rolling, or at the level 'plain', where layers do not hold each other."""
    if not spec.holds_roll or spec.level == "plain":
        return NONE
    half = spec.half_width_m
    functions = (Odd(1, half), Odd(3, half))
    at = everywhere(spec, mesh, section, functions, strips)
    further = _factored(spec, mesh, at, functions)
    operator = _Compliance(spec, mesh, further, functions)
    vectors, block = [], operator.smooth()
    for _ in range(STEPS):
        block = np.linalg.qr(operator(block).T)[0].T
        vectors.append(block)
    basis = np.linalg.qr(np.concatenate(vectors).T)[0].T
    mass = operator(basis) @ basis.T
    mu, share = np.linalg.eigh(0.5 * (mass + mass.T))
    vectors_of = share.T @ basis
    first = [i for i in range(len(mu) - 1, max(len(mu) - 1 - count, -1), -1) if mu[i] > 0.0]
    x = mesh.at(EDGE)
    values = further.strains(vectors_of[first], EDGE)[..., further.table.slots.values, :]
    y = 0.5 * spec.width.at(x)
    shapes = np.stack([f.shape(y, ())[0] for f in functions], axis=-2)
    edge = (shapes * values).sum(axis=-2).reshape(len(first), -1)
    largest = np.take_along_axis(edge, np.abs(edge).argmax(axis=-1)[:, None], axis=-1)
    return Twists(tuple(float(1.0 / (2.0 * np.pi * np.sqrt(mu[i]))) for i in first), x.ravel(), edge / largest, -edge / largest)


def _factored(spec: BeamSpec, mesh: Mesh, at: FurtherSection, functions: tuple[Odd, ...]) -> Further:
    weight = mesh.weight_m[:, None, :]
    shape = (*at.beside.shape[:-1], weight.shape[-1])
    inertia = Inertia(np.zeros(shape), at.own_mass * weight[:, None], None)
    held = held_unknowns(functions, spec, mesh, spec.restraints)
    stiffness = Stiffness(at.coupling, at.own)
    return further_of(mesh, (2, 2), np.ones_like(at.bending), stiffness, inertia, held)


class _Compliance:
    """What forces of inertia at unit acceleration along vectors (k, n) bend the part by; vectors are such that the
    stiffness is the identity."""

    def __init__(self, spec: BeamSpec, mesh: Mesh, further: Further, functions: tuple[Odd, ...]) -> None:
        self._mesh, self._further = mesh, further
        self._rows, self._mass = _points(spec, mesh, further, functions)

    def __call__(self, vectors: Array) -> Array:
        still = np.zeros((len(vectors), *self._mesh.x_m.shape))
        loads = self._further.inertia(still, still, self._further.window(vectors))[2]
        return self._further.rows(still, window=loads) + (vectors @ self._rows.T) @ self._mass @ self._rows

    def smooth(self) -> Array:
        """Vectors that forces make which are polynomials along the span."""
        x = 2.0 * self._mesh.x_m / self._mesh.bounds_m[-1] - 1.0
        forces = np.moveaxis(np.polynomial.legendre.legvander(x, SMOOTH - 1), -1, 0) * self._mesh.weight_m
        values = np.zeros((2, SMOOTH, len(x), 2, x.shape[-1]))
        for i in range(2):
            values[i, :, :, i] = forces
        values = values.reshape(-1, *values.shape[2:])
        return self._further.rows(np.zeros((len(values), *x.shape)), values=values)


def _points(spec: BeamSpec, mesh: Mesh, further: Further, functions: tuple[Odd, ...]) -> tuple[Array, Array]:
    """Rows (k, n) of the functions' values at the point masses, and the inertia (k, k) of the masses with them."""
    f, inertia = len(functions), point_inertia(spec, functions)[0]
    loads = np.zeros((f * len(spec.mass_x_m), further.size))
    mass = np.zeros((len(loads), len(loads)))
    for k, x in enumerate(spec.mass_x_m.tolist()):
        boundary = int(np.abs(mesh.bounds_m - x).argmin())
        for i in range(f):
            element, end = min(boundary, len(mesh.length_m) - 1), boundary == len(mesh.length_m)
            own = further.table.own[i]
            # nothing where the value is held there
            loads[f * k + i, boundary * further.table.stride + int(own[0])] = further.scale[element, own[2 if end else 0]]
        mass[f * k : f * (k + 1), f * k : f * (k + 1)] = inertia[k]
    return further.solve_lower(loads), mass
