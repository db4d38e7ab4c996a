"""Several branches side by side across the leads, each an inductor, a capacitor and a resistor in line: near its own
resonance a branch lets the current of its mode through, elsewhere its capacitor keeps it back. (Behrens, Moheimani &
Fleming 2003, J. Sound Vib. 266, 929, with the two inductors of a branch as one; from memory.)

With k = 1/(1 + (R + R_w) G_c) of the coil (`core.circuit.coil`), i its current and u the capacitor's voltage:

    I = k (i + G_c (V - u)),   L i' = k (V - u) - k (R + R_w) i,   C u' = I

Closed form: at its mode a branch meets the patches, beside them what the other branches are there,
C_j/(1 - omega^2 L_j C_j), and its own capacitor in line; L and R are those of a series R-L on that.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from core.beam.varied import Number
from core.circuit import branches, coil, series_rl
from core.circuit.kind import Array, CircuitKind, ComplexArray, Port, Target, Values, numbered, ratio
from core.circuit.network import COMMON, LEAD, Network, Part

RESISTANCE = "resistance_ohm"


def current_flowing(count: int) -> CircuitKind:
    """The kind with so many branches."""
    return CircuitKind(
        f"current-flowing {count}",
        f"{count} branches, current-flowing",
        branches.parameters(count, 1e4),
        partial(_immittance, count),
        partial(_port, count),
        partial(_closed_form, count),
        network=partial(_network, count),
        branches=count,
        met_f=lambda values, c: c * branches.capacitance(values, 1) / (c + branches.capacitance(values, 1)),
    )


def _pair(values: Values, s: ComplexArray, n: int) -> branches.Pair:
    a, b = coil.pair(values, s, values[numbered(RESISTANCE, n)], n)
    charge = s * branches.capacitance(values, n)
    return a * charge + b, b * charge


def _immittance(count: int, values: Values, s: ComplexArray) -> branches.Pair:
    return branches.side_by_side([_pair(values, s, n) for n in range(1, count + 1)])


def _port(count: int, values: Values) -> Port:
    """States of each branch: sqrt(L) i and sqrt(C) u."""
    size = 2 * count
    lead = np.broadcast_shapes(*(np.shape(v) for v in values.values()))
    b, f = np.zeros((*lead, size, 1)), np.zeros((*lead, size, size))
    damper = np.zeros((*lead, count, 1 + size))
    for n in range(1, count + 1):
        core, coupling, decay = coil.states(values, values[numbered(RESISTANCE, n)], n)
        root = np.asarray(ratio(1.0, branches.capacitance(values, n))) ** 0.5
        i, u = 2 * n - 2, 2 * n - 1
        b[..., i, 0], f[..., i, i] = coupling, decay
        f[..., i, u], f[..., u, i] = coupling * root, -coupling * root
        # the core's conductance, between the leads and the capacitor
        damper[..., n - 1, 0], damper[..., n - 1, 1 + u] = core**0.5, -(core**0.5) * root
    none: Array = np.zeros((*lead, 1, 1))
    dampers = damper if damper.any() else None
    return Port(none, b, np.swapaxes(b, -1, -2), f, np.zeros(size), dampers=dampers)


def _closed_form(count: int, goal: str, target: Target) -> dict[str, Number]:
    modes = branches.targets(target, count)
    c = [branches.capacitance(target.given, n + 1) for n in range(count)]

    def others(n: int, j: int, inductance: Number) -> Number:
        """The capacitance that another branch is at a mode away from its resonance."""
        return c[j] / branches.off_resonance(1.0 - modes[n].omega_rad_s ** 2 * inductance * c[j])

    def met(n: int, beside: Number) -> Target:
        return branches.in_line_with(branches.beside(modes[n], beside), c[n])

    start = [1.0 / (m.omega_rad_s**2 * branches.in_line_with(m, c[n]).capacitance_f) for n, m in enumerate(modes)]
    return branches.tuned(goal, count, start, others, met, series_rl.closed_form)


def _network(count: int, values: Mapping[str, float]) -> Network:
    out: list[Part] = []
    for n in range(1, count + 1):
        resistance, at = values[numbered(RESISTANCE, n)], LEAD
        if resistance:
            out.append(Part(f"R{n}", "resistor", resistance, (LEAD, f"a{n}"), numbered(RESISTANCE, n)))
            at = f"a{n}"
        name = numbered(branches.CAPACITANCE.name, n)
        out.append(Part(f"C{n}", "capacitor", values[name], (at, f"b{n}"), name))
        out += coil.parts(values, f"b{n}", COMMON, n)
    return tuple(out)
