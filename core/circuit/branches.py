"""What circuits of several branches share: the values of a branch, and what a mode meets beside and in line.

A capacitor beside the leads joins the patches' own: K^2 C/(C + c). One in line with them makes the part stiffer
at rest and couples less: with k = -K^2 C/(c + C),

    omega' = omega_sc sqrt(1 - k),   K'^2 = (1 + K^2)/(1 - k) - 1,   C' = C c/(c + C),

which holds for a negative one too (`core.circuit.negative_capacitance`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from core.beam.varied import Number
from core.circuit import coil
from core.circuit.kind import (
    INDUCTANCE,
    ComplexArray,
    Parameter,
    Target,
    Values,
    numbered,
    resistance_parameter,
)

CAPACITANCE = Parameter("capacitance_f", "Capacitance", "nF", 0.0, 1e-3, 5e-8)
LEAST_LEFT = 0.2
"""Of a capacitance, what is taken as left at the least where other branches act as inductors: a rule of thumb's
reach, from which the full model goes on."""
ROUNDS = 6
"""Of a closed form whose branches meet each other."""


Pair = tuple[ComplexArray, ComplexArray]
"""(a, b) of a circuit, a I = b V."""


def side_by_side(pairs: Sequence[Pair]) -> Pair:
    """(a, b) of branches that share the voltage."""
    a, b = pairs[0]
    for more_a, more_b in pairs[1:]:
        a, b = a * more_a, b * more_a + a * more_b
    return a, b


def in_line(pairs: Sequence[Pair]) -> Pair:
    """(a, b) of branches that share the current."""
    a, b = side_by_side([(b, a) for a, b in pairs])
    return b, a


def tuned(
    goal: str,
    count: int,
    start_h: Sequence[Number],
    others: Callable[[int, int, Number], Number],
    met: Callable[[int, Number], Target],
    rule: Callable[[str, Target, int], dict[str, Number]],
) -> dict[str, Number]:
    """Values of branches that meet each other, each tuned in turn to what it meets.

    start_h : inductances to begin with, H; others : (branch, another, that one's inductance) to what the other is at
    the mode of the branch, all from 0; met : (branch, the sum of these) to the mode as the branch meets it; rule :
    values of one branch, numbered from 1.
    """
    inductance, out = list(start_h), {}
    for _ in range(ROUNDS):
        for n in range(count):
            every = [others(n, j, inductance[j]) for j in range(count) if j != n]
            found = rule(goal, met(n, sum(every[1:], start=every[0])), n + 1)
            inductance[n] = found[numbered(INDUCTANCE.name, n + 1)]
            out.update(found)
    return out


def off_resonance(left: Number) -> Number:
    """1 - (omega/omega_0)^2 or its like, kept a tenth away from the resonance, where a branch is no capacitance."""
    return np.where(np.abs(left) < 0.1, np.where(left < 0.0, -0.1, 0.1), left)


def parameters(branches: int, resistance_ohm: float) -> tuple[Parameter, ...]:
    """Inductance, capacitance, resistance and the coil's losses of each branch, the branches one after the other."""
    one = (INDUCTANCE, CAPACITANCE, resistance_parameter(resistance_ohm), *coil.LOSSES)
    return tuple(
        replace(p, name=numbered(p.name, n), label=f"{p.label} {n}") for n in range(1, branches + 1) for p in one
    )


def capacitance(values: Values, branch: int) -> Number:
    """The capacitor of a branch (from 1), F."""
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
