"""The coupled systems of many layouts as stacked arrays: what `core.circuit.system` does for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit import instrument
from core.circuit.connect import SMALLEST_CAPACITANCE_F
from core.circuit.kind import LARGEST_RATE, CircuitKind, Port, Target
from core.circuit.registry import CIRCUITS
from core.circuit.system import FAST, Connection, CoupledSystem
from core.project.model import Group
from core.study.many.sweep import Sweep

Array = NDArray[np.float64]
Values = dict[str, float]


@dataclass(frozen=True)
class Plan:
    """P layouts with their circuits in effect, N modes kept, G groups.

    omega_rad_s, zeta : (P, N); theta : (P, N, G); capacitance_f, loss_f : (P, G, G); values :
    per group, the circuit values of every layout; leak_s : per group, an instrument's conductance.
    """

    omega_rad_s: Array
    zeta: Array
    theta: Array
    capacitance_f: Array
    loss_f: Array
    kinds: tuple[CircuitKind, ...]
    values: tuple[Sequence[Values], ...]
    leak_s: tuple[float, ...]

    def system(self, i: int) -> CoupledSystem:
        """One layout as the coupled system of a single prediction."""
        return CoupledSystem(
            self.omega_rad_s[i],
            self.zeta[i],
            self.theta[i],
            self.capacitance_f[i],
            self.loss_f[i],
            tuple(
                Connection(k, v[i], s) for k, v, s in zip(self.kinds, self.values, self.leak_s, strict=True)
            ),
        )

    def value(self, group: int, name: str) -> Array:
        """(P,) one circuit value of a group."""
        return np.array([v[name] for v in self.values[group]])


def plan_layouts(
    found: Sweep, groups: tuple[Group, ...], n_modes: int, detune: tuple[Values, ...] | None = None
) -> Plan:
    """Circuits of every layout: fixed values, or the closed form on the tuned mode times `detune`."""
    n = min(n_modes, found.mu_s2.shape[1])
    omega = found.omega_rad_s[:, :n]
    cables = np.array([instrument.capacitance_f(g.instrument) for g in groups])
    filler = np.where(found.blocked_f.diagonal(axis1=-2, axis2=-1) > 0, 0.0, SMALLEST_CAPACITANCE_F)
    factors = detune or tuple({} for _ in groups)
    return Plan(
        omega_rad_s=omega,
        zeta=found.zeta0[:, :n],
        theta=omega[..., None] * found.p[:, :n],
        capacitance_f=found.corrected_f(n) + (cables + filler)[..., None] * np.eye(len(groups)),
        loss_f=found.loss_f,
        kinds=tuple(CIRCUITS[g.circuit.kind] for g in groups),
        values=tuple(_values(found, g, j, float(cables[j]), n, factors[j]) for j, g in enumerate(groups)),
        leak_s=tuple(instrument.conductance_s(g.instrument) for g in groups),
    )


def _values(
    found: Sweep, group: Group, index: int, cable_f: float, n: int, factors: Values
) -> Sequence[Values]:
    """Circuit values of a group for every layout: fixed, or the closed form on its mode times the
    factors."""
    kind, tuning = CIRCUITS[group.circuit.kind], group.circuit.tuning
    fixed = kind.complete(group.circuit.values)
    if tuning is None or kind.closed_form is None:
        return [fixed] * len(found.mu_s2)
    mode = min(max(tuning.mode, 1), n) - 1
    k2, own = (a[:, mode] for a in found.coupling(index, mode + 1))
    omega = found.omega_rad_s[:, mode]
    out = []
    for w, k, c in zip(omega, k2, own, strict=True):
        c = float(c) if c > 0 else SMALLEST_CAPACITANCE_F
        target = Target(float(w), float(k) * c / (c + cable_f), c + cable_f)
        tuned = kind.closed_form(tuning.goal, target)
        out.append({**fixed, **{name: v * factors.get(name, 1.0) for name, v in tuned.items()}})
    return out


def stacked_matrices(plan: Plan, reference: int) -> tuple[NDArray[np.intp], Array]:
    """State matrices of the layouts that can be stacked: their indices and (P', 2, n, n), with the
    dielectric's conductance at the reference mode's frequency and at twice it.

    Left out are layouts with an electrical state far faster than the modes, which the single
    system eliminates, and everything where a circuit is a short for some layouts only.
    """
    ports = [[kind.port(v) for v in values] for kind, values in zip(plan.kinds, plan.values, strict=True)]
    everywhere = np.arange(len(plan.omega_rad_s))
    if any(len({(p.short, len(p.coupling)) for p in of_group}) > 1 for of_group in ports):
        return everywhere[:0], np.zeros((0, 2, 0, 0))
    live = [g for g, of_group in enumerate(ports) if not of_group[0].short]
    full, loss = _assemble(plan, ports, live)
    omega = plan.omega_rad_s[:, reference]
    n, m = 2 * plan.omega_rad_s.shape[1], len(live)
    pair = np.stack([full, full], axis=1)
    pair[:, 0, n : n + m, n : n + m] -= omega[:, None, None] * loss
    pair[:, 1, n : n + m, n : n + m] -= 2.0 * omega[:, None, None] * loss
    if not m:
        return everywhere, pair
    slow = np.abs(pair[:, :, n:, n:]).max(axis=(1, 2, 3)) <= FAST * plan.omega_rad_s.max(axis=1)
    return everywhere[slow], pair[slow]


def _assemble(plan: Plan, ports: list[list[Port]], live: list[int]) -> tuple[Array, Array]:
    """(P, n, n) state matrices without dielectric loss, and the loss per rad/s of the voltages."""
    n_layouts, n = plan.omega_rad_s.shape
    widths = [len(ports[g][0].coupling) for g in live]
    size = 2 * n + len(live) + sum(widths)
    a = np.zeros((n_layouts, size, size))
    modes = np.arange(n)
    a[:, modes, n + modes] = plan.omega_rad_s
    a[:, n + modes, modes] = -plan.omega_rad_s
    a[:, n + modes, n + modes] = -2.0 * plan.zeta * plan.omega_rad_s
    if not live:
        return a, np.zeros((n_layouts, 0, 0))
    pick = np.ix_(np.arange(n_layouts), np.array(live), np.array(live))
    to_volt = _inverse_root(plan.capacitance_f[pick])
    back = np.swapaxes(to_volt, -1, -2)
    v = slice(2 * n, 2 * n + len(live))
    theta = plan.theta[:, :, live] @ to_volt
    a[:, n : 2 * n, v] = -theta
    a[:, v, n : 2 * n] = np.swapaxes(theta, -1, -2)
    leak = np.array([[p.conductance_s for p in ports[g]] for g in live]).T
    leak = leak + np.array([plan.leak_s[g] for g in live])
    a[:, v, v] = -np.clip((back * leak[:, None, :]) @ to_volt, -LARGEST_RATE, LARGEST_RATE)
    start = 2 * n + len(live)
    for row, g, width in zip(range(len(live)), live, widths, strict=True):
        x = slice(start, start + width)
        coupling = np.array([p.coupling for p in ports[g]])
        rate = to_volt[:, row, :, None] * coupling[:, None, :]
        a[:, v, x] = -rate
        a[:, x, v] = np.swapaxes(rate, -1, -2)
        a[:, x, x] = -np.array([p.damping for p in ports[g]])
        start += width
    return a, back @ plan.loss_f[pick] @ to_volt


def _inverse_root(capacitance: Array) -> Array:
    """(P, m, m) T with V = T v and v^T v = V^T C V."""
    if capacitance.shape[-1] == 1:
        return capacitance**-0.5
    return np.swapaxes(np.linalg.inv(np.linalg.cholesky(capacitance)), -1, -2)
