"""What a mode does: bend along the span (B), curve across it (C) or twist (T), by where its kinetic energy is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from core.beam.functions import Odd

if TYPE_CHECKING:
    from core.beam.bending import Bending

Array = NDArray[np.float64]
Kind = Literal["B", "C"]


def bending_share(bending: Bending, vectors: Array) -> Array:
    """(..., k) kinetic energy in the mean deflection of the sections, of that and what they deflect beside their mean; of
    vectors (..., k, n) of one layout or many. Turning counts for neither, point masses move with the centreline.
    """
    motion, further = bending.move(vectors), bending.section.further
    if bending.further is None or further is None or motion.window is None:
        return np.ones(vectors.shape[:-1])
    mass = bending.section.mass[..., None, :, :]
    values = np.where(_odd(bending)[:, None], 0.0, bending.further.values(motion.window))
    shift = (values * further.beside[..., None, :, :, :]).sum(axis=-2)
    own = (values[..., None, :] * values[..., None, :, :] * further.own_mass[..., None, :, :, :, :]).sum(axis=(-3, -2))
    weight = bending.mesh.weight_m[..., None, :, :]
    beside = (weight * (own - shift**2 / np.maximum(mass, 1e-300))).sum(axis=(-2, -1))
    mean = motion.deflection + shift / np.maximum(mass, 1e-300)
    along = (weight * mass * mean**2).sum(axis=(-2, -1))
    if len(bending.spec.mass_kg):
        at = motion.deflection_at @ np.swapaxes(bending.mass_boundary, -1, -2)
        along = along + (at**2 * bending.spec.mass_kg[..., None, :]).sum(axis=-1)
    return np.asarray(along / np.maximum(along + beside, 1e-300))


def twist_share(bending: Bending, vectors: Array) -> Array:
    """(..., k) kinetic energy in what the sections turn by, of that of the part, vectors (..., k, n) of one layout or many; what
    of each function is turning is told by its share with u. Point masses are left out: of one off the centreline what bends
    and what twists may stand against each other, so that its shares mean nothing."""
    motion, further = bending.move(vectors), bending.section.further
    if bending.further is None or further is None or motion.window is None or not _odd(bending).any():
        return np.zeros(vectors.shape[:-1])
    values = bending.further.values(motion.window)
    weight = bending.mesh.weight_m[..., None, :, :]
    turn = int(np.flatnonzero(_odd(bending))[0])
    # Turning as far as the inertia against it sees it: the moment of momentum about x, squared, over that inertia.
    inertia = further.own_mass[..., turn, turn, :]
    momentum = (values * further.own_mass[..., None, :, turn, :, :]).sum(axis=-2)
    turning = (weight * momentum**2 / np.maximum(inertia, 1e-300)[..., None, :, :]).sum(axis=(-2, -1))
    mass = bending.section.mass[..., None, :, :]
    beside, own = further.beside[..., None, :, :, :], further.own_mass[..., None, :, :, :, :]
    density = mass * motion.deflection**2 + 2.0 * motion.deflection * (values * beside).sum(axis=-2)
    density = density + (values[..., None, :] * values[..., None, :, :] * own).sum(axis=(-3, -2))
    whole = (weight * density).sum(axis=(-2, -1))
    return np.asarray(turning / np.maximum(whole, 1e-300))


def _odd(bending: Bending) -> NDArray[np.bool_]:
    """(F,) which functions twist the part."""
    further = bending.section.further
    return np.array([isinstance(f, Odd) for f in further.functions] if further is not None else [], dtype=bool)


def mode_names(share: Array) -> tuple[str, ...]:
    """"B1", "B2", "C1" ... of modes in the order of their frequencies, by `bending_share`."""
    counted: dict[Kind, int] = {"B": 0, "C": 0}
    names = []
    for value in share.tolist():
        kind: Kind = "B" if value >= 0.5 else "C"
        counted[kind] += 1
        names.append(f"{kind}{counted[kind]}")
    return tuple(names)
