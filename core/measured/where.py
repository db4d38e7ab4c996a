"""Where to look for modes: which channel, which part of the record, at which frequencies."""

from __future__ import annotations

import math

import numpy as np

from core.measured.poles import Complex
from core.measured.record import Array, Block, Channel, MeasuredError

NEAR = 0.3
"""A mode is looked for within this share of where it is expected."""
OVER_QUIET = 8.0
"""A peak stands out by so much over the quiet lines from a third of its frequency to three times it: noise alone
comes to six."""
WIDEST = 0.25
"""Half width of a band over the mode's frequency, at most."""


def liveliest(responses: tuple[Channel, ...]) -> Channel:
    """The channel that stands furthest above what its steps alone would be."""

    def life(c: Channel) -> float:
        v = np.asarray(c.values, dtype=float)
        rough = float(np.sqrt(np.mean(np.diff(v) ** 2))) or 1e-300
        return float(np.std(v)) / rough

    return max(responses, key=life)


def looked_at(values: Array, block: Block, window_s: tuple[float, float] | None) -> tuple[int, int]:
    """First and last sample to look at, those of `window_s` (s): as told, else from behind the largest swing (and the blow) on."""
    if window_s is not None:
        first = round((window_s[0] - block.start) / block.step)
        last = round((window_s[1] - block.start) / block.step)
        first, last = max(first, 0), min(last, len(values))
        if last - first < 64:
            raise MeasuredError("The part of the record to look at is shorter than 64 samples. Draw its ends further apart.")
        return first, last
    quiet = np.median(values[-max(len(values) // 10, 1) :])
    swing = np.abs(values - quiet)
    # a release holds still at first: what counts is the first time it comes back through the middle
    first = int(np.argmax(swing))
    if swing[0] > 0.9 * swing[first]:
        crossed = np.flatnonzero(np.diff(np.signbit(values - quiet)))
        first = int(crossed[0]) if len(crossed) else first
    force = block.force
    if force is not None:
        blow = np.abs(np.asarray(force.values, dtype=float))
        hit = np.flatnonzero(blow > 0.05 * blow.max())
        first = max(first, int(hit[-1]) + 1) if len(hit) and hit[-1] < 0.5 * len(values) else first
    return (first, len(values)) if len(values) - first >= 64 else (0, len(values))


def spectrum_of(values: Array, step: float) -> tuple[Array, Complex]:
    """Frequencies and discrete spectrum without padding: its lines are independent of each other."""
    return np.asarray(np.fft.rfftfreq(len(values), step), dtype=float), np.asarray(np.fft.rfft(values))


def peaks_of(hertz: Array, magnitude: Array, expected_hz: tuple[float, ...], count: int) -> list[tuple[int, float]]:
    """(number, frequency) of the peaks to look at, lowest first."""
    if expected_hz:
        out = []
        for n, f in enumerate(expected_hz[: max(count, 1)]):
            below = math.sqrt(f * expected_hz[n - 1]) if n else 0.0
            above = math.sqrt(f * expected_hz[n + 1]) if n + 1 < len(expected_hz) else math.inf
            low, high = max(f * (1 - NEAR), below), min(f * (1 + NEAR), above)
            top = _highest(hertz, magnitude, low, high)
            if top is not None:
                out.append((n + 1, top))
        return out
    return [(n + 1, f) for n, f in enumerate(_highest_peaks(hertz, magnitude, count))]


def _highest(hertz: Array, magnitude: Array, low: float, high: float) -> float | None:
    a, b = np.searchsorted(hertz, [low, high])
    a = max(int(a), 1)
    if b - a < 3 or hertz[-1] < high * 0.8:
        return None
    part = magnitude[a:b]
    k = int(np.argmax(part))
    if not part[k] > OVER_QUIET * _quiet(hertz, magnitude, float(hertz[a + k])) or k in (0, len(part) - 1):
        return None
    return float(hertz[a + k])


def _quiet(hertz: Array, magnitude: Array, f: float) -> float:
    """The lower quartile of the lines from a third of a frequency to three times it: noise, where there is any."""
    a, b = np.searchsorted(hertz, [f / 3.0, 3.0 * f])
    return float(np.quantile(magnitude[max(int(a), 1) : max(int(b), 8)], 0.25))


def _highest_peaks(hertz: Array, magnitude: Array, count: int) -> list[float]:
    inner = np.arange(2, len(magnitude) - 2)
    tops = inner[(magnitude[inner] > magnitude[inner - 1]) & (magnitude[inner] >= magnitude[inner + 1])]
    if not len(tops):
        return []
    kept: list[int] = []
    for t in tops[np.argsort(magnitude[tops])[::-1][:200]].tolist():
        around = float(np.median(magnitude[int(t / 1.25) : int(t * 1.25) + 8]))  # a ripple on a skirt is no peak
        stands_out = magnitude[t] > max(3.0 * around, OVER_QUIET * _quiet(hertz, magnitude, float(hertz[t])))
        if stands_out and all(abs(hertz[t] / hertz[k] - 1.0) > 0.12 for k in kept):
            kept.append(t)
        if len(kept) == count:
            break
    return sorted(float(hertz[k]) for k in kept)


def half_width(f: float, at: list[float]) -> float:
    """Half width of the band about a mode, clear of its neighbours."""
    gap = min((abs(f - other) for other in at if other != f), default=math.inf)
    return min(WIDEST * f, 0.4 * gap)
