"""A driven group under a waveform that goes on: volts, motion of the point and current over two periods.

Volts run straight between corners, so every mode is carried exactly from corner to corner: with
lambda = -zeta omega + j omega_d and z' = lambda z + V the mode is q = -theta Im(z)/omega_d. The motion repeats
with the period: z at its start is what the period brings over 1 - exp(lambda T). A sine is answered by its
frequency response. What the truncated modes add is static.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.circuit.transfer import LEAST_ZETA
from core.predict.use.drive import Driving
from core.project.use import Drive

Array = NDArray[np.float64]

SAMPLES, PERIODS = 3000, 2
SHARPEST = 1e-4
"""An edge takes at least this part of a period: no lead is without resistance."""


@dataclass(frozen=True)
class Played:
    """Over two periods (T,): seconds, volts, motion of the point in m, current in A.

    `follows` says whether the amplifier can: False where its rate or its current is too small for the waveform.
    `overshoot` is the largest motion over the static motion at the largest volts; None for a sine.
    """

    time_s: Array
    volts: Array
    moved_m: Array
    current_a: Array
    follows: bool
    overshoot: float | None

    @property
    def peak_m(self) -> float:
        return float(np.abs(self.moved_m).max())

    @property
    def peak_a(self) -> float:
        return float(np.abs(self.current_a).max())

    @property
    def peak_va(self) -> float:
        """Largest product of volts and current, what the amplifier gives or takes back at once."""
        return float(np.abs(self.volts * self.current_a).max())


def amplifier_v_s(driving: Driving) -> float:
    """Largest rate of the volts that the amplifier reaches: its own, or its current into the free capacitance."""
    drive = driving.drive
    return min(drive.amplifier_v_s, drive.amplifier_a / max(float(driving.transducer.free_f), 1e-300))


def corners(drive: Drive, rate_v_s: float) -> tuple[Array, Array]:
    """(seconds, volts) of one period's corners, edges at that rate; the last closes it. Not for a sine."""
    if drive.waveform == "table":
        seconds, volts = (np.array(column) for column in zip(*drive.table_s_v, strict=True))
        return seconds - seconds[0], volts
    low, high = drive.bias_v - drive.amplitude_v, drive.bias_v + drive.amplitude_v
    period = 1.0 / drive.frequency_hz
    edge = min(max(2.0 * drive.amplitude_v / rate_v_s, SHARPEST * period), 0.5 * period)
    if drive.waveform == "square":
        shape = [(0.0, low), (edge, high), (0.5 * period, high), (0.5 * period + edge, low), (period, low)]
    elif drive.waveform == "ramp":
        shape = [(0.0, low), (period - edge, high), (period, low)]
    else:
        shape = [(0.0, low), (0.5 * period, high), (period, low)]
    return np.array([t for t, _ in shape]), np.array([v for _, v in shape])


def played(driving: Driving) -> Played:
    """The waveform asked for, once it goes on."""
    if driving.drive.waveform == "sine":
        return _sine(driving)
    rate = amplifier_v_s(driving)
    at, volts = corners(driving.drive, rate)
    at, volts = _growing(at, volts)
    period = float(at[-1])
    time = _times(at, period)
    moved, current = _carried(driving, at, volts, time)
    steepest = float(np.abs(np.diff(volts) / np.diff(at)).max())
    top = float(np.abs(driving.transducer.static_m_per_v * volts).max())
    return Played(
        np.concatenate([time + period * k for k in range(PERIODS)]),
        np.tile(np.interp(time, at, volts), PERIODS),
        np.tile(moved, PERIODS),
        np.tile(current, PERIODS),
        follows=steepest <= rate * (1 + 1e-9),  # edges that have no time are the steeper for it (`corners`)
        overshoot=float(np.abs(moved).max()) / top if top > 0.0 else None,
    )


def _growing(at: Array, volts: Array) -> tuple[Array, Array]:
    """Corners at times that grow: a jump in a file takes the sharpest edge."""
    least = SHARPEST * (at[-1] - at[0]) / len(at)
    out = at.copy()
    for i in range(1, len(out)):
        out[i] = max(out[i], out[i - 1] + least)
    if volts[-1] != volts[0]:  # back to the start, so that it repeats
        out, volts = np.append(out, out[-1] + least), np.append(volts, volts[0])
    return out, volts


def _times(at: Array, period: float) -> Array:
    """Even over the period, and dense behind every corner, where motion is quick."""
    even = np.linspace(0.0, period, SAMPLES // PERIODS, endpoint=False)
    if len(at) > 20:
        return even
    behind = (at[:-1, None] + period * np.geomspace(1e-6, 0.05, 40)).ravel()
    every = np.sort(np.concatenate([even, at[:-1], behind[behind < period]]))
    return every[np.concatenate([[True], np.diff(every) > 1e-9 * period])]


def _carried(driving: Driving, at: Array, volts: Array, time: Array) -> tuple[Array, Array]:
    """(T,) motion of the point and current at times within a period."""
    t, beam = driving.transducer, driving.solved.beam
    omega, zeta = t.omega_rad_s, np.clip(beam.zeta0, LEAST_ZETA, 0.999999)
    swing = omega * np.sqrt(1.0 - zeta**2)
    pole = -zeta * omega + 1j * swing
    slope = np.diff(volts) / np.diff(at)

    def after(z: Array, start: Array, rise: Array, step: Array) -> Array:
        """z a time `step` after it was z, the volts `start` and rising by `rise`, all (..., 1) or (N,)."""
        grown = np.expm1(pole * step)
        return np.asarray(z + z * grown + start * grown / pole + rise * (grown / pole - step) / pole)

    def through(z: Array) -> Array:
        each = [z]
        for i in range(len(slope)):
            each.append(after(each[-1], volts[i], slope[i], at[i + 1] - at[i]))
        return np.array(each)

    nothing = np.zeros(len(omega), dtype=complex)
    start = through(nothing)[-1] / -np.expm1(pole * at[-1])
    at_corners = through(start)
    index = np.clip(np.searchsorted(at, time, side="right") - 1, 0, len(slope) - 1)
    step = (time - at[index])[:, None]
    z = after(at_corners[index], volts[index][:, None], slope[index][:, None], step)
    now = volts[index] + slope[index] * step[:, 0]
    q = -(t.theta / swing) * z.imag
    rate = -(t.theta / swing) * (pole * z).imag
    moved = q @ t.phi + t.static_beyond_m_per_v * now
    stored = float(beam.group_corrected_f[driving.index, driving.index])
    return moved, stored * slope[index] - rate @ t.theta


def _sine(driving: Driving) -> Played:
    drive, t = driving.drive, driving.transducer
    omega = 2 * np.pi * drive.frequency_hz
    at = np.array([omega])
    time = np.linspace(0.0, PERIODS / drive.frequency_hz, SAMPLES, endpoint=False)
    turn = drive.amplitude_v * np.exp(1j * omega * time)
    flow = float(np.abs(t.siemens(at)[0])) * drive.amplitude_v
    return Played(
        time,
        drive.bias_v + turn.imag,
        (t.m_per_v(at)[0] * turn).imag + float(t.static_m_per_v) * drive.bias_v,
        (t.siemens(at)[0] * turn).imag,
        follows=flow <= drive.amplifier_a and omega * drive.amplitude_v <= drive.amplifier_v_s,
        overshoot=None,
    )


class NotAWaveform(ValueError):
    """What a file holds is no waveform; the message says why and what helps."""


MOST_POINTS = 20_000


def read_waveform(text: str) -> tuple[tuple[float, float], ...]:
    """Seconds and volts from a text of two columns, split by comma, semicolon, tab or blanks; lines that start with
    no number are heads. With semicolons a comma may be the decimal sign. Raises NotAWaveform."""
    rows: list[tuple[float, float]] = []
    for number, line in enumerate(text.splitlines(), 1):
        cells = _cells(line)
        try:
            seconds = float(cells[0]) if cells else float("nan")
        except ValueError:
            if rows:
                raise NotAWaveform(f"Line {number} does not start with a number. Leave two columns: seconds, volts.") from None
            continue
        if not cells:
            continue
        try:
            rows.append((seconds, float(cells[1])))
        except (IndexError, ValueError):
            raise NotAWaveform(f"Line {number} has no second number. Leave two columns: seconds, volts.") from None
    if len(rows) < 2:
        raise NotAWaveform("The file holds fewer than two points. Leave two columns: seconds, volts.")
    if len(rows) > MOST_POINTS:
        raise NotAWaveform(f"The file holds {len(rows)} points; {MOST_POINTS} can be played. Thin it out.")
    if not np.isfinite(rows).all():
        raise NotAWaveform("The file holds a number that is not finite. Mend or leave out that line.")
    if any(b[0] < a[0] for a, b in pairwise(rows)) or rows[0][0] == rows[-1][0]:
        raise NotAWaveform("The times do not grow. The first column is time in seconds.")
    return tuple(rows)


def _cells(line: str) -> list[str]:
    if ";" in line:
        return [cell.strip().replace(",", ".") for cell in line.split(";")]
    return line.replace(",", " ").split()
