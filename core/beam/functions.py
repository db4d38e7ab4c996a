"""Functions beside the centreline's deflection that a section may move by; a new one is a class and a line here.

Each has an order (2: value and slope continuous along x, 1: value), what it is zero at, and, if it bends the section
across, its shape Y(y) with slope and curvature: `w(x, y) = w0(x) + sum Y(y) f(x)`, Y(0) = 0, so that w0 stays the
deflection of the centreline. `TERMS` says what strips do by which of the arrays that `shape` gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Strain = Literal["along", "across", "twist", "stretch", "slide"]
Term = tuple[int, Strain, int]
"""Which derivative of f (0: the highest), what it does to a strip, and with which array of the shape: curvature along or
across, or w_xy; strain along in plane, or shear in plane beside that which leaves the strip without shear force."""
SEPARATE: tuple[Term, ...] = ((0, "along", 0), (1, "twist", 1), (2, "across", 2))
"""Of Y(y) f(x), by Y, Y', Y''."""


@dataclass(frozen=True, eq=False)
class Warp:
    """Mean shear angle g over the bare part's height (`core.beam.warping`)."""

    order: int = 1
    bows: bool = False
    reach_m: tuple[Array, Array] | None = None


@dataclass(frozen=True, eq=False)
class Power:
    """Even powers of u, y over half the part's largest width h: u^2, or u^4 - 2 u^2 or one with u^6, whose curvatures across go as
    the Legendre polynomials (which keeps them apart)."""

    power: int
    half_m: float
    order: int = 2
    bows: bool = True
    reach_m: tuple[Array, Array] | None = None

    TERMS: ClassVar[tuple[Term, ...]] = SEPARATE

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...], x: Array | None = None) -> tuple[Array, ...]:
        """Y, Y', Y'' at y."""
        h = self.half_m
        u = y / h
        v = u * u
        if self.power == 2:
            return v, 2.0 / h * u, np.full_like(u, 2.0 / h**2)
        if self.power == 4:
            return v * v - 2.0 * v, 4.0 / h * (v - 1.0) * u, 4.0 / h**2 * (3.0 * v - 1.0)
        bent = (35.0 * v - 30.0) * v + 3.0
        return v * ((7.0 * v - 15.0) * v + 9.0) / 6.0, ((7.0 * v - 10.0) * v + 3.0) * u / h, bent / h**2


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

    TERMS: ClassVar[tuple[Term, ...]] = SEPARATE

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...], x: Array | None = None) -> tuple[Array, ...]:
        """Y, Y', Y'' at y (..., n, s, q) of elements of the layouts `lead`."""
        side = self.side_m
        if side.ndim:
            side = side[lead][:, None, None]
        inside, h2 = np.abs(y) < side, self.half_m**2
        value = np.where(inside, 0.5 * y * y, side * (np.abs(y) - 0.5 * side)) / h2
        slope = np.where(inside, y, side * np.sign(y)) / h2
        return value, slope, np.where(inside, 1.0 / h2, 0.0)


IN_PLANE: tuple[Term, ...] = ((0, "stretch", 0), (1, "slide", 1))
"""Of u = Y(y) f(x), by Y and Y'."""


@dataclass(frozen=True, eq=False)
class Lag:
    """Shear lag in plane over the whole width: u(x, y) = (y/h)^2 f(x)."""

    half_m: float
    order: int = 1
    bows: bool = False
    reach_m: tuple[Array, Array] | None = None

    TERMS: ClassVar[tuple[Term, ...]] = IN_PLANE

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...], x: Array | None = None) -> tuple[Array, ...]:
        """Y, Y' at y."""
        u = y / self.half_m
        return u * u, 2.0 / self.half_m * u


@dataclass(frozen=True, eq=False)
class Odd:
    """u, or u^3 - u, of torsion (`core.beam.torsion`); u is y over half the part's largest width."""

    power: int
    half_m: float
    order: int = 2
    bows: bool = True
    reach_m: tuple[Array, Array] | None = None

    TERMS: ClassVar[tuple[Term, ...]] = SEPARATE

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...], x: Array | None = None) -> tuple[Array, ...]:
        """Y, Y', Y'' at y."""
        h = self.half_m
        u = y / h
        if self.power == 1:
            return u, np.full_like(u, 1.0 / h), np.zeros_like(u)
        return u * (u * u - 1.0), (3.0 * u * u - 1.0) / h, 6.0 * u / h**2


@dataclass(frozen=True, eq=False)
class Aslant:
    """Bending that jumps along a line, or along two, which may run aslant of the part:

        w = f(x) (phi(eta(x, y)) - phi(eta(x, 0))),   eta = (y - y_m) c - (x - x_m) s

    Between two lines, |eta| < side, phi'' is 1/h^2, and nothing beside them; at one line it goes from -1/(2 h^2) to
    1/(2 h^2). Each of the four edges of a turned ceramic has a line; one off the centreline has its sides between two.

    x_m, y_m : (...) where eta is nothing; cosine, sine : (...) of the turn of eta against y; side_m : (...), None for one
    line; reach_m : (..., 1) from and to which it is felt along x.
    """

    x_m: Array
    y_m: Array
    cosine: Array
    sine: Array
    side_m: Array | None
    half_m: float
    reach_m: tuple[Array, Array]
    order: int = 2
    bows: bool = True
    TERMS: ClassVar[tuple[Term, ...]] = (
        (0, "along", 0), (1, "along", 1), (2, "along", 2), (1, "twist", 3), (2, "twist", 4), (2, "across", 5),
    )  # fmt: skip

    def shape(self, y: Array, lead: tuple[NDArray[np.intp], ...], x: Array | None = None) -> tuple[Array, ...]:
        """What stands with each term, at y (..., n, s, q) and x (n, q)."""
        assert x is not None
        xm, ym, c, s = (_of(v, lead) for v in (self.x_m, self.y_m, self.cosine, self.sine))
        run = (x[:, None, :] - xm) * s + ym * c
        value, slope, curve = self._phi(y * c - run, lead)
        value0, slope0, curve0 = self._phi(-run, lead)
        along = (value - value0, -2.0 * s * (slope - slope0), s * s * (curve - curve0))
        return (*along, c * slope, -s * c * curve, c * c * curve)

    def _phi(self, eta: Array, lead: tuple[NDArray[np.intp], ...]) -> tuple[Array, Array, Array]:
        size, h2 = np.abs(eta), self.half_m**2
        if self.side_m is None:
            return 0.25 / h2 * eta * size, 0.5 / h2 * size, 0.5 / h2 * np.sign(eta)
        side = _of(self.side_m, lead)
        inside = size < side
        value = np.where(inside, 0.5 * eta * eta, side * (size - 0.5 * side)) / h2
        return value, np.clip(eta, -side, side) / h2, np.where(inside, 1.0 / h2, 0.0)


def _of(v: Array, lead: tuple[NDArray[np.intp], ...]) -> Array:
    """Of the layouts of elements, for arrays (..., n, s, q)."""
    return v[lead][:, None, None] if v.ndim and lead else np.asarray(v)


Function = Warp | Power | Beside | Lag | Odd | Aslant
FLAT = (Warp, Lag)
"""Those that deflect nothing."""


def is_mixed(functions: Sequence[Function]) -> bool:
    """Whether bending and torsion meet: even and odd functions together, so that the whole width counts."""
    return any(isinstance(f, Odd) for f in functions) and not isinstance(functions[0], Odd)
