"""Frequency and damping of each mode, three ways side by side, from a free decay or a response function.

The decrement looks at one mode's envelope, the half-power points at its peak, and the fit at all modes at
once. Where they agree the value is sure; where one differs by more than 15 % it is flagged, with what is
likely behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from core.measured import damping
from core.measured.envelope import Envelope, Line, decay_line, envelope
from core.measured.halfpower import HalfPower, half_power
from core.measured.poles import Complex, Poles, decay_shapes, fit_poles, hann_shapes, response_shapes
from core.measured.record import Array, Block, Channel, MeasuredError
from core.measured.where import half_width, liveliest, looked_at, peaks_of, spectrum_of

USUAL_MODES = 3
MOST_LINES = 1200
"""Lines of one band that a fit takes."""
CURVE_POINTS = 1200


@dataclass(frozen=True)
class Way:
    """One way to frequency and damping; `doubt` says why its damping is not to be taken, "" if it is."""

    f_hz: float
    u_f_hz: float
    zeta: float
    u_zeta: float
    doubt: str = ""


@dataclass(frozen=True, eq=False)
class ModeFound:
    """A mode of one record. `number` counts from 1 as the prediction's modes where these were given.

    `fit`, `decrement`, `half_power` are None where a way does not apply. `line` carries the bend, `curve`
    its envelope for drawing.
    """

    number: int
    fit: Way | None
    decrement: Way | None
    half_power: Way | None
    swing: float
    """At the start of what was looked at, in the channel's unit."""
    length_s: float
    line: Line | None = None
    curve: Envelope | None = field(default=None, repr=False)
    peak: HalfPower | None = None

    @property
    def best(self) -> Way:
        """The fit, else the decrement, else the half-power points: the first whose damping is not in doubt."""
        ways = [w for w in (self.fit, self.decrement, self.half_power) if w is not None]
        return next((w for w in ways if not w.doubt), ways[0])

    @property
    def f_hz(self) -> float:
        return self.best.f_hz

    @property
    def zeta(self) -> float:
        return self.best.zeta

    @property
    def time_constants(self) -> float:
        """Length of the record over 1/(zeta omega); infinite for a response function of unknown length."""
        return self.length_s * max(self.zeta, 0.0) * 2.0 * math.pi * self.f_hz

    @property
    def odd_ways(self) -> tuple[str, ...]:
        """Names of the ways that differ from the best by more than 15 % in damping."""
        best = self.best
        return tuple(
            name
            for name, way in (("fit", self.fit), ("decrement", self.decrement), ("half-power", self.half_power))
            if way is not None and way is not best and abs(way.zeta - best.zeta) > damping.DISAGREEMENT * abs(best.zeta)
        )


@dataclass(frozen=True, eq=False)
class Identified:
    """The modes of one channel of one record, and the part of it that was looked at."""

    modes: tuple[ModeFound, ...]
    channel: Channel
    window_s: tuple[float, float]
    exponential_window_s: float | None
    poles: Poles | None = field(default=None, repr=False)
    cut_into: int = 0
    """Lengths of a record under a continuous force of which its response function was made; 0 for a free decay and
    for a response function from a file."""

    def mode(self, number: int) -> ModeFound | None:
        return next((m for m in self.modes if m.number == number), None)


def identify_decay(
    block: Block,
    *,
    expected_hz: tuple[float, ...] = (),
    channel: int | None = None,
    window_s: tuple[float, float] | None = None,
    exponential_window_s: float | None = None,
    count: int = USUAL_MODES,
) -> Identified:
    """Modes of a free decay. `expected_hz` (the prediction's) says where to look and numbers the modes;
    without it the highest peaks are taken. `channel` is an index among the responses, None the liveliest.

    `exponential_window_s` is the time constant of a window the analyser applied, whose damping is taken
    off. MeasuredError in words where nothing decays in the record.
    """
    responses = block.responses
    if not responses:
        raise MeasuredError("There is no response in the record: every channel is a force or left out. Say which channel responds.")
    chosen = responses[channel] if channel is not None and channel < len(responses) else liveliest(responses)
    values = np.asarray(chosen.values, dtype=float)
    first, last = looked_at(values, block, window_s)
    part = values[first:last] - values[first:last].mean()
    if len(part) < 64 or not part.any():
        raise MeasuredError("Nothing swings in the record, or it is shorter than 64 samples. Record a longer decay.")
    hertz, spectrum = spectrum_of(part, block.step)
    found = peaks_of(hertz, np.abs(spectrum), expected_hz, count)
    if not found:
        raise MeasuredError(
            "No mode stands out of the noise in the record. Look at the channel, pluck harder, or record at a place where the mode moves."
        )
    at = [f for _, f in found]
    lines = [_first_line(spectrum, hertz, len(part), block.step, f, half_width(f, at)) for f in at]
    slow, slow_step = _slowed(spectrum, len(part), block.step, 1.5 * max(at))
    start = np.array([_start_pole(f, line[1]) for f, line in zip(at, lines, strict=True)])
    poles = _fit_decay(spectrum, hertz, len(part), block.step, start, at)
    taken = exponential_window_s
    modes = []
    for k, ((number, f), (curve, line)) in enumerate(zip(found, lines, strict=True)):
        fit = None if poles is None else _way_of_pole(poles, k, taken)
        if fit is not None and not abs(fit.f_hz / f - 1.0) < 0.1:
            fit = None
        wave = None if line is None else _way_of_line(line, taken)
        padded = _padded(slow, slow_step, f, half_width(f, at))
        peak = half_power(*padded, 1.0 / (len(part) * block.step), f - half_width(f, at), f + half_width(f, at))
        half = None if peak is None else _way_of_peak(peak, taken, part, block.step)
        if fit is None and wave is None and half is None:
            continue
        swing = float(curve.swing[0]) if curve is not None else 0.0
        modes.append(ModeFound(number, fit, wave, half, swing, len(part) * block.step, line, curve, peak))
    if not modes:
        raise MeasuredError("No mode could be followed in the record: it is too short. Record at least six time constants.")
    bounds = (block.start + first * block.step, block.start + last * block.step)
    return Identified(tuple(modes), chosen, bounds, exponential_window_s, poles)


def identify_response(
    block: Block,
    *,
    expected_hz: tuple[float, ...] = (),
    channel: int | None = None,
    exponential_window_s: float | None = None,
    count: int = USUAL_MODES,
    hann: bool = False,
) -> Identified:
    """Modes of a response function (complex), by its half-power points and a fit of all modes at once.

    `hann`: it is averaged over parts of 1/(line spacing) under a Hann window, which the fit allows for.
    """
    responses = block.responses
    chosen = responses[channel if channel is not None and channel < len(responses) else 0]
    hertz, values = block.axis, np.asarray(chosen.values, dtype=complex)
    good = (hertz > 0.0) & np.isfinite(values)
    hertz, values = hertz[good], values[good]
    if len(hertz) < 16:
        raise MeasuredError("The response function has fewer than 16 lines. Export more of it.")
    found = peaks_of(hertz, np.abs(values), expected_hz, count)
    if not found:
        raise MeasuredError("No resonance stands out of the response function. Look at its range and its coherence.")
    at = [f for _, f in found]
    spacing = float(np.median(np.diff(hertz)))
    peaks = [half_power(hertz, np.abs(values), spacing, f - half_width(f, at), f + half_width(f, at)) for f in at]
    # a peak between two lines tells no width: it is one spacing wide at most
    widths = [max(p.zeta, 0.25 * spacing / f) if p is not None else 0.01 for f, p in zip(at, peaks, strict=True)]
    start = np.array([2 * np.pi * f * (-width + 1j) for f, width in zip(at, widths, strict=True)])
    poles = _fit_response(hertz, values, start, at, hann) if np.iscomplexobj(chosen.values) and np.any(values.imag) else None
    modes = []
    length = 1.0 / spacing
    for k, ((number, f), peak) in enumerate(zip(found, peaks, strict=True)):
        fit = None if poles is None else _way_of_pole(poles, k, exponential_window_s)
        if fit is not None and not abs(fit.f_hz / f - 1.0) < 0.1:
            fit = None
        half = None if peak is None else _way_of_peak(peak, exponential_window_s, None, 0.0)
        if fit is None and half is None:
            continue
        height = float(np.abs(values[np.argmin(np.abs(hertz - f))]))
        modes.append(ModeFound(number, fit, None, half, height, length, None, None, peak))
    if not modes:
        raise MeasuredError("No resonance of the response function falls to half its power on both sides. Export finer lines.")
    return Identified(tuple(modes), chosen, (float(hertz[0]), float(hertz[-1])), exponential_window_s, poles)


# ---- the three ways ----------------------------------------------------------------------------


def _first_line(
    spectrum: Complex, hertz: Array, count: int, step: float, f: float, half_width: float
) -> tuple[Envelope | None, Line | None]:
    curve = envelope(spectrum, hertz, count, step, f, half_width)
    return (None, None) if curve is None else (curve, decay_line(curve, f))


def _start_pole(f: float, line: Line | None) -> complex:
    zeta = 0.01 if line is None or not 1e-5 < line.zeta < 0.3 else line.zeta
    return 2.0 * math.pi * f * complex(-zeta, 1.0)


def _band_lines(hertz: Array, f: float, half_width: float, spacing: float, zeta: float) -> NDArray[np.int64]:
    """Indices of the lines about a mode: wide enough for its peak, not more than a fit needs."""
    reach = min(half_width, max(25.0 * zeta * f, 12.0 * spacing))
    inside = np.flatnonzero(np.abs(hertz - f) <= reach)
    if len(inside) > MOST_LINES:
        middle = int(np.argmin(np.abs(hertz - f)))
        inside = np.arange(max(middle - MOST_LINES // 2, 1), middle + MOST_LINES // 2)
    return np.asarray(inside[inside > 0], dtype=np.int64)


def _fit_decay(
    spectrum: Complex, hertz: Array, count: int, step: float, start: Complex, at: list[float]
) -> Poles | None:
    chosen, bands = [], []
    for b, (f, s) in enumerate(zip(at, start, strict=True)):
        zeta = float(-s.real / abs(s))
        lines = _band_lines(hertz, f, max(half_width(f, at), 6.0 * hertz[1]), float(hertz[1]), zeta)
        chosen.append(lines)
        bands.append(np.full(len(lines), b))
    index, band = np.concatenate(chosen), np.concatenate(bands)
    if len(index) < 8:
        return None
    shapes = decay_shapes(2.0 * np.pi * hertz[index] * step, count, step)
    return fit_poles(shapes, spectrum[index], band, start)


def _fit_response(
    hertz: Array, values: Complex, start: Complex, at: list[float], hann: bool
) -> Poles | None:
    spacing = float(np.median(np.diff(hertz)))
    chosen, bands = [], []
    for b, (f, s) in enumerate(zip(at, start, strict=True)):
        lines = _band_lines(hertz, f, half_width(f, at), spacing, float(-s.real / abs(s)))
        chosen.append(lines)
        bands.append(np.full(len(lines), b))
    index, band = np.concatenate(chosen), np.concatenate(bands)
    if len(index) < 8:
        return None
    omega = 2.0 * np.pi * hertz[index]
    shapes = hann_shapes(omega, 1.0 / spacing) if hann else response_shapes(omega)
    return fit_poles(shapes, values[index], band, start)


def _slowed(spectrum: Complex, count: int, step: float, highest_hz: float) -> tuple[Array, float]:
    """The record at a lower rate, from its lines up to twice a frequency: a long one is not gone through again
    for every mode."""
    lines = min(int(2.0 * highest_hz * count * step) + 16, len(spectrum))
    if 2 * (lines - 1) >= count // 2:
        return np.asarray(np.fft.irfft(spectrum, count), dtype=float), step
    slow = 2 * (lines - 1)
    return np.asarray(np.fft.irfft(spectrum[:lines], slow) * (slow / count), dtype=float), step * count / slow


def _padded(part: Array, step: float, f: float, half_width: float) -> tuple[Array, Array]:
    """Spectrum of the decay about a mode, eight times finer than its own lines."""
    count = len(part)
    fine = 1.0 / (8 * count * step)
    points = int(min(2 * half_width / fine, 20_000))
    if points < 16:
        return np.zeros(0), np.zeros(0)
    hertz = np.asarray(f + (np.arange(points) - points // 2) * fine, dtype=float)
    return hertz, np.asarray(np.abs(_zoomed(part, step, float(hertz[0]), fine, points)), dtype=float)


def _zoomed(values: Array, step: float, start_hz: float, fine_hz: float, points: int) -> Complex:
    """Spectrum at evenly spaced frequencies by the chirp transform (Rabiner, Schafer, Rader 1969)."""
    n = len(values)
    size = 1 << int(np.ceil(np.log2(n + points)))
    k = np.arange(max(n, points))
    half = np.pi * fine_hz * step * (k.astype(float) ** 2)
    chirp = np.exp(-1j * half)
    a = np.zeros(size, dtype=complex)
    a[:n] = values * np.exp(-2j * np.pi * start_hz * step * np.arange(n)) * chirp[:n]
    b = np.zeros(size, dtype=complex)
    b[:points] = np.conj(chirp[:points])
    b[size - n + 1 :] = np.conj(chirp[1:n])[::-1]
    return np.asarray(np.fft.ifft(np.fft.fft(a) * np.fft.fft(b))[:points] * chirp[:points])


def _way_of_pole(poles: Poles, k: int, window_s: float | None) -> Way:
    f, zeta = float(poles.natural_hz[k]), float(poles.zeta[k])
    u_f, u_zeta = float(poles.u_natural_hz[k]), float(poles.u_zeta[k])
    return _without_window(Way(f, u_f, zeta, u_zeta, "" if 0.0 < zeta < 0.4 else "no decay is left in it"), window_s)


def _way_of_line(line: Line, window_s: float | None) -> Way:
    natural = line.f_hz / math.sqrt(max(1.0 - line.zeta**2, 1e-6))
    doubt = "" if line.zeta > 0.0 else "the swing grows"
    return _without_window(Way(natural, line.u_f_hz, line.zeta, line.u_zeta, doubt), window_s)


def _way_of_peak(peak: HalfPower, window_s: float | None, part: Array | None, step: float) -> Way:
    doubt = ""
    if peak.lines < damping.FEWEST_LINES:
        doubt = f"{round(peak.lines)} line{'' if round(peak.lines) == 1 else 's'} in the half-power band"
    if part is not None:  # a cut decay widens its own peak
        constants = len(part) * step * peak.zeta * 2.0 * math.pi * peak.f_hz
        if constants < damping.FEWEST_TIME_CONSTANTS:
            doubt = doubt or "the record is cut before it has died away"
    natural = peak.f_hz / math.sqrt(max(1.0 - 2.0 * peak.zeta**2, 0.1))
    width = peak.high_hz - peak.low_hz
    u_zeta = peak.zeta * min(0.5 / max(peak.lines, 0.5), 1.0)
    return _without_window(Way(natural, 0.25 * width / max(peak.lines, 1.0), peak.zeta, u_zeta, doubt), window_s)


def _without_window(way: Way, window_s: float | None) -> Way:
    """The way without what an exponential window of that time constant added."""
    if window_s is None:
        return way
    zeta = way.zeta - damping.window_damping(window_s, way.f_hz)
    return Way(way.f_hz, way.u_f_hz, zeta, way.u_zeta, way.doubt if zeta > 0.0 else "less damping than the window added")
