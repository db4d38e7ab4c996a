"""The patch as a pick-up and as a shaker: what stands on its leads when it listens or pushes."""

from __future__ import annotations

from typing import Literal

from core.project.record import Record

Use = Literal["damp", "drive", "sense"]
Reads = Literal["voltage", "charge"]
Waveform = Literal["sine", "square", "triangle", "ramp", "table"]


class Sense(Record, frozen=True):
    """What a pick-up is read with, beside the instrument of its group: `noise_v` is the root-mean-square voltage
    below which nothing is told apart. A charge amplifier holds the leads at nothing and gives their charge over its
    feedback capacitor, which its resistor drains."""

    noise_v: float = 1e-3
    reads: Reads = "voltage"
    feedback_f: float = 1e-9
    feedback_ohm: float = 1e9


class Drive(Record, frozen=True):
    """What a group is driven with, and what its point of the part pushes against.

    Volts swing by `amplitude_v` about `bias_v`, both in the poling direction of a patch wired plus. A "table" is
    `table_s_v`, pairs of seconds and volts played over and over, scaled by nothing. `amplifier_a` and
    `amplifier_v_s` are the largest current and rate of the amplifier. The load at the point is a spring
    `load_n_m` or a pressure `pressure_pa` on an area `area_m2`, against the stroke. `large_signal` is how many
    times the small-signal dissipation factor the ceramic loses at these volts.
    """

    waveform: Waveform = "sine"
    frequency_hz: float = 2.0
    amplitude_v: float = 60.0
    bias_v: float = 0.0
    amplifier_a: float = 0.06
    amplifier_v_s: float = 1e6
    load_n_m: float = 0.0
    pressure_pa: float = 0.0
    area_m2: float = 0.0
    large_signal: float = 3.0
    mismatch: float = 0.01
    """Share by which the reference capacitor of a self-sensing bridge is off."""
    table_s_v: tuple[tuple[float, float], ...] = ()
