"""Torsion of the part without patches: by functions odd across the width, beside the beam that bends.

    w(x, y) = Y1(y) f1(x) + Y3(y) f3(x),   Y1 = u,  Y3 = u^3 - u,  u = y over half the largest width

Strips (`core.beam.strip_law`) add over y as for bending; in plane the section may turn, e_x = b y, and no moment about z
takes b out. In a straight, centred layout torsion and bending do not meet, so that no patch reaches it. Point masses are
taken as spread evenly over the width.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.across import Shapes, held_unknowns, taken
from core.beam.free_strip import MODULI
from core.beam.functions import Odd
from core.beam.further import Further, Inertia, Stiffness, further_of
from core.beam.mesh import Mesh, base_mesh, mesh_on
from core.beam.section import layers_at
from core.beam.section_further import about, sums_of
from core.beam.spec import BeamSpec
from core.beam.strip_law import BEND, BOW, E0, TWIST, StripLaw

Array = NDArray[np.float64]

WAVES = 8
"""Modes of bending for which the elements are divided."""
LAYERS = (0.6, 2.0)
"""Of half the width: boundaries so far from the ends, where the part is held from warping out of plane."""


@lru_cache(maxsize=16)
def torsion_hz(spec: BeamSpec, count: int = 3) -> tuple[float, ...]:
    """The first frequencies of torsion, Hz, with ends held as those of the beam; none where nothing holds the part
    from rolling, or at the level 'plain', where layers do not hold each other."""
    if not any(r.order == 0 and r.x_m in (0.0, spec.span_m) for r in spec.restraints) or spec.level == "plain":
        return ()
    half = 0.5 * float(spec.lane_width_m[:2].sum(axis=1).max())
    steps = half * np.array(LAYERS)
    mesh = mesh_on(spec, base_mesh(spec, WAVES), np.concatenate([steps, spec.span_m - steps]))
    functions = (Odd(1, half), Odd(3, half))
    own, inertia = _section(spec, mesh, functions)
    none = np.zeros((*own.shape[:-3], *own.shape[-2:]))
    held = held_unknowns(functions, spec, mesh, spec.restraints)
    further = further_of(
        mesh, (2, 2), np.ones_like(mesh.x_m), Stiffness(none, own), Inertia(np.zeros_like(none[..., :2, :]), inertia, None), held,
        banded=False,
    )
    unit = np.eye(further.size)
    window = further.window(unit)
    still = np.zeros((further.size, *mesh.x_m.shape))
    loads = further.inertia(still, still, window)[2]
    mass = np.einsum("ekm,ejm->kj", window, loads) + _points(spec, mesh, further, functions)
    mu = np.linalg.eigvalsh(0.5 * (mass + mass.T))[::-1][:count]
    return tuple(float(1.0 / (2.0 * np.pi * np.sqrt(m))) for m in mu if m > 0.0)


def _section(spec: BeamSpec, mesh: Mesh, functions: tuple[Odd, ...]) -> tuple[Array, Array]:
    """Energy (e, R, R, q) of the strains f'', f', f of each, and inertia (e, F, F, q) times the integration weight."""
    layers = layers_at(spec, mesh.x_m, mesh.segment)
    e, lanes = layers.strips.width_m.shape[:2]
    moduli = np.swapaxes(spec.stiffness_rows[mesh.segment].reshape(e, lanes, MODULI, -1), -1, -2)
    axial, first, _ = layers.strips.stiffness
    moments = about(layers.moments, np.divide(first, axial, out=np.zeros_like(first), where=axial > 0.0)[:, None, :])
    law = StripLaw(sums_of(moduli, moments), bows=True)
    outer = 0.5 * np.cumsum(layers.strips.width_m, axis=-2)
    shapes = Shapes(functions, outer - 0.5 * layers.strips.width_m, outer, ())
    terms = [(law.place[E0], shapes.place(0, 0), 1.0)]
    for i in range(len(functions)):
        terms += [
            (law.place[BEND], shapes.place(i, 0), 1.0),
            (law.place[TWIST], shapes.place(i, 1), 2.0),
            (law.place[BOW], shapes.place(i, 2), 1.0),
        ]
    pairs = [(t, u) for t in terms for u in terms]
    found = np.einsum(
        "esqk,esqk->ekq",
        taken(law.table, [(t[0], u[0]) for t, u in pairs]),
        taken(shapes.gram, [(t[1], u[1]) for t, u in pairs]) * np.array([t[2] * u[2] for t, u in pairs]),
    ).reshape(e, len(terms), len(terms), -1)
    turn = found[:, 0, 0]
    share = np.divide(found[:, 0, 1:], turn[:, None], out=np.zeros_like(found[:, 0, 1:]), where=turn[:, None] > 0.0)
    own = found[:, 1:, 1:] - found[:, 1:, None, 0] * share[:, None]
    dense = sums_of(spec.density_rows[mesh.segment][..., None], moments)[..., 0, 0, :]
    values = [(shapes.place(i, 0), shapes.place(j, 0)) for i in range(len(functions)) for j in range(len(functions))]
    mass = np.einsum("esq,esqk->ekq", dense, taken(shapes.gram, values))
    count = len(functions)
    return own, mass.reshape(e, count, count, -1) * mesh.weight_m[:, None, None, :]


def _points(spec: BeamSpec, mesh: Mesh, further: Further, functions: tuple[Odd, ...]) -> Array:
    """(n, n) inertia of the point masses, spread evenly over the width where they sit."""
    moved = further.solve_upper(np.eye(further.size))
    out = np.zeros((further.size, further.size))
    t = np.linspace(-1.0, 1.0, 201)
    for x, mass in zip(spec.mass_x_m.tolist(), np.atleast_1d(spec.mass_kg).tolist(), strict=True):
        boundary = int(np.abs(mesh.bounds_m - x).argmin())
        width = float(spec.width.at(np.array([min(x, (1.0 - 1e-9) * spec.span_m)]))[0])
        shapes = [f.shape(0.5 * width * t, ())[0] for f in functions]
        values = [moved[:, boundary * further.table.stride + int(own[0])] for own in further.table.own]
        for i, left in enumerate(shapes):
            for j, right in enumerate(shapes):
                out += mass * float(np.trapezoid(left * right, t)) / 2.0 * np.outer(values[i], values[j])
    return out
