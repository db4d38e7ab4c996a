"""The envelope of one mode in a free decay, and the straight line its logarithm follows.

The record is taken through a bell-shaped band about the mode, by its spectrum, which leaves an exponential
an exponential; what the ends of the record disturb is cut off. Where the line bends, damping depends on
amplitude: that is a finding, told with the swing at which it bends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.measured.damping import DISAGREEMENT, ratio_of_decrement
from core.measured.record import Array

ABOVE_NOISE = 5.0
"""The line is followed down to so many times the noise."""
ENDS = 4.0
"""Widths of the bell in time that are cut off at either end."""
FEWEST_POINTS = 8


@dataclass(frozen=True, eq=False)
class Envelope:
    """Swing of a mode over time, (n,) each, and down to where it stands above the noise."""

    time_s: Array
    swing: Array
    phase_rad: Array
    used: int
    noise: float
    bandwidth_hz: float


@dataclass(frozen=True)
class Line:
    """What the line through the logarithm of an envelope says.

    `zeta` with its standard deviation, `f_hz` the damped frequency; where the envelope bends: the swing
    there and the damping above and below it, else None.
    """

    f_hz: float
    u_f_hz: float
    zeta: float
    u_zeta: float
    start: float
    slope: float
    bend_swing: float | None = None
    bend_time_s: float | None = None
    zeta_large: float | None = None
    zeta_small: float | None = None

    def at(self, time_s: Array) -> Array:
        return np.asarray(np.exp(self.start + self.slope * time_s))


def envelope(
    spectrum: NDArray[np.complex128], hertz: Array, count: int, step_s: float, f_hz: float, half_width_hz: float
) -> Envelope | None:
    """The envelope of what swings within the band, from the spectrum of a record of `count` samples; None where
    the record is too short for it."""
    sigma_hz = half_width_hz / 2.5
    sigma_s = 1.0 / (2.0 * np.pi * sigma_hz)
    skip = int(np.ceil(ENDS * sigma_s / step_s))
    if count <= 2 * skip + FEWEST_POINTS:
        return None
    low, high = np.searchsorted(hertz, [f_hz - 5 * sigma_hz, f_hz + 5 * sigma_hz])
    low = max(int(low), 1)
    bell = np.exp(-0.5 * ((hertz[low:high] - f_hz) / sigma_hz) ** 2)
    band = 2.0 * spectrum[low:high] * bell
    # the band alone, shifted to zero, has far fewer points than the record
    size = 1 << int(np.ceil(np.log2(max(2 * len(band), 64))))
    size = min(size, count)
    if len(band) < 4 or len(band) > size:
        return None
    base = np.fft.ifft(np.concatenate([band, np.zeros(size - len(band))])) * size / count
    time = np.asarray(np.arange(size) * (count * step_s / size), dtype=float)
    keep = (time >= skip * step_s) & (time <= (count - skip) * step_s)
    shift = float(hertz[low])
    swing = np.abs(base[keep])
    phase = np.unwrap(np.angle(base[keep])) + 2.0 * np.pi * shift * time[keep]
    if len(swing) < FEWEST_POINTS or not np.isfinite(swing).all() or swing.max() <= 0.0:
        return None
    noise = _noise(spectrum, hertz, f_hz, sigma_hz, count)
    above = swing > ABOVE_NOISE * noise
    used = int(np.argmin(above)) if not above.all() else len(swing)
    return Envelope(time[keep], swing, phase, used, noise, sigma_hz)


def _noise(spectrum: NDArray[np.complex128], hertz: Array, f_hz: float, sigma_hz: float, count: int) -> float:
    """Root mean square that noise alone would have in the band, from the quiet lines on either side of it."""
    a, b, c, d = np.searchsorted(hertz, f_hz + sigma_hz * np.array([-40.0, -6.0, 6.0, 40.0]))
    lines = np.abs(np.concatenate([spectrum[a:b], spectrum[c:d]]))
    if len(lines) < 8:
        return 0.0
    quiet = np.sort(lines)[: max(len(lines) // 2, 4)]
    level = float(np.median(quiet)) / 0.54  # lower half of a Rayleigh spread to its root mean square
    share = float(np.sqrt(np.sqrt(np.pi) * sigma_hz / (hertz[1] - hertz[0])))
    return 2.0 * level * share / count


def decay_line(found: Envelope, f_hz: float) -> Line | None:
    """The line that the envelope follows above the noise, and where it bends; None for too few points."""
    n = found.used
    if n < FEWEST_POINTS:
        return None
    t, log, phase = found.time_s[:n], np.log(found.swing[:n]), found.phase_rad[:n]
    weight = _weights(found, n)
    slope, start, u_slope = _fit(t, log, weight, found.bandwidth_hz)
    turn, _, u_turn = _fit(t, phase, weight, found.bandwidth_hz)
    hertz = turn / (2.0 * np.pi)
    if not hertz > 0.0 or not np.isfinite(slope):
        return None
    line = Line(
        hertz, u_turn / (2 * np.pi), ratio_of_decrement(-slope / hertz), u_slope / turn, start, slope
    )
    return _bent(line, t, log, weight, found)


def _weights(found: Envelope, n: int) -> Array:
    """The logarithm of a swing is as sure as the swing is large over the noise."""
    floor = max(found.noise, 1e-3 * float(found.swing[0]))
    return np.minimum(found.swing[:n] / floor, 300.0)


def _fit(t: Array, y: Array, weight: Array, bandwidth_hz: float) -> tuple[float, float, float]:
    """Slope, start and the slope's standard deviation; neighbours closer than the band's own time are one."""
    w = weight**2
    total = w.sum()
    middle = (w * t).sum() / total
    spread = (w * (t - middle) ** 2).sum()
    level = (w * y).sum() / total
    slope = float((w * (t - middle) * (y - level)).sum() / spread)
    off = y - level - slope * (t - middle)
    length = float(t[-1] - t[0])
    independent = max(min(2.0 * bandwidth_hz * length, float(len(t))), 3.0)
    variance = float((w * off**2).sum() / total) * independent / max(independent - 2.0, 1.0)
    u = float(np.sqrt(variance * total / spread / independent))
    return slope, float(level - slope * middle), u


def _bent(line: Line, t: Array, log: Array, weight: Array, found: Envelope) -> Line:
    """The line with its bend, where two lines fit much better and differ by more than repeats do."""
    n = len(t)
    if n < 4 * FEWEST_POINTS or log[0] - log[-1] < 1.0:
        return line
    whole = _left(t, log, weight)
    best, cut = np.inf, 0
    for k in np.unique(np.linspace(n // 6, n - n // 6, 40).astype(int)):
        both = _left(t[:k], log[:k], weight[:k]) + _left(t[k:], log[k:], weight[k:])
        if both < best:
            best, cut = both, int(k)
    if cut == 0 or best > 0.5 * whole:
        return line
    first, _, u_first = _fit(t[:cut], log[:cut], weight[:cut], found.bandwidth_hz)
    last, _, u_last = _fit(t[cut:], log[cut:], weight[cut:], found.bandwidth_hz)
    differ = abs(first - last)
    if differ < DISAGREEMENT * abs(line.slope) or differ < 4.0 * np.hypot(u_first, u_last):
        return line
    large, small = (ratio_of_decrement(-s / line.f_hz) for s in (first, last))
    return Line(
        line.f_hz, line.u_f_hz, line.zeta, line.u_zeta, line.start, line.slope,
        float(np.exp(log[cut])), float(t[cut]), large, small,
    )  # fmt: skip


def _left(t: Array, y: Array, weight: Array) -> float:
    w = weight**2
    middle = (w * t).sum() / w.sum()
    level = (w * y).sum() / w.sum()
    spread = (w * (t - middle) ** 2).sum()
    slope = (w * (t - middle) * (y - level)).sum() / spread if spread > 0.0 else 0.0
    return float((w * (y - level - slope * (t - middle)) ** 2).sum())
