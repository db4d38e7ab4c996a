"""A strip of the section whose curvature across and warping are told, not left free.

As in `core.beam.free_strip` a strip is a constant stack at one y in plane stress. Here

    e_x = e0 - z w_xx + F(z) g',   e_y = h - z w_yy + F(z) g_y,   g_xy = s - 2 z w_xy

with F of `core.beam.warping`. The strip has no force across, N_y = N_xy = 0, which takes h and s out; where the
section's functions do not say how it curves across (the level 'shear') M_y = 0 takes w_yy out as well. Whether the strip warps
across lies between no (it is wide against the length over which warping dies away) and yes (narrow): both are
taken, and the share of yes is tanh(xi)/xi with xi = width/(2 lambda).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.free_strip import ACROSS, ALONG, MIXED, MODULI
from core.beam.free_strip import TWIST as IN_PLANE

Array = NDArray[np.float64]

E0, BEND, WARP, H, BOW, WARP_ACROSS, TWIST, SLIDE = range(8)
"""Strains of a strip: along (1, -z, F), then across (1, -z, F), its twist w_xy, and the shear s in plane."""
_MOMENTS = {(0, 0): (0, 1.0), (0, 1): (1, -1.0), (1, 1): (2, 1.0), (0, 2): (3, 1.0), (1, 2): (4, -1.0), (2, 2): (5, 1.0)}
"""Which moment of 1, z, z^2, F, zF, F^2 goes with two of (1, -z, F), and its sign."""


class StripLaw:
    """Strips (..., s, q) from sums (..., s, 5, M, q) of their moduli times 1, z, z^2 and, with warping, F, z F, F^2.

    Sheets that are not alike in all directions and lie aslant add two kinds, Q_16 and Q_26: (..., s, 7, M, q). The twist meets the
    other strains then.

    `bows` tells whether the curvature across is a strain of its own; `warps` (..., s, q) is the share to which a strip warps
    across.
    """

    def __init__(self, sums: Array, *, bows: bool, warps: Array | None = None) -> None:
        warped = sums.shape[-2] == 6
        basis = 3 if warped else 2
        self._s: dict[tuple[int, int], Array] = {}
        for i in range(basis):
            for j in range(i, basis):
                moment, sign = _MOMENTS[i, j]
                for kind, a, b in ((ALONG, i, j), (ACROSS, i + 3, j + 3), (MIXED, i, j + 3), (MIXED, j, i + 3)):
                    self._s[min(a, b), max(a, b)] = sign * sums[..., kind, moment, :]
        self.kept = [*range(basis), *([BOW] if bows else [])]
        self._skewed = sums.shape[-3] > MODULI
        if self._skewed:
            self._add_aslant(sums, basis)
            self.kept.append(TWIST)
        self._gone = [*([SLIDE] if self._skewed else []), H, *([] if bows else [BOW]), *([WARP_ACROSS] if warped else [])]
        self._shares = {WARP_ACROSS: warps} if warped else {}
        self._steps: list[tuple[int, dict[int, Array], Array]] = []
        for step, i in enumerate(self._gone):
            left = [*self.kept, *self._gone[step + 1 :]]
            own = self._s[i, i]
            inverse = np.divide(1.0, own, out=np.zeros_like(own), where=own > 0.0)
            share = self._shares.get(i)
            if share is not None:
                inverse = inverse * share
            row = {a: self._s[min(a, i), max(a, i)] for a in left}
            scaled = {a: v * inverse for a, v in row.items()}
            for n, a in enumerate(left):
                for b in left[n:]:
                    key = (min(a, b), max(a, b))
                    self._s[key] = self._s[key] - row[a] * scaled[b]
            self._steps.append((i, scaled, inverse))
        # What shears in plane beside the shear that leaves a strip without its force costs as much whatever else it does.
        self._s[SLIDE, SLIDE] = sums[..., IN_PLANE, 0, :]
        if self._skewed:
            return
        zeroth, first, second = (sums[..., IN_PLANE, k, :] for k in range(3))
        twist = second - np.divide(first * first, zeroth, out=np.zeros_like(first), where=zeroth > 0.0)
        self._s[TWIST, TWIST] = twist

    def _add_aslant(self, sums: Array, basis: int) -> None:
        """Shear in plane and twist, g_xy = s - 2 z w_xy, with each other and with the strains along and across."""
        shears = ((SLIDE, 0), (TWIST, 1))
        for n, (i, a) in enumerate(shears):
            for j, b in shears[n:]:
                moment, sign = _MOMENTS[min(a, b), max(a, b)]
                self._s[min(i, j), max(i, j)] = sign * sums[..., IN_PLANE, moment, :]
            for kind, shift in ((MODULI, 0), (MODULI + 1, 3)):
                for k in range(basis):
                    moment, sign = _MOMENTS[min(a, k), max(a, k)]
                    self._s[shift + k, i] = sign * sums[..., kind, moment, :]

    def __call__(self, a: int, b: int) -> Array:
        """(..., s, q) stiffness between two strains that are kept, or of the twist, which meets none of them."""
        return self._s[min(a, b), max(a, b)]

    def meet(self, a: int, b: int) -> bool:
        """Whether two strains have a stiffness between them."""
        if SLIDE in (a, b):
            return a == b
        return self._skewed or (a == TWIST) == (b == TWIST)

    def column(
        self, along: Array, across: Array, height: Array, warp: Array | None, aslant: Array | None = None
    ) -> dict[int, Array]:
        """What a volt on a ceramic puts into the strains (force of its strain times e), h and what else is free taken
        out; the free ones' own remain under their keys for `shared`. Arrays (..., s, q) or broadcast to it."""
        c = {E0: along, BEND: -along * height, H: across, BOW: -across * height}
        if self._skewed:
            aslant = np.zeros(()) if aslant is None else aslant
            c[SLIDE], c[TWIST] = aslant, -aslant * height
        if WARP in self.kept:
            assert warp is not None
            c[WARP], c[WARP_ACROSS] = along * warp, across * warp
        for i, scaled, _ in self._steps:
            for a, v in scaled.items():
                c[a] = c[a] - v * c[i]
        return c

    def shared(self, one: dict[int, Array], other: dict[int, Array]) -> Array:
        """(..., s, q) capacitance between two ceramics (or of one) that comes of the strains left free."""
        return np.asarray(sum(one[i] * other[i] * inverse for i, _, inverse in self._steps))
