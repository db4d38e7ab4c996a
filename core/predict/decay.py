"""Sums of decaying exponentials, evaluated on even time steps at the cost of a small product."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_BLOCK = 40
UNDAMPED = 1e-11
"""A damping ratio below this is rounding: such a term never dies away."""
CLOSE = 1.35
"""Frequencies within this ratio of each other belong to one mode's envelope."""


@dataclass(frozen=True)
class Decay:
    """y(t) = Re sum amplitude exp(rate t); one rate per conjugate pair, real ones as they are.

    rate : (k,) complex 1/s; amplitude : (..., k) complex.
    """

    rate: ComplexArray
    amplitude: ComplexArray

    def about_rest(self) -> Decay:
        """Without what stays where it is: a charge that nothing leaks leaves the part bent, its new position of rest."""
        if not len(self.rate):
            return self
        moving = np.abs(self.rate) > UNDAMPED * np.abs(self.rate).max()
        return self if moving.all() else Decay(self.rate[moving], self.amplitude[..., moving])

    @np.errstate(over="ignore", invalid="ignore")
    def analytic(self, start_s: float, step_s: float, count: int) -> ComplexArray:
        """(..., count) complex sum, whose real part is y and whose size is the envelope."""
        blocks = -(-count // _BLOCK)
        power = self.rate[:, None] * (start_s + step_s * _BLOCK * np.arange(blocks))
        np.minimum(power.real, 700.0, out=power.real)
        coarse = np.exp(power)
        fine = np.empty((len(self.rate), _BLOCK), dtype=complex)
        fine[:, 0], fine[:, 1:] = 1.0, np.exp(self.rate * step_s)[:, None]
        np.multiply.accumulate(fine, axis=1, out=fine)
        scaled = self.amplitude[..., None, :] * coarse.T
        return (scaled @ fine).reshape(*self.amplitude.shape[:-1], blocks * _BLOCK)[..., :count]

    def by_mode(self, least: float) -> Decay:
        """Terms above `least` gathered where their frequencies are close, (c, k) amplitudes: the poles
        a circuit splits a mode into beat with each other, those of different modes only ripple."""
        keep = np.abs(self.amplitude) > least
        rate, amplitude = self.rate[keep], self.amplitude[keep]
        order = np.argsort(np.abs(rate.imag))
        rate, amplitude = rate[order], amplitude[order]
        size = np.abs(rate.imag)
        cluster = (
            np.concatenate([[0], np.cumsum(size[1:] > CLOSE * size[:-1])]) if len(rate) else np.zeros(0, int)
        )
        gathered = np.zeros((int(cluster.max(initial=-1)) + 1, len(rate)), dtype=complex)
        gathered[cluster, np.arange(len(rate))] = amplitude
        return Decay(rate, gathered)

    def slowest(self, level: float) -> float:
        """Smallest decay rate (1/s) among terms that start above `level`; inf without any."""
        size = np.abs(self.amplitude)
        rates = np.where(-self.rate.real > UNDAMPED * np.abs(self.rate), -self.rate.real, 0.0)[size > level]
        return float(rates.min()) if len(rates) else float("inf")


def settling_times(decay: Decay, fractions: tuple[float, ...], reference: float) -> tuple[float, ...]:
    """Times after which the envelope (the sum of each mode's own) stays below each fraction of
    the reference, s.

    inf when a term never falls below it (no damping); 0 when it starts below.
    """
    # Not against the largest term: two poles that all but meet have huge ones of opposite sign.
    modes = decay.by_mode(1e-6 * reference)
    return tuple(_settling_time(decay, modes, fraction * reference) for fraction in fractions)


def _settling_time(decay: Decay, modes: Decay, level: float) -> float:
    terms = max(1, len(decay.rate))
    slowest = decay.slowest(0.2 * level / terms)
    if level <= 0 or not np.isfinite(slowest):
        return 0.0
    if slowest <= 0:
        return float("inf")
    total = float(np.abs(decay.amplitude).sum())
    low, high = 0.0, max(np.log(max(total / level, 1.0)), 0.1) / slowest * 1.05
    first = second = level
    for count in (400, 40):
        step = (high - low) / (count - 1)
        size = np.abs(modes.analytic(low, step, count)).sum(axis=0)
        above = np.flatnonzero(size > level)
        if len(above) == 0:
            return low
        last = int(above[-1])
        if last == count - 1:
            return high
        low, high = low + last * step, low + (last + 1) * step
        first, second = float(size[last]), float(size[last + 1])
    share = np.log(first / level) / max(np.log(first / max(second, 1e-300)), 1e-300)
    return float(low + min(share, 1.0) * (high - low))
