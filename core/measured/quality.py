"""What a person must know of a record before believing it: cut short, too coarse, clipped, struck twice, and so on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from core.circuit.instrument import added_damping, tau_adding, tau_of_most
from core.measured import damping
from core.measured.modes import Identified, ModeFound
from core.measured.record import Array, Block, Channel, Recording
from core.measured.response import is_shaken
from core.units import words

SENSOR_SHIFT = 3e-3
"""A sensor that shifts a frequency by more is said."""
SHUNT_DAMPING = 0.05
"""Share of a mode's damping that an instrument on the leads may add unsaid."""
CLIPPED_RUN = 3
"""Samples in a row at the largest value, more than once."""
SECOND_BLOW = 0.1
"""Of the first blow."""
NOISE_GROWS = 2.0

Code = Literal[
    "short", "coarse", "clipped", "double hit", "sensor mass", "instrument", "exponential window", "gain control",
    "disagreement", "amplitude", "no unit", "coherence",
]  # fmt: skip


@dataclass(frozen=True)
class Doubt:
    """A remark on a record or one of its modes; `mode` None where it is about the whole."""

    code: Code
    text: str
    mode: int | None = None


def doubts_of(
    recording: Recording | None,
    block: Block,
    found: Identified,
    *,
    sensor_kg: float = 0.0,
    modal_mass_kg: dict[int, float] | None = None,
    shunt_zeta: dict[int, float] | None = None,
) -> tuple[Doubt, ...]:
    """Every doubt about a record and what was found in it, worst first.

    `modal_mass_kg` is the model's, at the sensor's place, by mode; `shunt_zeta` the damping that the
    instrument on the leads adds by the model.
    """
    out: list[Doubt] = []
    if block.kind == "time":
        out += _clipped(found.channel)
        out += _double_hit(block)
        if recording is not None and recording.reader == "wav":
            out += _gain_control(found.channel, block, found)
    if found.exponential_window_s is not None:
        worst = max((damping.window_damping(found.exponential_window_s, m.f_hz) for m in found.modes), default=0.0)
        out.append(Doubt("exponential window", f"An exponential window of {words.seconds(found.exponential_window_s)} was used; its damping, up to {words.damping(worst)}, is taken off."))
    for mode in found.modes:
        out += _of_mode(mode, block, found.cut_into)
        if sensor_kg > 0.0 and modal_mass_kg and mode.number in modal_mass_kg:
            shift = sensor_shift(sensor_kg, modal_mass_kg[mode.number])
            if abs(shift) > SENSOR_SHIFT:
                out.append(Doubt("sensor mass", f"The sensor of {words.mass(sensor_kg)} shifts f{mode.number} by {words.shift(shift)}: enter it as a mass at its place, or take a lighter one.", mode.number))
        if shunt_zeta and shunt_zeta.get(mode.number, 0.0) > SHUNT_DAMPING * mode.zeta:
            out.append(Doubt("instrument", f"The instrument on the leads adds {words.damping(shunt_zeta[mode.number])} of mode {mode.number}'s {words.damping(mode.zeta)}: it is a shunt, not open leads.", mode.number))
    return tuple(out)


def sensor_shift(sensor_kg: float, modal_mass_kg: float) -> float:
    """Relative shift of a frequency by a mass where the mode has that modal mass: -m/(2 m_modal)."""
    return -0.5 * sensor_kg / modal_mass_kg


def largest_sensor_kg(modal_mass_kg: float) -> float:
    """The sensor up to which nothing is said of its mass."""
    return 2.0 * SENSOR_SHIFT * modal_mass_kg


def least_input_ohm(zeta: float, k2: float, natural_hz: float, capacitance_f: float) -> float:
    """The input resistance from which nothing is said of the instrument on open leads; 0 where none adds
    so much. `capacitance_f` is the one that goes with K^2."""
    if not capacitance_f > 0.0 or added_damping(k2, tau_of_most(k2)) <= SHUNT_DAMPING * zeta:
        return 0.0
    return tau_adding(k2, SHUNT_DAMPING * zeta) / (2.0 * math.pi * natural_hz * capacitance_f)


def _of_mode(mode: ModeFound, block: Block, cut_into: int) -> list[Doubt]:
    out = []
    n = mode.number
    if block.kind == "time" and not cut_into and mode.time_constants < damping.FEWEST_TIME_CONSTANTS:
        wanted = damping.least_record_s(mode.zeta, mode.f_hz)
        out.append(Doubt("short", f"Mode {n}: the record holds {words.significant(mode.time_constants, 2)} time constants, under six. Record {words.seconds(wanted)}.", n))
    if mode.peak is not None and mode.peak.lines < damping.FEWEST_LINES:
        spacing = damping.widest_spacing_hz(mode.zeta, mode.f_hz)
        out.append(Doubt("coarse", f"Mode {n}: {lines_text(mode.peak.lines)} in the half-power band, five at least are needed: lines of {words.engineering(spacing, 'Hz', 2)}, a record of {words.seconds(max(cut_into, 1) / max(spacing, 1e-12))}.", n))
    line = mode.line
    if line is not None and line.zeta_large is not None and line.zeta_small is not None and line.bend_swing is not None:
        unit = mode_unit(line.bend_swing, block)
        out.append(Doubt("amplitude", f"Mode {n}: damping depends on the swing, {words.damping(line.zeta_large)} above {unit} and {words.damping(line.zeta_small)} below.", n))
    for name in mode.odd_ways:
        way = {"fit": mode.fit, "decrement": mode.decrement, "half-power": mode.half_power}[name]
        if way is None:
            continue
        why = f": {way.doubt}" if way.doubt else ""
        out.append(Doubt("disagreement", f"Mode {n}: {name} {words.damping(way.zeta)} is {words.shift(way.zeta / mode.zeta - 1.0, 0)} off {words.damping(mode.zeta)}{why}.", n))
    return out


def lines_text(lines: float) -> str:
    """"1 line", "4 lines": of a spectrum, within the half-power band."""
    told = words.fixed(lines, 0)
    return f"{told} line{'' if told == '1' else 's'}"


def mode_unit(swing: float, block: Block) -> str:
    """A swing in the unit of the responses."""
    unit = block.responses[0].unit if block.responses else ""
    if unit == "strain":
        return words.with_unit(swing, "strain")
    return words.engineering(swing, unit.replace("m/s2", "m/s²")) if unit else words.significant(swing)


def _clipped(channel: Channel) -> list[Doubt]:
    values = np.asarray(channel.values, dtype=float)
    for top in (values.max(), -values.min()):
        sign = 1.0 if top == values.max() else -1.0
        runs = _runs(sign * values >= top - 1e-9 * max(abs(top), 1e-300))
        if (runs >= CLIPPED_RUN).sum() >= 2 or (len(runs) and runs.max() >= 4 * CLIPPED_RUN and _steep(sign * values, top)):
            return [Doubt("clipped", f"{channel.name} is clipped at {words.significant(float(sign * top))}: {int(runs.sum())} samples stand at it. Take a wider range; damping by the swing is not to be trusted.")]
    return []


def _steep(values: Array, top: float) -> bool:
    """Whether the signal runs into its top: what is held still before a release does not."""
    at = np.flatnonzero(values >= top - 1e-9 * abs(top))
    return bool(at[0] > 0 and values[at[0] - 1] < 0.98 * top)


def _runs(hit: np.ndarray) -> np.ndarray:
    """Lengths of the runs of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], hit, [False]])))
    return np.asarray(edges[1::2] - edges[::2])


def _double_hit(block: Block) -> list[Doubt]:
    force = block.force
    if force is None:
        return []
    blow = np.abs(np.asarray(force.values, dtype=float) - float(np.median(force.values)))
    top, first = float(blow.max()), int(np.argmax(blow))
    if top <= 0.0:
        return []
    struck = blow > SECOND_BLOW * top
    edges = np.flatnonzero(np.diff(np.concatenate([[False], struck, [False]])))
    starts, ends = edges[::2], edges[1::2]
    main = next((int(e) for s, e in zip(starts, ends, strict=True) if s <= first < e), first + 1)
    later = [int(s) for s in starts if s > main + 2]
    if not later or is_shaken(block):
        return []
    after = (later[0] - first) * block.step
    return [Doubt("double hit", f"The hammer struck twice, again {words.seconds(float(after))} after the first blow. Strike again.")]


def _gain_control(channel: Channel, block: Block, found: Identified) -> list[Doubt]:
    """Noise between the modes that grows while the swing dies: the box turned its gain up."""
    first = round((found.window_s[0] - block.start) / block.step)
    last = round((found.window_s[1] - block.start) / block.step)
    part = np.asarray(channel.values, dtype=float)[first:last]
    quarter = len(part) // 4
    if quarter < 256:
        return []
    levels = [_between_modes(part[k * quarter : (k + 1) * quarter], block.step, found) for k in (0, 3)]
    if min(levels) <= 0.0 or levels[1] < NOISE_GROWS * levels[0]:
        return []
    return [Doubt("gain control", "The noise grows while the swing dies away: the recorder turned its gain up. Its damping is too low; switch the gain control off.")]


def _between_modes(part: Array, step: float, found: Identified) -> float:
    magnitude = np.abs(np.fft.rfft((part - part.mean()) * np.hanning(len(part))))
    hertz = np.fft.rfftfreq(len(part), step)
    quiet = hertz > 0.0
    for mode in found.modes:
        quiet &= np.abs(hertz / mode.f_hz - 1.0) > 0.3
    return float(np.median(magnitude[quiet])) if quiet.sum() > 32 else 0.0
