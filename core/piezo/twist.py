"""Torsion of a solved layout, its packages on it."""

from __future__ import annotations

from core.beam.torsion import Twists, torsion
from core.piezo.layout import CoupledBeam


def torsion_of(beam: CoupledBeam) -> Twists:
    """The first modes of torsion of one layout (`core.beam.torsion`), straight and centred."""
    bonded = beam.sections.bonded
    return torsion(beam.spec, beam.mesh, beam.section, None if bonded is None else bonded.strips, banded=True)
