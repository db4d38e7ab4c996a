"""Laws of an active loop and what delays them, as transfer functions and as states.

A loop reads the voltage y across the leads of a sensing group and drives the leads of another with u = G(s) y.
Counted so, a positive gain damps where both groups lie at the same place with the same polarity: a voltage pushes
against its own poling's strain, which the open leads of such a group answer with a voltage of the same sign.

    velocity feedback            G = g s
    positive position feedback   G = -sum of g w^2/(s^2 + 2 z w s + w^2), one filter a mode (Fanson & Caughey 1990)
    transfer function            G = numerator/denominator, powers of s, highest first

An amplifier adds its gain and a first-order lag, sampling and computing a pure delay: that asked for and half a
sample, which holding a value costs. States take the delay by Pade's diagonal fraction of an order that no longer
shows (`pade_order`); margins take it exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import factorial, inf

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

DELAY_SHOWS = 1e-8
"""Phase error in rad at the highest frequency that matters, below which an order of Pade's fraction is enough."""
HIGHEST_ORDER = 14


@dataclass(frozen=True)
class VelocityFeedback:
    """G = g s; gain in V s/V."""

    gain_s: float


@dataclass(frozen=True)
class Filter:
    """One filter of a position feedback: frequency in Hz, damping ratio, gain V/V at rest."""

    frequency_hz: float
    damping_ratio: float
    gain: float


@dataclass(frozen=True)
class PositionFeedback:
    """One filter per mode that is to be damped."""

    filters: tuple[Filter, ...]


@dataclass(frozen=True)
class TransferFunction:
    """Coefficients of powers of s, highest first; the denominator's degree at least the numerator's minus one (the
    amplifier's lag makes the rest proper)."""

    numerator: tuple[float, ...]
    denominator: tuple[float, ...]


Law = VelocityFeedback | PositionFeedback | TransferFunction


@dataclass(frozen=True)
class Amplifier:
    """Gain V/V, first-order bandwidth, output resistance, and what it can give at most to either side."""

    gain: float = 1.0
    bandwidth_hz: float = 10e3
    output_ohm: float = 10.0
    voltage_v: float = inf
    current_a: float = inf


@dataclass(frozen=True)
class Timing:
    """Delay in s of everything but holding, and the sampling frequency (None: not sampled)."""

    delay_s: float = 0.0
    sampling_hz: float | None = None

    @property
    def total_s(self) -> float:
        """With half a sample for the value that is held."""
        return self.delay_s + (0.5 / self.sampling_hz if self.sampling_hz else 0.0)


@dataclass(frozen=True)
class Control:
    """A law with its amplifier and timing."""

    law: Law
    amplifier: Amplifier = field(default_factory=Amplifier)
    timing: Timing = field(default_factory=Timing)

    def at(self, omega_rad_s: Array) -> ComplexArray:
        """u/y at each frequency."""
        return self.transfer(np.asarray(1j * omega_rad_s, dtype=complex))

    def transfer(self, s: ComplexArray) -> ComplexArray:
        """u/y, the delay exact."""
        top, bottom = polynomials(self.law)
        lag = 1.0 + s / (2 * np.pi * self.amplifier.bandwidth_hz)
        return np.asarray(
            self.amplifier.gain * np.polyval(top, s) / np.polyval(bottom, s) / lag * np.exp(-s * self.timing.total_s)
        )


def polynomials(law: Law) -> tuple[Array, Array]:
    """(numerator, denominator) of G in powers of s, highest first."""
    if isinstance(law, VelocityFeedback):
        return np.array([law.gain_s, 0.0]), np.array([1.0])
    if isinstance(law, TransferFunction):
        over, under = (np.trim_zeros(np.array(own, dtype=float), "f") for own in (law.numerator, law.denominator))
        return over, under
    top: Array = np.zeros(1)
    bottom: Array = np.ones(1)
    for one in law.filters:
        w = 2 * np.pi * one.frequency_hz
        own = np.array([1.0, 2 * one.damping_ratio * w, w * w])
        top = np.asarray(np.polyadd(np.convolve(top, own), -one.gain * w * w * bottom), dtype=float)
        bottom = np.convolve(bottom, own)
    return top, bottom


@dataclass(frozen=True)
class States:
    """x' = A x + B y, u = C x + D y."""

    a: Array
    b: Array
    c: Array
    d: float

    def then(self, other: States) -> States:
        """This one's output into the other."""
        n, m = len(self.a), len(other.a)
        a = np.zeros((n + m, n + m))
        a[:n, :n], a[n:, n:], a[n:, :n] = self.a, other.a, np.outer(other.b, self.c)
        return States(
            a,
            np.concatenate([self.b, other.b * self.d]),
            np.concatenate([other.d * self.c, other.c]),
            self.d * other.d,
        )

    def beside(self, other: States) -> States:
        """Both outputs added."""
        n, m = len(self.a), len(other.a)
        a = np.zeros((n + m, n + m))
        a[:n, :n], a[n:, n:] = self.a, other.a
        return States(a, np.concatenate([self.b, other.b]), np.concatenate([self.c, other.c]), self.d + other.d)

    def response(self, s: ComplexArray) -> ComplexArray:
        """u/y at each s (F,)."""
        matrix = s[:, None, None] * np.eye(len(self.a)) - self.a
        right = np.broadcast_to(self.b.astype(complex)[:, None], (len(s), len(self.a), 1))
        return np.asarray((np.linalg.solve(matrix, right)[..., 0] @ self.c) + self.d)


def states_of(top: Sequence[float] | Array, bottom: Sequence[float] | Array) -> States:
    """Of a proper transfer function, time counted in its own size so that no power of s drowns another."""
    over: Array = np.trim_zeros(np.asarray(top, dtype=float), "f")
    under: Array = np.trim_zeros(np.asarray(bottom, dtype=float), "f")
    n = len(under) - 1
    if len(over) > len(under):
        raise ValueError("The numerator's degree is above the denominator's.")
    if not n:
        return States(np.zeros((0, 0)), np.zeros(0), np.zeros(0), float(over[0] / under[0]) if len(over) else 0.0)
    size = _size(under)
    powers = size ** np.arange(n, -1, -1.0)
    leading = under[0] * powers[0]
    under = under * powers / leading
    over = np.concatenate([np.zeros(n + 1 - len(over)), over]) * powers / leading
    d = float(over[0])
    a = np.zeros((n, n))
    a[0] = -under[1:]
    a[1:, :-1] += np.eye(n - 1)
    b = np.zeros(n)
    b[0] = 1.0
    return States(size * a, size * b, over[1:] - d * under[1:], d)


def _size(bottom: Array) -> float:
    """A frequency about which the roots lie, rad/s."""
    last = int(np.flatnonzero(bottom)[-1])
    return float(np.abs(bottom[last] / bottom[0]) ** (1.0 / last)) if last else 1.0


def pade_order(angle: float) -> int:
    """Order of the diagonal fraction for a phase of so many rad at the highest frequency that matters: the first
    neglected term is 2 (n!)^2/((2n)! (2n + 1)!) angle^(2n + 1)."""
    for n in range(1, HIGHEST_ORDER):
        if 2 * factorial(n) ** 2 / (factorial(2 * n) * factorial(2 * n + 1)) * angle ** (2 * n + 1) < DELAY_SHOWS:
            return n
    return HIGHEST_ORDER


def delay_states(delay_s: float, highest_rad_s: float) -> States:
    """A pure delay up to that frequency: first- and second-order all-passes in a row, from the roots of Pade's
    polynomial."""
    if delay_s <= 0.0:
        return States(np.zeros((0, 0)), np.zeros(0), np.zeros(0), 1.0)
    n = pade_order(delay_s * highest_rad_s)
    # in powers of (s delay), highest first: (2n - k)! n!/((2n)! k! (n - k)!)
    coefficients = [
        factorial(2 * n - k) * factorial(n) / (factorial(2 * n) * factorial(k) * factorial(n - k))
        for k in range(n, -1, -1)
    ]
    out = States(np.zeros((0, 0)), np.zeros(0), np.zeros(0), 1.0)
    for root in np.roots(coefficients):
        pole = root / delay_s
        if abs(pole.imag) < 1e-9 * abs(pole):
            out = out.then(_first_order(-pole.real))
        elif pole.imag > 0:
            out = out.then(_second_order(-2 * pole.real, abs(pole)))
    return out


def _first_order(a: float) -> States:
    """(a - s)/(a + s) in states that store what goes in: a row of these keeps its digits, whatever its length."""
    root = (2 * a) ** 0.5
    return States(np.array([[-a]]), np.array([root]), np.array([root]), -1.0)


def _second_order(a: float, w: float) -> States:
    """(s^2 - a s + w^2)/(s^2 + a s + w^2), likewise."""
    root = (2 * a) ** 0.5
    return States(np.array([[-a, -w], [w, 0.0]]), np.array([root, 0.0]), np.array([-root, 0.0]), 1.0)


def control_states(control: Control, highest_rad_s: float) -> States:
    """Law, amplifier and delay in a row. Raises ValueError where the law grows with frequency faster than the
    amplifier's lag falls."""
    lag = 2 * np.pi * control.amplifier.bandwidth_hz
    law, gain = control.law, control.amplifier.gain
    if isinstance(law, PositionFeedback):
        own = States(np.zeros((0, 0)), np.zeros(0), np.zeros(0), 0.0)
        for one in law.filters:
            w = 2 * np.pi * one.frequency_hz
            own = own.beside(states_of([-one.gain * w * w], [1.0, 2 * one.damping_ratio * w, w * w]))
        out = own.then(states_of([gain * lag], [1.0, lag]))
    else:
        top, bottom = polynomials(law)
        if len(np.trim_zeros(top, "f")) > len(np.trim_zeros(bottom, "f")) + 1:
            raise ValueError(
                f"The numerator's degree {len(top) - 1} is more than one above the denominator's {len(bottom) - 1}. "
                "Add poles to the denominator."
            )
        out = states_of(gain * lag * top, np.convolve(bottom, [1.0, lag]))
    return _balanced(out.then(delay_states(control.timing.total_s, highest_rad_s)))


def _balanced(states: States) -> States:
    """The same with what goes in and what comes out of the states about as large: a gain of a million in one place
    would raise what counts as rounding everywhere."""
    size = np.sqrt((np.linalg.norm(states.c) or 1.0) / (np.linalg.norm(states.b) or 1.0))
    return States(states.a, states.b * size, states.c / size, states.d)
