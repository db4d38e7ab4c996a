"""Allowed values of inputs: the range with its words, and the ranges that several inputs share."""

from __future__ import annotations

import math
from dataclasses import dataclass

from core import units


@dataclass(frozen=True)
class Range:
    """Allowed values in SI with the display unit; `above`/`below` True exclude the bound itself."""

    unit: str
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    below: bool = False

    def holds(self, value: float) -> bool:
        over = value > self.low if self.above else value >= self.low
        under = value < self.high if self.below else value <= self.high
        return over and under

    def trouble(self, label: str, value: float) -> str:
        """What is wrong with a value of the input called `label`, in words; "" where nothing is."""
        if self.holds(value):
            return ""
        is_low = value <= self.low
        bound, apart = (self.low, self.above) if is_low else (self.high, self.below)
        shown, edge = (units.show_with_unit(v, self.unit or "1") for v in (value, bound))
        if apart:
            return f"{label} is {shown}; it must be {'above' if is_low else 'below'} {edge}."
        return f"{label} is {shown}; the {'least' if is_low else 'most'} allowed is {edge}."

    def words(self) -> str:
        low = units.show_with_unit(self.low, self.unit)
        high = units.show_with_unit(self.high, self.unit)
        if math.isinf(self.low) and math.isinf(self.high):
            return "finite"
        if math.isinf(self.high):
            return f"above {low}" if self.above else f"{low} or more"
        if math.isinf(self.low):
            return f"below {high}" if self.below else f"at most {high}"
        if not self.above and not self.below:
            return f"from {low} to {high}"
        return (
            f"{'above' if self.above else 'at least'} {low} and {'below' if self.below else 'at most'} {high}"
        )


PLAIN = Range("")
"""Of what is no number, or any."""

MODULUS = Range("GPa", 1e3, 2e12)
DENSITY = Range("kg/m3", 1.0, 25e3)
POISSON = Range("1", -1.0, 0.5, above=True, below=True)
LOSS = Range("1", 0.0, 2.0, below=True)
TEMPERATURE = Range("degC", -273.15, 1000.0)
SERVICE_TEMPERATURE = Range("degC", -273.15, 500.0)
PLAN = Range("mm", 1e-5, 10.0)
EDGE = Range("mm", 0.0, 0.2)
ACROSS = Range("mm", -50.0, 50.0)
LENGTH = Range("mm", 0.0, 100.0)
DIAMETER = Range("mm", 0.0, 100.0, above=True)
SPAN = Range("mm", 1e-3, 100.0)
EITHER_SIDE = Range("mm", -100.0, 100.0)
SIDEWAYS = Range("kN/m", 0.0, 1e15)
TURNING = Range("N m/rad", 0.0, 1e15)
FIELD_STRENGTH = Range("kV/mm", 0.0, 1e9, above=True)
STRAIN = Range("ue", 0.0, 1.0, above=True)
FREQUENCY = Range("Hz", 0.0, 1e7, above=True)
SHARE = Range("%", 0.0, 1.0, above=True, below=True)
EITHER_WAY = Range("m/s2", -1e7, 1e7)
DURATION = Range("ms", 0.0, 100.0, above=True)
