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
from core.beam.further import Further, Inertia
from core.beam.further_energy import Stiffness, further_of
from core.beam.mesh import Mesh, base_mesh, mesh_on
from core.beam.point_roll import point_inertia
from core.beam.section import base_section
from core.beam.section_further import everywhere
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

WAVES = 8
"""Modes of bending for which the elements are divided."""
LAYERS = (0.6, 2.0)
"""Of half the width: boundaries so far from the ends, where the part is held from warping out of plane."""
SMOOTH = 6
"""Modes come of so many polynomials for each function as forces, and of the inertia of what these move: the third to 1e-6."""
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
    if not rolls(spec):
        return ()
    steps = spec.half_width_m * np.array(LAYERS)
    mesh = mesh_on(spec, base_mesh(spec, WAVES), np.zeros(0), np.concatenate([steps, spec.span_m - steps]))
    return torsion(spec, mesh, everywhere(spec, mesh, base_section(spec, mesh), odd_functions(spec), None), count).frequency_hz


def rolls(spec: BeamSpec) -> bool:
    """Whether torsion is calculated: not where nothing holds the part from rolling, nor at the level 'plain', where layers do
    not hold each other."""
    return spec.holds_roll and spec.level != "plain"


def odd_functions(spec: BeamSpec) -> tuple[Odd, Odd]:
    """What a straight, centred layout twists by."""
    return Odd(1, spec.half_width_m), Odd(3, spec.half_width_m)


def torsion(spec: BeamSpec, mesh: Mesh, at: FurtherSection, count: int = 3) -> Twists:
    """The first modes of one layout that `rolls`, with ends held as those of the beam; `at` : its sections with the
    `odd_functions`."""
    further, functions = _loose(spec, mesh, at), odd_functions(spec)
    points = _Points(spec, further, functions)
    none = np.zeros((0, further.size))
    pushed = _smooth(mesh, further)
    moved, _ = further.narrowed(pushed, none)
    still = np.zeros((len(pushed), *mesh.x_m.shape))
    loads = further.inertia(still, still, moved.basis)[2] + points.loads(moved.basis)
    basis, _ = further.narrowed(np.concatenate([pushed, further.rows(still, window=loads)], axis=-2), none)
    mass = basis.own + points.mass(basis.basis)
    mu, share = np.linalg.eigh(0.5 * (mass + mass.T))
    first = [i for i in range(len(mu) - 1, max(len(mu) - 1 - count, -1), -1) if mu[i] > 0.0]
    x = mesh.at(EDGE)
    values = basis.strains(share.T[first], EDGE)[..., further.table.slots.values, :]
    y = 0.5 * spec.width.at(x)
    shapes = np.stack([f.shape(y, ())[0] for f in functions], axis=-2)
    edge = (shapes * values).sum(axis=-2).reshape(len(first), -1)
    largest = np.take_along_axis(edge, np.abs(edge).argmax(axis=-1)[:, None], axis=-1)
    return Twists(tuple(float(1.0 / (2.0 * np.pi * np.sqrt(mu[i]))) for i in first), x.ravel(), edge / largest, -edge / largest)


def _loose(spec: BeamSpec, mesh: Mesh, at: FurtherSection) -> Further:
    weight = mesh.weight_m[:, None, :]
    shape = (*at.beside.shape[:-1], weight.shape[-1])
    inertia = Inertia(np.zeros(shape), at.own_mass * weight[:, None], None)
    held = held_unknowns(at.functions, spec, mesh, spec.restraints)
    stiffness = Stiffness(at.coupling, at.own)
    return further_of(mesh, (2, 2), np.ones_like(at.bending), stiffness, inertia, held, loose=True)


def _smooth(mesh: Mesh, further: Further) -> Array:
    """Loads (k, n) of forces which are polynomials along the span."""
    x = 2.0 * mesh.x_m / mesh.bounds_m[-1] - 1.0
    forces = np.moveaxis(np.polynomial.legendre.legvander(x, SMOOTH - 1), -1, 0) * mesh.weight_m
    values = np.zeros((2, SMOOTH, len(x), 2, x.shape[-1]))
    for i in range(2):
        values[i, :, :, i] = forces
    values = values.reshape(-1, *values.shape[2:])
    return further.rows(np.zeros((len(values), *x.shape)), values=values)


class _Points:
    """Inertia of point masses with windows (e, k, m) of the functions."""

    def __init__(self, spec: BeamSpec, further: Further, functions: tuple[Odd, ...]) -> None:
        self._inertia, self._places = point_inertia(spec, functions)[0], []
        assert further.loose is not None
        there = np.flatnonzero(~further.loose.tied)
        bounds, own = further.mesh.bounds_m, further.table.own
        for x in spec.mass_x_m.tolist():
            # At the near end of an element or at the far end of the one before; what is no element has no value.
            distance = np.abs(np.concatenate([bounds[there], bounds[there + 1]]) - x)
            near = int(distance.argmin())
            element, end = int(there[near % len(there)]), near >= len(there)
            self._places.append((element, np.array([places[2 if end else 0] for places in own])))

    def loads(self, window: Array) -> Array:
        """Loads on windows of a unit acceleration along them."""
        out = np.zeros_like(window)
        for (element, places), inertia in zip(self._places, self._inertia, strict=True):
            out[element][:, places] += window[element][:, places] @ inertia
        return out

    def mass(self, window: Array) -> Array:
        """(k, k)"""
        out = np.zeros((window.shape[-2], window.shape[-2]))
        for (element, places), inertia in zip(self._places, self._inertia, strict=True):
            values = window[element][:, places]
            out += values @ inertia @ values.T
        return out
