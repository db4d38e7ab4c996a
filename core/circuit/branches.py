"""What circuits of several branches share: the values of a branch, and what a mode meets beside and in line.

A capacitor beside the leads joins the patches' own: K^2 C/(C + c). One in line with them makes the part stiffer
at rest and couples less: with k = -K^2 C/(c + C),

    omega' = omega_sc sqrt(1 - k),   K'^2 = (1 + K^2)/(1 - k) - 1,   C' = C c/(c + C),

which holds for a negative one too (`core.circuit.negative_capacitance`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core.beam.varied import Number
from core.circuit import coil
from core.circuit.kind import INDUCTANCE, Parameter, Target, Values, numbered, resistance_parameter

CAPACITANCE = Parameter("capacitance_f", "Capacitance", "nF", 0.0, 1e-3, 5e-8)
LEAST_LEFT = 0.2
"""Of a capacitance, what is taken as left at the least where other branches act as inductors: a rule of thumb's
reach, from which the full model goes on."""
ROUNDS = 6
"""Of a closed form whose branches meet each other."""


def parameters(branches: int, resistance_ohm: float) -> tuple[Parameter, ...]:
    """Inductance, capacitance, resistance and the coil's losses of each branch, the branches one after the other."""
    one = (INDUCTANCE, CAPACITANCE, resistance_parameter(resistance_ohm), *coil.LOSSES)
    return tuple(
        replace(p, name=numbered(p.name, n), label=f"{p.label} {n}") for n in range(1, branches + 1) for p in one
    )


def capacitance(values: Values, branch: int) -> Number:
    return values.get(numbered(CAPACITANCE.name, branch), CAPACITANCE.default)


def targets(target: Target, branches: int) -> tuple[Target, ...]:
    """The mode of each branch, as the leads have it; the first one's for those that none is given."""
    each = (target, *target.further)
    return tuple(replace(each[min(n, len(each) - 1)], given=target.given) for n in range(branches))


def beside(target: Target, capacitance_f: Number) -> Target:
    """With a capacitance beside the leads, of any sign."""
    total = np.maximum(target.capacitance_f + capacitance_f, LEAST_LEFT * target.capacitance_f)
    return replace(target, k2=target.k2 * target.capacitance_f / total, capacitance_f=total)


def in_line_with(target: Target, capacitance_f: Number, least_left: float = LEAST_LEFT) -> Target:
    """With a capacitance in line with the leads, of any sign, as long as what fails is `least_left` away."""
    c = target.capacitance_f
    total = capacitance_f + c
    softer = np.minimum(-target.k2 * c / total, 1.0 - least_left)
    return replace(
        target, omega_rad_s=target.omega_rad_s * (1.0 - softer) ** 0.5, k2=(1.0 + target.k2) / (1.0 - softer) - 1.0,
        capacitance_f=c * capacitance_f / total,
    )  # fmt: skip
