"""Functions beside the centreline's deflection that a section may move by; a new one is a class and a line here.

Each has an order (2: value and slope continuous along x, 1: value), what it is zero at, and, if it bends the section
across, its shape Y(y) with slope and curvature: `w(x, y) = w0(x) + sum Y(y) f(x)`, Y(0) = 0, so that w0 stays the
deflection of the centreline.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Warp:
    """Mean shear angle g over the bare part's height (`core.beam.warping`)."""

    order: int = 1
    bows: bool = False
    reach_m: tuple[Array, Array] | None = None


@dataclass(frozen=True, eq=False)
class Power:
    """Even power of y over half the part's largest width h: u^2, or u^4 - 2 u^2, whose curvature across is none on the whole
    (which keeps the two apart)."""

    power: int
    half_m: float
    order: int = 2
    bows: bool = True
    reach_m: tuple[Array, Array] | None = None

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...]) -> tuple[Array, Array, Array]:
        """Y, Y', Y'' at y."""
        h = self.half_m
        u = y / h
        v = u * u
        if self.power == 2:
            return v, 2.0 / h * u, np.full_like(u, 2.0 / h**2)
        return v * v - 2.0 * v, 4.0 / h * (v - 1.0) * u, 4.0 / h**2 * (3.0 * v - 1.0)


@dataclass(frozen=True, eq=False)
class Beside:
    """Bending beside a narrow patch: the curvature across is 1/h^2 under it and none beside it.

    side_m : (...) half the ceramic's width; reach_m : (..., k) from and to which it is felt along x.
    """

    side_m: Array
    half_m: float
    reach_m: tuple[Array, Array]
    order: int = 2
    bows: bool = True

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...]) -> tuple[Array, Array, Array]:
        """Y, Y', Y'' at y (..., n, s, q) of elements of the layouts `lead`."""
        side = self.side_m
        if side.ndim:
            side = side[lead][:, None, None]
        inside, h2 = np.abs(y) < side, self.half_m**2
        value = np.where(inside, 0.5 * y * y, side * (np.abs(y) - 0.5 * side)) / h2
        slope = np.where(inside, y, side * np.sign(y)) / h2
        return value, slope, np.where(inside, 1.0 / h2, 0.0)


@dataclass(frozen=True, eq=False)
class Odd:
    """u, or u^3 - u, of torsion (`core.beam.torsion`), which come together, u first, and apart from even ones; u is y over
    half the part's largest width."""

    power: int
    half_m: float
    order: int = 2
    bows: bool = True
    reach_m: tuple[Array, Array] | None = None

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...]) -> tuple[Array, Array, Array]:
        """Y, Y', Y'' at y."""
        h = self.half_m
        u = y / h
        if self.power == 1:
            return u, np.full_like(u, 1.0 / h), np.zeros_like(u)
        return u * (u * u - 1.0), (3.0 * u * u - 1.0) / h, 6.0 * u / h**2


Function = Warp | Power | Beside | Odd
