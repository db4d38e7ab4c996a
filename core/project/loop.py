"""An active loop on a layout: one group listens, another drives, with a law between."""

from __future__ import annotations

from typing import Literal

from core.project.record import Record

LawName = Literal["velocity", "position", "typed"]


class LoopFilter(Record, frozen=True):
    """A filter of position feedback: its gain at rest in V/V of the sensed voltage."""

    frequency_hz: float
    damping_ratio: float
    gain: float


class LoopDesign(Record, frozen=True):
    """`sensing` and `driven` are ids of groups ("": as `Candidate.loop_ends` takes them). `times`
    multiplies the whole law. `modes` are those the loop is to damp; position feedback has a filter for each.
    `numerator` and `denominator` are powers of s, highest first."""

    sensing: str = ""
    driven: str = ""
    law: LawName = "position"
    modes: tuple[int, ...] = (1,)
    velocity_gain_s: float = 1e-4
    filters: tuple[LoopFilter, ...] = ()
    numerator: tuple[float, ...] = (-1e4,)
    denominator: tuple[float, ...] = (1.0, 50.0, 1e4)
    times: float = 1.0
    amplifier_gain: float = 20.0
    bandwidth_hz: float = 2e3
    output_ohm: float = 50.0
    amplifier_v: float = 100.0
    amplifier_a: float = 0.06
    delay_s: float = 1e-4
    sampling_hz: float = 10e3
"""Amplifier and timing as a small bench amplifier and signal processor have them."""
