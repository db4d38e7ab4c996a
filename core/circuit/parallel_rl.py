"""A resistor and an inductor side by side across the leads.

Closed forms on one undamped mode, delta = omega_e/omega_sc, rho = R C omega_sc,
omega_e = 1/sqrt(L C): pole placement delta = 1, rho = 1/(2 K), both poles at zeta = K/2
(matching the double pole pair); lowest peak by fixed points delta = sqrt(1 - K^2/2),
rho = sqrt(2/3)/K (Yamada et al. 2010, from memory); lowest mean square under white force
delta^2 = 1 - K^2/2, 1/rho = K sqrt(1 - K^2/4).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.beam.varied import Number
from core.circuit import coil
from core.circuit.kind import (
    INDUCTANCE,
    LARGEST_RESISTANCE_OHM,
    CircuitKind,
    ComplexArray,
    Port,
    Target,
    Values,
    is_zero,
    numbered,
    one_lead,
    one_state,
    ratio,
    resistance_parameter,
    shorted_lead,
)
from core.circuit.network import COMMON, LEAD, Network, side_by_side

RESISTANCE = resistance_parameter(1e6)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    resistance = values["resistance_ohm"]
    a, b = coil.pair(values, s)
    # Both zero is a short, which the plain product would make 0 = 0.
    short = 1.0 * (np.asarray(resistance) + np.asarray(values["inductance_h"]) + coil.winding_ohm(values) == 0.0)
    return resistance * a, resistance * b + a + short


def _port(values: Values) -> Port:
    resistance, inductance = values["resistance_ohm"], values["inductance_h"]
    winding = coil.winding_ohm(values)
    if is_zero(resistance) or (is_zero(inductance) and is_zero(winding)):
        return shorted_lead()
    beside = ratio(1.0, resistance)
    if is_zero(inductance):
        return one_lead(beside + ratio(1.0, winding))
    conductance, coupling, rate = coil.states(values)
    damping, coupling = one_state(rate, coupling)
    return one_lead(beside + conductance, damping, coupling)


def closed_form(goal: str, target: Target, branch: int = 0) -> dict[str, Number]:
    """L and R; what the coil loses counts in R. `branch` numbers the values of a circuit of several (from 1)."""
    delta2: Number
    conductance: Number
    k2 = target.k2
    if goal == "peak":
        delta2, conductance = np.maximum(1 - k2 / 2, 0.1), (1.5 * k2) ** 0.5
    elif goal == "mean square":
        delta2, conductance = np.maximum(1 - k2 / 2, 0.1), (k2 * np.maximum(1 - k2 / 4, 0.1)) ** 0.5
    else:
        delta2, conductance = 1.0, 2 * k2**0.5
    c, omega = target.capacitance_f, target.omega_rad_s
    smallest = 1 / (LARGEST_RESISTANCE_OHM * c * omega)
    inductance = 1 / (c * omega**2 * delta2)
    left = coil.left_beside(target.given, conductance * c * omega, omega * inductance, branch)
    return {numbered("inductance_h", branch): inductance, numbered("resistance_ohm", branch): 1 / np.maximum(left, smallest * c * omega)}


def _network(values: Mapping[str, float]) -> Network:
    beside = side_by_side(("R", "resistor", values[RESISTANCE.name], RESISTANCE.name))
    return (*beside, *coil.parts(values, LEAD, COMMON))


KIND = CircuitKind(
    "parallel R-L", "Parallel R-L", (INDUCTANCE, RESISTANCE, *coil.LOSSES), _immittance, _port, closed_form,
    network=_network,
)  # fmt: skip
