"""The active loop of a candidate as a connection of its coupled system: from its design to a control, and closed."""

from __future__ import annotations

from math import inf

import numpy as np

from core.beam.varied import Number, Variation
from core.circuit.loop.law import (
    Amplifier,
    Control,
    Filter,
    Law,
    PositionFeedback,
    Timing,
    TransferFunction,
    VelocityFeedback,
)
from core.circuit.loop.loop import Loop
from core.circuit.system import CoupledSystem
from core.project.candidate import Candidate
from core.project.loop import LoopDesign


def control_of(design: LoopDesign, times: float = 1.0) -> Control:
    """Law, amplifier and timing, the gain so many times as large."""
    law: Law
    if design.law == "velocity":
        law = VelocityFeedback(design.velocity_gain_s)
    elif design.law == "position":
        law = PositionFeedback(tuple(Filter(f.frequency_hz, f.damping_ratio, f.gain) for f in design.filters))
    else:
        law = TransferFunction(design.numerator, design.denominator)
    amplifier = Amplifier(
        gain=design.amplifier_gain * times,
        bandwidth_hz=design.bandwidth_hz,
        output_ohm=design.output_ohm,
        voltage_v=design.amplifier_v or inf,
        current_a=design.amplifier_a or inf,
    )
    return Control(law, amplifier, Timing(design.delay_s, design.sampling_hz))


def loop_of(system: CoupledSystem, candidate: Candidate) -> Loop | None:
    """The loop of a candidate, closed or not, at its present gain between its groups; None without two groups for it.

    system : of the candidate, the driven group on its amplifier (`loop_amplifier`) or already in the loop.
    """
    ends = candidate.loop_ends
    return None if ends is None else Loop(system, *ends, control_of(candidate.loop, candidate.loop.times))


def with_loop_closed(system: CoupledSystem, candidate: Candidate, variation: Variation) -> CoupledSystem:
    """The system with the candidate's loop, where it is closed. Of the loop, its gains and the output resistance vary."""
    loop = loop_of(system, candidate) if candidate.loop_is_closed else None
    return system if loop is None else loop.closed(_share(candidate, variation))


def _share(candidate: Candidate, variation: Variation) -> Number:
    """How many times the gain is as large as saved."""
    share: Number = 1.0
    for name in ("times", "amplifier_gain"):
        saved = getattr(candidate.loop, name)
        varied = variation.get(f"candidates[{candidate.id}].loop.{name}", saved)
        share = share * (np.asarray(varied) / saved if saved else 1.0)
    return share if np.ndim(share) else float(share)
