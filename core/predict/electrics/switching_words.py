"""A switched group in words: the equivalent against the switch simulated in time, steady and in a decay."""

from __future__ import annotations

from math import isnan

from core.circuit.switching import Switching
from core.units import words

CLEAN = 2.5
"""Extremes of the voltage in a period, from which a detector without a filter closes at the wrong instants too."""


def sentences(found: Switching) -> tuple[str, ...]:
    """What the equivalent says, what the simulation says, and what the switch's detector must be."""
    mode = found.mode + 1
    steady = "does not settle" if isnan(found.steady) else words.damping(found.steady)
    decay = "a release stops before the voltage has built up" if isnan(found.decay) else (
        f"a release decays with {words.damping(found.decay)} once the voltage has built up"
    )
    out = [
        f"Switched in step with mode {mode}: damping {words.damping(found.equivalent)} by the formula for steady motion, "
        f"{steady} simulated in time ({words.decibel(found.attenuation_db)} at resonance); {decay}. The damping of the "
        "other modes is that of open leads: what the switch does to them is not told."
    ]
    if found.extremes_seen > CLEAN:
        out.append(
            f"Other modes give the voltage more than two extremes in a period of mode {mode}: the detector must be filtered "
            "to that mode."
        )
    return tuple(out)
