"""How far a loop is from growing: margins, the gain at which it grows first and what grows then, locus data,
and whether poles and zeros alternate.

A structure with passive circuits and a control whose own poles decay is stable with the loop open. Raised from
nothing, the gain first makes a pole grow where L crosses the negative real axis furthest out: at -1/Re L of the
crossing with the largest -Re L, at rest included. That counts the delay exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from core.circuit.loop import Loop
from core.circuit.loop_law import polynomials
from core.circuit.spectrum import spectra_of

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

PER_DECADE, NEAR = 260, 61
DRIFTS = 0.25
"""Below so much of mode 1's frequency what grows only drifts to one side."""
SETTLED = 1e-9


@dataclass(frozen=True)
class Crossing:
    """A place where the loop grows if its gain is `times` as large: frequency in Hz, the mode (from 1) whose it is;
    None where it drifts to one side."""

    times: float
    frequency_hz: float
    mode: int | None


@dataclass(frozen=True)
class Margins:
    """`first` is what grows first as the gain rises (None: nothing ever). Phase in rad and the delay in s that may
    still be added, with the frequency; inf where |L| stays below 1. `nearest` is the least |1 + L|, at Hz."""

    first: Crossing | None
    phase_rad: float
    phase_hz: float | None
    delay_s: float
    delay_hz: float | None
    nearest: float
    nearest_hz: float

    @property
    def gain_db(self) -> float:
        """How much the gain may rise; inf without a limit."""
        return inf if self.first is None else float(20 * np.log10(self.first.times))


def grid(loop: Loop) -> Array:
    """(F,) rad/s from far below the modes to far above, dense about every mode and filter."""
    system = loop.system
    omega = system.omega_rad_s
    low, high = 1e-4 * float(omega[0]), 30.0 * float(omega[-1])
    even = np.geomspace(low, high, int(PER_DECADE * np.log10(high / low)))
    width = np.maximum(system.zeta, 1e-4) * omega
    bend = np.sinh(np.linspace(-6.0, 6.0, NEAR)) / 4.0
    near = (omega[:, None] + width[:, None] * bend).ravel()
    opened = omega * np.sqrt(1.0 + system.theta[:, loop.sensing] ** 2 / (omega**2 * system.capacitance_f[loop.sensing, loop.sensing]))
    near = np.concatenate([near, (opened[:, None] + width[:, None] * bend).ravel()])
    return np.sort(np.concatenate([even, near[(near > low) & (near < high)]]))


def margins(loop: Loop, omega_rad_s: Array | None = None) -> Margins:
    """Margins of the loop as it is."""
    w = grid(loop) if omega_rad_s is None else omega_rad_s
    gain = loop.gain(w)
    first = _first(loop, w, gain)
    phase, phase_hz, delay, delay_hz = inf, None, inf, None
    for at in _crossings(w, np.abs(gain) - 1.0, lambda x: np.abs(loop.gain(x)) - 1.0):
        angle = float(np.angle(-loop.gain(np.array([at]))[0]))  # from -1, counter-clockwise positive
        if abs(angle) < phase:
            phase, phase_hz = abs(angle), at / (2 * np.pi)
        # delay turns L clockwise; what lies less than a turn ahead of -1 is reached
        turn = angle if angle > 0 else angle + 2 * np.pi
        if turn / at < delay:
            delay, delay_hz = turn / at, at / (2 * np.pi)
    distance = np.abs(1.0 + gain)
    least = int(np.argmin(distance))
    return Margins(first, phase, phase_hz, delay, delay_hz, float(distance[least]), float(w[least]) / (2 * np.pi))


def largest_gain(loop: Loop) -> Crossing | None:
    """What grows first as the gain rises, and at how many times the present gain; None where nothing does."""
    w = grid(loop)
    return _first(loop, w, loop.gain(w))


def safe_gain(loop: Loop, omega_rad_s: Array) -> Crossing | None:
    """The same, where the poles agree too: below mode 1 they take the dielectric to conduct as at mode 1, more than it
    does, and a loop that only one of both calls stable is not called so."""
    at_mode = float(loop.system.omega_rad_s[0])
    both = [
        _first(loop, omega_rad_s, loop.gain(omega_rad_s)),
        _first(loop, omega_rad_s, loop.gain(omega_rad_s, at_mode), at_mode),
    ]
    found = [one for one in both if one is not None]
    return min(found, key=lambda one: one.times) if found else None


def _first(loop: Loop, w: Array, gain: ComplexArray, loss_rad_s: float | None = None) -> Crossing | None:
    found: list[tuple[float, float]] = []
    for at in _crossings(w, gain.imag, lambda x: loop.gain(x, loss_rad_s).imag):
        real = float(loop.gain(np.array([at]), loss_rad_s)[0].real)
        if real < 0.0:
            found.append((-1.0 / real, at))
    # below the lowest frequency the gain is that at rest
    if gain[0].real < 0.0 and abs(gain[0].imag) < 0.05 * abs(gain[0].real):
        found.append((-1.0 / float(gain[0].real), 0.0))
    if not found:
        return None
    times, at = min(found)
    omega = loop.system.omega_rad_s
    mode = None if at < DRIFTS * float(omega[0]) else int(np.argmin(np.abs(np.log(omega / at)))) + 1
    return Crossing(times, at / (2 * np.pi), mode)


def _crossings(w: Array, values: Array, of: Callable[[Array], Array]) -> list[float]:
    """Where values change sign, sharpened by the false-position rule."""
    change = np.flatnonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0)
    if not len(change):
        return []
    a, b, fa, fb = w[change].copy(), w[change + 1].copy(), values[change].copy(), values[change + 1].copy()
    for _ in range(40):
        x = (a * fb - b * fa) / (fb - fa)
        fx = of(x)
        left = np.sign(fx) == np.sign(fa)
        # the end that stays counts half (Illinois), so that both ends move
        a, fa, fb = np.where(left, x, a), np.where(left, fx, fa * np.where(left, 1.0, 0.5)), np.where(left, 0.5 * fb, fb)
        b, fb = np.where(left, b, x), np.where(left, fb, fx)
        if (np.abs(b - a) <= SETTLED * np.abs(b)).all():
            break
    return [float(v) for v in np.where(np.abs(fa) < np.abs(fb), a, b)]


def loop_is_stable_open(loop: Loop) -> bool:
    """Whether the control's own poles decay: what the law of the first crossing needs."""
    bottom = polynomials(loop.control.law)[1]
    return bool((np.roots(bottom).real < 0.0).all()) if len(bottom) > 1 else True


def locus(loop: Loop, times: Array, loss_hz: float | None = None) -> ComplexArray:
    """(K, P) poles with the gain so many times as large, positive imaginary part or real, nan to fill. The dielectric
    conducts as at `loss_hz`, by default at mode 1."""
    at = float(loop.system.omega_rad_s[0]) if loss_hz is None else 2 * np.pi * loss_hz
    found = spectra_of(loop.closed(np.asarray(times, dtype=float)), at)
    out = np.full((len(times), max(len(s.value_rad_s) for s in found)), np.nan + 0j)
    for row, spectrum in zip(out, found, strict=True):
        row[: len(spectrum.value_rad_s)] = spectrum.value_rad_s
    return out


@dataclass(frozen=True)
class Alternation:
    """Whether a zero lies between each mode and the next: `up_to` is the mode (from 1) up to which it does, from
    mode 1 on; `broken` the modes after which none lies, because sensor and driver see these two modes with
    different signs."""

    up_to: int
    broken: tuple[int, ...]

    @property
    def collocated(self) -> bool:
        return not self.broken


def alternation(loop: Loop) -> Alternation:
    """From the signs of the modes' shares theta_sense theta_drive: a zero lies between two modes where they agree."""
    share = loop.system.theta[:, loop.sensing] * loop.system.theta[:, loop.driven]
    agree = share[:-1] * share[1:] > 0.0
    broken = tuple(int(i) + 1 for i in np.flatnonzero(~agree))
    return Alternation(broken[0] if broken else len(share), broken)
