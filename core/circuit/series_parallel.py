"""Several branches in line across the leads, each an inductor, a capacitor and a resistor side by side: near its own
resonance a branch takes the voltage of its mode, elsewhere it is all but a wire. (The series-parallel impedance of
Fleming, Behrens & Moheimani 2003, Smart Mater. Struct. 12, 36, with the two inductors of a branch as one; from
memory.)

The capacitors in line are one capacitance across the leads, C_s = 1/sum(1/C_j), and what their voltages
u_j = (C_s/C_j) V + d_j differ by, sum d_j = 0. With sqrt(C_j) d_j = Q z, Q an orthonormal basis of what is orthogonal to
1/sqrt(C_j), the energy is (C_s V^2 + |z|^2)/2 and the states are z and the coils' sqrt(L_j) i_j.

Closed form: at its mode a branch meets the patches, in line with them what the other branches are there, and its own
capacitor beside; L and R are those of a parallel R-L on that.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from core.beam.varied import Number
from core.circuit import branches, coil, parallel_rl
from core.circuit.kind import Array, CircuitKind, ComplexArray, Port, Target, Values, numbered, ratio
from core.circuit.network import COMMON, LEAD, Network, Part

RESISTANCE = "resistance_ohm"


def series_parallel(count: int) -> CircuitKind:
    """The kind with so many branches."""
    return CircuitKind(
        f"series-parallel {count}",
        f"{count} branches, series-parallel",
        branches.parameters(count, 1e6),
        partial(_immittance, count),
        partial(_port, count),
        partial(_closed_form, count),
        partial(across, count),
        network=partial(_network, count),
        branches=count,
        met_f=lambda values, c: c + branches.capacitance(values, 1) - across(count, values),
    )


def across(count: int, values: Values) -> Number:
    """C_s, the capacitors in line."""
    return 1.0 / sum(1.0 / branches.capacitance(values, n) for n in range(1, count + 1))


def _immittance(count: int, values: Values, s: ComplexArray) -> branches.Pair:
    """Of all but C_s, which counts with the patches."""
    a, b = branches.in_line([_block(values, s, n) for n in range(1, count + 1)])
    return a, b - s * across(count, values) * a


def _block(values: Values, s: ComplexArray, n: int) -> branches.Pair:
    """V and I of a branch, as (a, b)."""
    resistance = values[numbered(RESISTANCE, n)]
    a, b = coil.pair(values, s, branch=n)
    return resistance * a, (1.0 + resistance * s * branches.capacitance(values, n)) * a + resistance * b


def _port(count: int, values: Values) -> Port:
    lead = np.broadcast_shapes(*(np.shape(v) for v in values.values()))
    root = np.stack(np.broadcast_arrays(*(_root(values, n, lead) for n in range(1, count + 1))), axis=-1)
    part = root**2 / (root**2).sum(axis=-1, keepdims=True)
    inner = count - 1
    # the voltage of each branch per V and z: (..., count, 1 + count - 1)
    volts = np.concatenate([part[..., None], root[..., :, None] * _orthogonal(root)], axis=-1)
    size = inner + count
    b, f = np.zeros((*lead, size, 1)), np.zeros((*lead, size, size))
    dampers = np.zeros((*lead, count, 1 + size))
    for n in range(1, count + 1):
        core, coupling, decay = coil.states(values, branch=n)
        beside = np.asarray(ratio(1.0, values[numbered(RESISTANCE, n)])) + core
        i, row = inner + n - 1, volts[..., n - 1, :]
        b[..., i, 0] = coupling * row[..., 0]
        f[..., i, :inner] = -coupling[..., None] * row[..., 1:]
        f[..., :inner, i] = coupling[..., None] * row[..., 1:]
        f[..., i, i] = decay
        dampers[..., n - 1, : 1 + inner] = np.sqrt(beside)[..., None] * row
    none: Array = np.zeros((*lead, 1, 1))
    return Port(none, b, np.swapaxes(b, -1, -2), f, np.zeros(size), dampers=dampers)


def _root(values: Values, n: int, lead: tuple[int, ...]) -> Array:
    """1/sqrt(C_n)."""
    return np.broadcast_to(np.asarray(branches.capacitance(values, n), dtype=float) ** -0.5, lead)


def _orthogonal(vector: Array) -> Array:
    """(..., n, n - 1) orthonormal columns orthogonal to vectors (..., n) without a zero: all but the first of the
    reflection that takes the vector into the first axis (Householder 1958)."""
    n = vector.shape[-1]
    unit = vector / np.linalg.norm(vector, axis=-1, keepdims=True)
    unit = unit + np.eye(n)[0]
    mirror = np.eye(n) - 2.0 * unit[..., :, None] * unit[..., None, :] / (unit * unit).sum(axis=-1)[..., None, None]
    return np.asarray(mirror[..., :, 1:])


def _closed_form(count: int, goal: str, target: Target) -> dict[str, Number]:
    own = across(count, target.given)
    modes = [branches.beside(mode, -own) for mode in branches.targets(target, count)]
    c = [branches.capacitance(target.given, n + 1) for n in range(count)]

    def others(n: int, j: int, inductance: Number) -> Number:
        """One over the capacitance that another branch is at a mode away from its resonance."""
        return 1.0 / (c[j] * branches.off_resonance(1.0 - 1.0 / (modes[n].omega_rad_s ** 2 * inductance * c[j])))

    def met(n: int, in_line: Number) -> Target:
        patches = modes[n].capacitance_f
        stiffer = np.clip(in_line, -0.8 / patches, (1.0 / branches.LEAST_LEFT - 1.0) / patches)
        capacitance = 1.0 / np.where(np.abs(stiffer) < 1e-6 / patches, 1e-6 / patches, stiffer)
        return branches.beside(branches.in_line_with(modes[n], capacitance), c[n])

    start = [1.0 / (m.omega_rad_s**2 * (c[n] + m.capacitance_f)) for n, m in enumerate(modes)]
    return branches.tuned(goal, count, start, others, met, parallel_rl.closed_form)


def _network(count: int, values: Mapping[str, float]) -> Network:
    nodes = [LEAD, *(f"n{n}" for n in range(1, count)), COMMON]
    out: list[Part] = []
    for n in range(1, count + 1):
        ends, names = (nodes[n - 1], nodes[n]), (numbered(RESISTANCE, n), numbered(branches.CAPACITANCE.name, n))
        out.append(Part(f"R{n}", "resistor", values[names[0]], ends, names[0]))
        out.append(Part(f"C{n}", "capacitor", values[names[1]], ends, names[1]))
        out += coil.parts(values, *ends, n)
    return tuple(out)
