"""The section's own warping under shear: the one function of height that a soft core asks for.

    u(x, z) = u0 - z w' + F(z) g
    R(z) = integral from z to the top of E b (z' - z_n) dz'
    F'(z) = R/(G b) h / (integral over the part of R/(G b) dz),  0 in a package,  F(0) = 0

with g the mean shear angle over the height h of the bare part, E b, G b and z_n of its layers free across by
themselves, pieces side by side adding: the shear stress of a beam whose section keeps its resultant (Jourawski),
so that `1/S = integral of R^2/(G b) dz / EI^2`. Timoshenko's beam is the limit in which the faces have no
bending of their own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.gauss import rule

Array = NDArray[np.float64]

POINTS = 4
"""Through each layer: F is a cubic there."""


@dataclass(frozen=True)
class Warping:
    """F of the bare part at (..., e, q), L layers.

    moments : (..., e, L, 3, q) integrals of F, z F and F^2 over each layer. top : (..., e, q) F at the top face.
    layers : (..., e, L, q) integral of G b F'^2 dz over each layer [N], its stiffness against g.
    """

    moments: Array
    top: Array
    layers: Array

    @property
    def stiffness(self) -> Array:
        """(..., e, q) against g."""
        return np.asarray(self.layers.sum(axis=-2))


def warping(thickness: Array, modulus_width: Array, shear_width: Array) -> Warping:
    """Of layers (..., e, L, q) bottom to top: thickness [m], E b and G b [N/m]."""
    upper = np.cumsum(thickness, axis=-2)
    lower = upper - thickness
    axial = (modulus_width * thickness).sum(axis=-2, keepdims=True)
    first = (modulus_width * 0.5 * (upper + lower) * thickness).sum(axis=-2, keepdims=True)
    neutral = np.divide(first, axial, out=np.zeros_like(first), where=axial > 0.0)
    held = modulus_width * thickness * (0.5 * (upper + lower) - neutral)
    above = np.cumsum(held[..., ::-1, :], axis=-2)[..., ::-1, :] - held
    # R and F over the layer by their values at Gauss points: t from 0 at its lower side to 1.
    r = rule(POINTS)
    t = r.s[:, None]
    low, height, e = (v[..., None, :] for v in (lower, thickness, modulus_width))
    z = low + height * t
    resultant = above[..., None, :] + e * height * (1.0 - t) * (low + 0.5 * height * (1.0 + t) - neutral[..., None, :])
    shear = shear_width[..., None, :]
    slope = np.divide(resultant, shear, out=np.zeros_like(resultant), where=shear > 0.0)
    mean = (np.swapaxes(slope, -1, -2) @ r.weight) * thickness
    total, whole = mean.sum(axis=-2), thickness.sum(axis=-2)
    scale = np.divide(whole, total, out=np.zeros_like(total), where=total > 0.0)[..., None, None, :]
    slope = slope * scale
    steps = (np.swapaxes(slope, -1, -2) @ r.weight) * thickness
    ends = np.cumsum(steps, axis=-2)
    f = np.swapaxes(np.swapaxes(slope, -1, -2) @ r.running, -1, -2) * height + (ends - steps)[..., None, :]
    weight = r.weight[:, None] * height
    moments = np.stack([(f * weight).sum(axis=-2), (f * z * weight).sum(axis=-2), (f * f * weight).sum(axis=-2)], axis=-2)
    return Warping(moments, ends[..., -1, :], (shear * slope * slope * weight).sum(axis=-2))
