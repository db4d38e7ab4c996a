"""Poles that several modes have at once, by least squares on the lines of a spectrum about each of them.

Variable projection: the lines are a linear sum of shapes that the poles fix, so only the poles are
searched for (Golub and Pereyra 1973, SIAM J. Numer. Anal. 10, 413, amplitudes solved at each step). A free
decay is fitted by its discrete spectrum in closed form, (1 - z^N)/(1 - z e^(-i w)) for each sampled
exponential, so that a short record costs no bias; a response function by its partial fractions. What lies
outside a band is a straight line in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.measured.record import Array

Complex = NDArray[np.complex128]
Shapes = Callable[[Complex], Complex]
"""Poles (K,) to their shapes (lines, 2 K): real and imaginary part of each amplitude."""

LARGEST_RATIO = 0.5
LEAST_DECAY = 1e-9
"""Damping ratio that no pole of a response function falls below in the fit."""

GROWN = 30.0
"""Exponent up to which a growing pole is followed through a part of a record."""


@dataclass(frozen=True, eq=False)
class Poles:
    """Poles in rad/s with a positive imaginary part, and how well they are known.

    `deviation` (K, 2) standard deviations of real and imaginary part from the residual, `fitted` the
    lines as the poles make them, `misfit` the root mean square of what is left over that of the lines.
    """

    value: Complex
    deviation: Array
    fitted: Complex
    amplitude: Complex
    misfit: float

    @property
    def natural_hz(self) -> Array:
        """(K,) undamped natural frequencies."""
        return np.asarray(np.abs(self.value) / (2.0 * np.pi))

    @property
    def zeta(self) -> Array:
        return np.asarray(-self.value.real / np.abs(self.value))

    @property
    def u_natural_hz(self) -> Array:
        return np.asarray(self.deviation[:, 1] / (2.0 * np.pi))

    @property
    def u_zeta(self) -> Array:
        return np.asarray(self.deviation[:, 0] / np.abs(self.value))


def decay_shapes(lines_rad: Array, samples: int, step_s: float) -> Shapes:
    """Shapes of the discrete spectrum of a free decay of so many samples; `lines_rad` in rad per sample."""
    turn = np.exp(-1j * lines_rad)[:, None]

    def shapes(poles: Complex) -> Complex:
        def one(s: Complex) -> Complex:
            z = np.exp(s * step_s)
            return np.asarray((1.0 - np.exp(s * step_s * samples)) / (1.0 - z * turn))

        plus, minus = one(poles[None, :]), one(np.conj(poles)[None, :])
        return np.concatenate([plus + minus, 1j * (plus - minus)], axis=1)

    return shapes


def response_shapes(lines_rad_s: Array) -> Shapes:
    """Shapes of a response function at those lines: partial fractions of each pole and its conjugate."""
    s = 1j * lines_rad_s[:, None]

    def shapes(poles: Complex) -> Complex:
        poles = poles - LEAST_DECAY * np.abs(poles)  # a pole on a line would be infinite there
        plus, minus = 1.0 / (s - poles[None, :]), 1.0 / (s - np.conj(poles)[None, :])
        return np.asarray(np.concatenate([plus + minus, 1j * (plus - minus)], axis=1))

    return shapes


def hann_shapes(lines_rad_s: Array, length_s: float) -> Shapes:
    """Shapes of a response function averaged over parts of that length under a Hann window.

    What a steady white force gives in the mean is the impulse response times the window's own correlation,
    (1 - x)(2 + cos 2 pi x)/3 + sin(2 pi x)/(2 pi) at x = t/length, over the length of a part: in closed form, so that
    the window's widening of a peak is no damping.
    """
    lines = 1j * lines_rad_s[:, None]
    turn = 2j * np.pi

    def one(poles: Complex) -> Complex:
        z = np.asarray((poles[None, :] - lines) * length_s, dtype=complex)
        z = np.minimum(z.real, GROWN) + 1j * z.imag  # a search may stray to poles that grow
        up, down = np.asarray(z + turn, dtype=complex), np.asarray(z - turn, dtype=complex)
        fallen = 4.0 * _falling(z) + _falling(up) + _falling(down)
        return np.asarray(length_s * (fallen / 6.0 + (_level(up) - _level(down)) / (2.0 * turn)))

    def shapes(poles: Complex) -> Complex:
        plus, minus = one(poles), one(np.conj(poles))
        return np.asarray(np.concatenate([plus + minus, 1j * (plus - minus)], axis=1))

    return shapes


def _level(z: Complex) -> Complex:
    """Integral of e^(z x) over x from 0 to 1."""
    small = np.abs(z) < 1e-5
    safe = np.where(small, 1.0, z)
    return np.asarray(np.where(small, 1.0 + z / 2.0, np.expm1(safe) / safe), dtype=complex)


def _falling(z: Complex) -> Complex:
    """Integral of (1 - x) e^(z x) over x from 0 to 1."""
    small = np.abs(z) < 1e-5
    safe = np.where(small, 1.0, z)
    return np.asarray(np.where(small, 0.5 + z / 6.0, (np.expm1(safe) - safe) / safe**2), dtype=complex)


def fit_poles(shapes: Shapes, lines: Complex, bands: NDArray[np.int64], start: Complex) -> Poles | None:
    """The poles whose shapes fit the lines best, from `start`; None where nothing settles.

    `bands` (lines,) says to which band a line belongs: each has a straight line of its own for all that is
    not fitted.
    """
    from scipy.optimize import least_squares  # slow to import, needed only here

    scale = float(np.sqrt(np.mean(np.abs(lines) ** 2)))
    if not scale > 0.0 or not np.isfinite(scale):
        return None
    data = lines / scale
    rest = _rest(bands)
    size = np.abs(start)

    def of(x: Array) -> Complex:
        k = len(start)
        ratio = LARGEST_RATIO * np.tanh(x[:k])
        return np.asarray(size * np.exp(x[k:] * 1e-2) * (-ratio + 1j * np.sqrt(1.0 - ratio**2)))

    def solved(x: Array) -> tuple[Array, Complex]:
        matrix = np.concatenate([shapes(of(x)), rest], axis=1)
        norms = np.linalg.norm(matrix, axis=0)
        norms[norms == 0.0] = 1.0
        if not np.isfinite(norms).all():
            raise ValueError("shapes without bound")
        stacked = np.concatenate([(matrix / norms).real, (matrix / norms).imag])
        wanted = np.concatenate([data.real, data.imag])
        found = np.linalg.lstsq(stacked, wanted, rcond=1e-13)[0]
        return found / norms, np.asarray((matrix / norms) @ found)

    def left(x: Array) -> Array:
        off = solved(x)[1] - data
        return np.concatenate([off.real, off.imag])

    ratio = np.clip(-start.real / size, -0.45, 0.45)
    x0 = np.concatenate([np.arctanh(ratio / LARGEST_RATIO), np.zeros(len(start))])
    try:
        out = least_squares(left, x0, x_scale="jac", xtol=1e-10, ftol=1e-12, max_nfev=200)
    except (ValueError, np.linalg.LinAlgError):
        return None
    amplitudes, fitted = solved(out.x)
    freedom = max(2 * len(lines) - rest.shape[1] - 4 * len(start), 1)
    try:
        covariance = np.linalg.inv(out.jac.T @ out.jac) * 2.0 * out.cost / freedom
    except np.linalg.LinAlgError:
        return None
    poles, k = of(out.x), len(start)
    spread = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    u_ratio = spread[:k] * LARGEST_RATIO / np.cosh(out.x[:k]) ** 2
    deviation = np.stack([u_ratio * np.abs(poles), spread[k:] * 1e-2 * np.abs(poles)], axis=1)
    return Poles(
        poles, deviation, np.asarray(fitted * scale), np.asarray((amplitudes[:k] + 1j * amplitudes[k : 2 * k]) * scale),
        float(np.sqrt(np.mean(np.abs(fitted - data) ** 2))),
    )  # fmt: skip


def _rest(bands: NDArray[np.int64]) -> Complex:
    """(lines, 4 B) a complex straight line in each band."""
    columns = []
    for band in np.unique(bands):
        inside = bands == band
        slope = np.where(inside, np.cumsum(inside) - 1.0, 0.0)
        slope = np.where(inside, slope / max(slope.max(), 1.0) - 0.5, 0.0)
        columns += [inside + 0j, 1j * inside, slope + 0j, 1j * slope]
    return np.stack(columns, axis=1)
