"""Strips of a section that are free across as a whole: what a stack does that contracts across together.

A strip of the section is a constant stack at one y. Its plies are in plane stress,

    s_x = Q_x e_x + Q_xy e_y - e_x' E,   s_y = Q_xy e_x + Q_y e_y - e_y' E

with `e_x = e0 - z w''` common to all strips and `e_y = h - z k` of the strip's own. The strip is free
across, N_y = M_y = 0, which gives h and k in terms of e0, w'' and the voltages; put back, every strip has
its axial, coupling and bending stiffness, its force and moment per volt and its capacitance. Strips add over
y. A single isotropic strip gives back E, since nothing holds its contraction; a ceramic on a metal contracts
with the metal, so its lateral piezo strain is held and its capacitance falls (lamination as in Jones 1999,
section 4.3; the same section in Maurini, Pouget & dell'Isola 2004, Int. J. Solids Structures 41, 4473).

Where Q_xy and e_y' are zero every layer is free across by itself (the level 'plain').
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.axes import ahead, ahead_to

Array = NDArray[np.float64]
Number = float | Array

ALONG, MIXED, ACROSS, TWIST, SHEAR = range(5)
"""Q_x, Q_xy, Q_y, and the shear moduli in plane and through the thickness, in the arrays of stiffness."""
MODULI = 5
FREE = 3
"""How many of them tell how a strip that is free across stretches and bends: the first."""


def plane_stress(modulus_pa: Number, poisson: Number, across: Number = 1.0) -> tuple[Number, Number, Number]:
    """Q_x, Q_xy, Q_y in plane stress [Pa] of a material with modulus along, contraction across per strain
    along, and modulus across over along."""
    q = modulus_pa / (1.0 - across * poisson**2)
    return q, across * poisson * q, across * q


@dataclass(frozen=True)
class FreeStrips:
    """Strips side by side at the points of sections.

    sums : (..., s, 3, 3, q) of Q_x, Q_xy, Q_y over the plies, times 1, z and z^2, integrated over z [N/m, N, N m].
    width_m : (..., s, q) of both halves together.
    """

    sums: Array
    width_m: Array

    @cached_property
    def _apart(self) -> Array:
        """(3, 3, s, ..., q) the sums with the strips before the sections: numbers of one kind lie together, and what
        follows runs along all points at once."""
        return np.ascontiguousarray(ahead(ahead(ahead(self.sums, -4), -2), -2))

    @cached_property
    def _width_m(self) -> Array:
        """(s, ..., q)"""
        return np.ascontiguousarray(ahead(self.width_m, -2))

    @cached_property
    def _soft(self) -> tuple[Array, Array, Array]:
        """Inverse of the block across, in h and -k: three of its four numbers (s, ..., q)."""
        a, b, d = self._apart[ACROSS]
        det = a * d - b * b
        scale = np.divide(1.0, det, out=np.zeros_like(det), where=det > 0.0)
        return d * scale, -b * scale, a * scale

    @cached_property
    def _contraction(self) -> tuple[Array, Array]:
        """h and -k, each per e0 and per -w'' (2, s, ..., q)."""
        mixed = self._apart[MIXED]
        hh, hk, kk = self._soft
        first, second = mixed[:2], mixed[1:]
        return -(hh * first + hk * second), -(hk * first + kk * second)

    @cached_property
    def stiffness(self) -> tuple[Array, Array, Array]:
        """A, B, D of the whole section (..., q), axial force not yet removed."""
        h, k = self._contraction
        along, mixed = self._apart[ALONG], self._apart[MIXED]
        each = along.copy()
        each[:2] += mixed[0] * h + mixed[1] * k
        each[2] += mixed[1] * h[1] + mixed[2] * k[1]
        each *= self._width_m
        a, b, d = each.sum(axis=1)
        return a, b, d

    def per_volt(self, there: Array, height_m: Array, along: Array, across: Array) -> tuple[Array, Array]:
        """Force and moment per volt (..., q) of a ceramic that lies in some strips.

        there : (..., s, 1) 1 in those; height_m : (..., q) of its mid-plane; along, across : (..., 1) e_x', e_y'.
        """
        (ha, hb), (ka, kb) = self._contraction
        width = ahead(there, -2) * self._width_m
        force = ((along + across * (ha + height_m * ka)) * width).sum(axis=0)
        moment = ((along * height_m + across * (hb + height_m * kb)) * width).sum(axis=0)
        return force, moment

    def sideways(self, there: Array, height_m: tuple[Array, Array], across: tuple[Array, Array]) -> Array:
        """(..., q) capacitance per length between two ceramics (or of one) that comes of the freedom across;
        arguments as in `per_volt`, `there` where both lie."""
        hh, hk, kk = self._soft
        z, other = height_m
        inner = hh + (z + other) * hk + z * other * kk
        return np.asarray(across[0] * across[1] * (inner * ahead(there, -2) * self._width_m).sum(axis=0))

    def energy(self, neutral_m: Array, stiffness: Array, moments: Array, there: Array) -> Array:
        """(..., p, q) twice the strain energy of plies at w'' = 1 without axial force.

        stiffness : (..., s, p, 5); moments : (..., p, 3, q) integrals of 1, z, z^2; there : (..., s, p)."""
        (ha, hb), (ka, kb) = self._contraction
        h, k = (ha * neutral_m - hb)[..., None, :], (ka * neutral_m - kb)[..., None, :]
        zn = neutral_m[..., None, :]
        one, first, second = (moments[..., i, :] for i in range(3))
        xx = zn * zn * one - 2.0 * zn * first + second
        xy = zn * h * one + (zn * k - h) * first - k * second
        yy = h * h * one + 2.0 * h * k * first + k * k * second
        q = ahead(stiffness, -3)[..., None]
        each = q[..., ALONG, :] * xx + 2.0 * q[..., MIXED, :] * xy + q[..., ACROSS, :] * yy
        width = ahead(there, -2)[..., None] * self._width_m[..., None, :]
        return np.asarray((each * width).sum(axis=0))

    def across_strain(self, neutral_m: Array, height_m: Array) -> Array:
        """(..., s, q) strain across of every strip at a height, at w'' = 1 without axial force."""
        (ha, hb), (ka, kb) = self._contraction
        return ahead_to(ha * neutral_m - hb + height_m * (ka * neutral_m - kb), -2)

    def across_per_volt(self, there: Array, mid_m: Array, across: Array, along: Array, height_m: Array) -> Array:
        """(..., s, q) the same per volt on a ceramic, there, mid_m and across as in `per_volt` and `along` (..., q) the strain of
        the section along."""
        (ha, _), (ka, _) = self._contraction
        hh, hk, kk = self._soft
        own = ahead(there, -2) * across
        free = (hh + hk * mid_m) * own + ha * along + height_m * ((hk + kk * mid_m) * own + ka * along)
        return ahead_to(free, -2)

    def across_curvature(self, neutral_m: Array) -> Array:
        """(..., s, q) what a strip curves across, -k, at w'' = 1 without axial force."""
        ka, kb = self._contraction[1]
        return ahead_to(ka * neutral_m - kb, -2)
