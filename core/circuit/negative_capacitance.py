"""An active circuit that acts as a negative capacitance, in series or in parallel with a resistor.

In parallel it takes C_neg from the capacitance of the group: what is left drives a larger K^2 through the
resistor, tau = R (C - C_neg) omega as of a plain one. It is stable while the true blocked capacitance is not
used up. In series the leads meet Z = R - 1/(s C_neg): at rest the patch is softer than shorted by
C/(C_neg - C), so with k = K^2 C/(C_neg - C)

    omega_s^2 = omega_sc^2 (1 - k),   K'^2 = (1 + K^2)/(1 - k) - 1,   C' = C C_neg/(C_neg - C)

stand for omega_sc, K^2 and C of a plain resistor. It is stable while C_neg exceeds the static free
capacitance of the bonded patch. Both fail statically, by a positive real pole. (Forward 1979; Park &
Baz 2005; de Marneffe & Preumont 2008, Smart Mater. Struct. 17, 035015; from memory.)
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from core.beam.varied import Number
from core.circuit import resistor
from core.circuit.branches import in_line_with
from core.circuit.kind import (
    Array,
    CircuitKind,
    ComplexArray,
    Parameter,
    Port,
    Target,
    Values,
)
from core.circuit.network import Network, in_line, side_by_side

NAME = "negative_capacitance_f"
FASTEST_S = 1e-7
"""R C_neg in series at the least, which no mode sees: without any resistance the circuit fails at once where
C_neg is too small, and no state would tell."""
LEAST_LEFT = 0.05
"""Of capacitance or stiffness, below which a tuning rule takes no notice: the circuit is about to fail."""


def _parameter(default_f: float, away: Literal["up", "down"]) -> Parameter:
    """`away`: the side that leads away from where the circuit fails."""
    return Parameter(NAME, "Negative capacitance", "nF", 0.0, 1e-3, default_f, rounding=away)


def _minus(values: Values) -> Number:
    return -values[NAME]


def _resistance(values: Values) -> Array:
    return np.maximum(values["resistance_ohm"], FASTEST_S / np.asarray(values[NAME], dtype=float))


def _series_immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    charge = values[NAME] * s
    return _resistance(values) * charge - 1.0, charge


def _series_port(values: Values) -> Port:
    """State sqrt(C_neg) u, u the voltage across it: I = (V - u)/R, C_neg u' = -I."""
    conductance, root = np.broadcast_arrays(1.0 / _resistance(values), np.asarray(values[NAME], dtype=float) ** -0.5)
    own = -(conductance * root)[..., None, None]
    return Port(conductance[..., None, None], own, own, own * root[..., None, None], np.zeros(1))


def _series_form(goal: str, target: Target) -> dict[str, Number]:
    c = target.capacitance_f
    negative = np.maximum(target.given.get(NAME, 2.0 * c), (1.0 + LEAST_LEFT) * c)
    return resistor.closed_form(goal, in_line_with(target, -negative, LEAST_LEFT))


def _series_network(values: Mapping[str, float]) -> Network:
    """The resistor never quite nothing: it keeps the amplifier's input off the lead."""
    name = resistor.RESISTANCE.name
    return in_line(
        ("R", "resistor", float(_resistance(values)), name), ("Cn", "negative capacitor", values[NAME], NAME)
    )


def _parallel_network(values: Mapping[str, float]) -> Network:
    name = resistor.RESISTANCE.name
    return side_by_side(
        ("R", "resistor", values[name], name), ("Cn", "negative capacitor", values[NAME], NAME)
    )


SERIES = CircuitKind(
    "negative C series R",
    "−C and R, series",
    (_parameter(1e-6, "up"), resistor.RESISTANCE),
    _series_immittance,
    _series_port,
    _series_form,
    network=_series_network,
    active=True,
)
PARALLEL = CircuitKind(
    "negative C parallel R",
    "−C and R, parallel",
    (_parameter(1e-9, "down"), resistor.RESISTANCE),
    resistor.KIND.immittance,
    resistor.KIND.port,
    resistor.closed_form,
    _minus,
    network=_parallel_network,
    active=True,
)
