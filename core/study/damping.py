"""Damping of every mode for many layouts at once, circuits following their tuning rule.

Each layout's coupled matrix is that of the single prediction (`core.circuit.system`); only the
eigenvalue calls are stacked. The dielectric's conductance is taken at the first tuned mode and
corrected to each pole's own mode to first order, which is exact to the square of tan delta.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.circuit import instrument
from core.circuit.connect import SMALLEST_CAPACITANCE_F, coupled_system
from core.circuit.kind import Target
from core.circuit.optimum import Aim
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import LEAST_MECHANICAL, mode_damping
from core.circuit.system import Connection, CoupledSystem, state_matrices
from core.piezo.layout import CoupledBeam
from core.project.model import Candidate, Group
from core.study.sweep import Sweep

Array = NDArray[np.float64]

KEPT = 8


def sweep_damping(
    found: Sweep, groups: tuple[Group, ...], modes: int, detune: tuple[dict[str, float], ...] | None = None
) -> Array:
    """(P, modes) damping ratios with the circuits; nan where no pole counts for a mode.

    `detune` gives per group the factors by which the values in effect differ from the closed form
    (an optimum of the coupled model, see `optimum_factors`); they are kept at every layout.
    """
    systems = sweep_systems(found, groups, max(KEPT, modes + 3), detune)
    reference = _reference_mode(groups, found.mu_s2.shape[1])
    out = np.full((len(systems), modes), np.nan)
    stacks: dict[int, list[tuple[int, Array]]] = {}
    for i, system in enumerate(systems):
        omega = float(system.omega_rad_s[reference])
        pair = state_matrices(system, np.array([omega, 2.0 * omega]))
        stacks.setdefault(pair.shape[-1], []).append((i, pair))
    for items in stacks.values():
        index = [i for i, _ in items]
        out[index] = _damping([systems[i] for i in index], np.stack([p for _, p in items]), reference, modes)
    for lost in np.flatnonzero(np.isnan(out).any(axis=1)):
        out[lost] = mode_damping(systems[lost], modes)
    return out


def optimum_factors(beam: CoupledBeam, candidate: Candidate, aim: Aim | None = None) -> tuple[dict[str, float], ...]:
    """Per group, how far an optimised circuit's values lie from their closed form (1 where equal)."""
    tuned = coupled_system(beam, candidate, aim).connections
    plain = coupled_system(beam, _by_closed_form(candidate)).connections
    return tuple(
        {name: t.values[name] / p.values[name] for name in t.values if p.values[name] > 0.0}
        for t, p in zip(tuned, plain, strict=True)
    )


def _by_closed_form(candidate: Candidate) -> Candidate:
    def plain(group: Group) -> Group:
        tuning = group.circuit.tuning
        if tuning is None:
            return group
        return replace(group, circuit=replace(group.circuit, tuning=replace(tuning, rule="closed form")))

    return replace(candidate, groups=tuple(plain(g) for g in candidate.groups))


def sweep_systems(
    found: Sweep, groups: tuple[Group, ...], n_modes: int, detune: tuple[dict[str, float], ...] | None = None
) -> list[CoupledSystem]:
    """The coupled system of every layout, N = n_modes kept."""
    n = min(n_modes, found.mu_s2.shape[1])
    omega = found.omega_rad_s[:, :n]
    theta = omega[..., None] * found.p[:, :n]
    cables = np.array([instrument.capacitance_f(g.instrument) for g in groups])
    filler = np.where(found.blocked_f.diagonal(axis1=-2, axis2=-1) > 0, 0.0, SMALLEST_CAPACITANCE_F)
    capacitance = found.corrected_f(n) + (cables + filler)[..., None] * np.eye(len(groups))
    factors = detune or tuple({} for _ in groups)
    values = [_values(found, g, j, float(cables[j]), n, factors[j]) for j, g in enumerate(groups)]
    kinds = [CIRCUITS[g.circuit.kind] for g in groups]
    leaks = [instrument.conductance_s(g.instrument) for g in groups]
    return [
        CoupledSystem(
            omega[i],
            found.zeta0[i, :n],
            theta[i],
            capacitance[i],
            found.loss_f[i],
            tuple(Connection(k, v[i], s) for k, v, s in zip(kinds, values, leaks, strict=True)),
        )
        for i in range(len(omega))
    ]


def _values(
    found: Sweep, group: Group, index: int, cable_f: float, n: int, factors: dict[str, float]
) -> Sequence[dict[str, float]]:
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


def _reference_mode(groups: tuple[Group, ...], n: int) -> int:
    tuned = [g.circuit.tuning.mode - 1 for g in groups if g.circuit.tuning is not None]
    return min(max(tuned[0], 0), n - 1) if tuned else 0


def _damping(systems: list[CoupledSystem], pairs: Array, reference: int, modes: int) -> Array:
    """Damping from stacked matrices (P, 2, n, n): at the reference's loss and at twice it."""
    n = systems[0].n_modes
    values, vectors = np.linalg.eig(pairs[:, 0])
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[:, :n] + energy[:, n : 2 * n]
    mechanical = per_mode.sum(axis=1) / energy.sum(axis=1)
    owner = per_mode.argmax(axis=1)
    omega = np.stack([s.omega_rad_s for s in systems])
    own = np.take_along_axis(omega, owner, axis=1)
    excess = own / omega[:, reference : reference + 1] - 1.0
    values = values + excess * _loss_slope(vectors, pairs[:, 1] - pairs[:, 0], n)
    ratio = -values.real / np.maximum(np.abs(values), 1e-300)
    counts = (values.imag > 1e-7 * np.abs(values)) & (mechanical >= LEAST_MECHANICAL)
    out = np.full((len(values), modes), np.nan)
    for mode in range(modes):
        mine = np.where(counts & (owner == mode), ratio, np.inf).min(axis=1)
        out[:, mode] = np.where(np.isfinite(mine), mine, np.nan)
    return out


def _loss_slope(vectors: NDArray[np.complex128], change: Array, n: int) -> NDArray[np.complex128]:
    """First-order shift of each pole for the change of the matrix, (P, n_poles).

    The matrix is skew minus symmetric in energy variables, so its left eigenvectors are the right
    ones with the velocity-like and current-like states reversed. Only voltage states are changed.
    """
    sign = np.ones(vectors.shape[1])
    sign[n : 2 * n] = -1.0
    touched = np.abs(change).sum(axis=(0, 2)) > 0.0
    sign[2 * n :] = np.where(touched[2 * n :], 1.0, -1.0)
    numerator = (sign[:, None] * vectors * (change @ vectors)).sum(axis=1)
    denominator = (sign[:, None] * vectors * vectors).sum(axis=1)
    small = np.abs(denominator) < 1e-9
    return np.where(small, 0.0, numerator / np.where(small, 1.0, denominator))
