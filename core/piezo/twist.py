"""Torsion of a solved layout, its packages on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.functions import FLAT
from core.beam.torsion import EDGE, NONE, Twists, odd_functions, rolls, torsion
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.tabulated import told

Array = NDArray[np.float64]


def torsion_of(beam: CoupledBeam) -> Twists:
    """The first modes of torsion of one layout: apart from bending (`core.beam.torsion`) where all patches are straight and
    centred, else those among its modes."""
    if beam.ceramics.is_askew:
        return _among(beam)
    spec, s = beam.spec, beam.sections
    if not rolls(spec):
        return NONE
    further = told(spec, s.mesh, s.base, odd_functions(spec), s.bonded, s.active)[0].further
    assert further is not None
    return torsion(spec, s.mesh, further)


def _among(beam: CoupledBeam) -> Twists:
    """The modes that twist the part, last of those kept, with both its edges."""
    if not beam.n_twist:  # all of them lie above the modes kept
        return NONE
    first = beam.n_kept - beam.n_twist
    x, edges = beam.mesh.at(EDGE), edges_along(beam, beam.beam.mode_vectors(beam.n_kept)[first:])
    both = np.concatenate(edges, axis=-1)
    largest = np.take_along_axis(both, np.abs(both).argmax(axis=-1)[:, None], axis=-1)
    hertz = tuple((beam.omega_rad_s[first:] / (2.0 * np.pi)).tolist())
    return Twists(hertz, x.ravel(), edges[0] / largest, edges[1] / largest)


def edges_along(beam: CoupledBeam, vectors: Array) -> tuple[Array, Array]:
    """Deflection (k, n) of the edges at +y and at -y at parameters `EDGE` of every element, of displacement vectors (k, n) of one
    layout whose sections curve across."""
    bending, x = beam.beam.bending, beam.mesh.at(EDGE)
    middle, own = beam.beam.deflection_along(vectors, EDGE), bending.section.further
    assert bending.further is not None and own is not None
    values = bending.strains(vectors, EDGE)[..., own.slots.values, :]
    half = 0.5 * beam.spec.width.at(x)
    edges = []
    for y in (half, -half):
        shapes = [np.zeros_like(x) if isinstance(f, FLAT) else f.shape(y[:, None, :], (), x)[0][:, 0] for f in own.functions]
        edges.append((middle + (values * np.stack(shapes, axis=-2)).sum(axis=-2)).reshape(len(vectors), -1))
    return edges[0], edges[1]
