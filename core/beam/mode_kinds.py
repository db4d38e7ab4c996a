"""What a mode does: bend along the span (B) or curve across it (C), by where its kinetic energy is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from core.beam.bending import Bending

Array = NDArray[np.float64]
Kind = Literal["B", "C"]


def bending_share(bending: Bending, vectors: Array) -> Array:
    """(k,) kinetic energy in the mean deflection of the sections, of that and what they deflect beside their mean; of
    vectors (k, n) of one layout. Turning counts for neither, point masses move with the centreline.
    """
    motion, further = bending.move(vectors), bending.section.further
    if bending.further is None or further is None or motion.window is None:
        return np.ones(len(vectors))
    mass = bending.section.mass[None]
    values = bending.further.values(motion.window)
    shift = (values * further.beside).sum(axis=-2)
    own = (values[..., None, :] * values[..., None, :, :] * further.own_mass[None]).sum(axis=(-3, -2))
    weight = bending.mesh.weight_m
    beside = (weight * (own - shift**2 / np.maximum(mass, 1e-300))).sum(axis=(-2, -1))
    mean = motion.deflection + shift / np.maximum(mass, 1e-300)
    along = (weight * mass * mean**2).sum(axis=(-2, -1))
    if len(bending.spec.mass_kg):
        at = motion.deflection_at @ np.swapaxes(bending.mass_boundary, -1, -2)
        along = along + at**2 @ bending.spec.mass_kg
    return np.asarray(along / np.maximum(along + beside, 1e-300))


def mode_names(share: Array) -> tuple[str, ...]:
    """"B1", "B2", "C1" ... of modes in the order of their frequencies, by `bending_share`."""
    counted: dict[Kind, int] = {"B": 0, "C": 0}
    names = []
    for value in share.tolist():
        kind: Kind = "B" if value >= 0.5 else "C"
        counted[kind] += 1
        names.append(f"{kind}{counted[kind]}")
    return tuple(names)
