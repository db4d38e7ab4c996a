"""Damping of every mode for many layouts at once, circuits following their tuning rule.

Each layout's coupled matrix is that of the single prediction (`core.circuit.system`), assembled
and solved for all layouts together. The dielectric's conductance is taken at the first tuned mode and
corrected to each pole's own mode to first order, which is exact to the square of tan delta.
"""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.circuit.connect import coupled_system
from core.circuit.optimum import Aim
from core.circuit.spectrum import LEAST_MECHANICAL, mode_damping
from core.piezo.layout import CoupledBeam, solve
from core.predict.forcing import active_load, forcing
from core.project.model import Candidate, Group, Project
from core.study.many.stacked import Plan, plan_layouts, stacked_matrices
from core.study.many.sweep import Sweep

Array = NDArray[np.float64]

KEPT = 8


def sweep_damping(
    found: Sweep, groups: tuple[Group, ...], modes: int, detune: tuple[dict[str, float], ...] | None = None
) -> Array:
    """(P, modes) damping ratios with the circuits; nan where no pole counts for a mode.

    `detune` gives per group the factors by which the values in effect differ from the closed form
    (an optimum of the coupled model, see `optimum_factors`); they are kept at every layout.
    """
    plan = plan_layouts(found, groups, max(KEPT, modes + 3), detune)
    return plan_damping(plan, modes, _reference_mode(groups, found.mu_s2.shape[1]))


def plan_damping(plan: Plan, modes: int, reference: int) -> Array:
    """(P, modes) damping ratios; nan where no pole counts for a mode. The dielectric is exact at the
    mode `reference` (from 0)."""
    out = np.full((len(plan.omega_rad_s), modes), np.nan)
    together, matrices = stacked_matrices(plan, reference)
    if len(together):
        out[together] = _damping(plan.omega_rad_s[together], matrices, reference, modes)
    for lost in np.flatnonzero(np.isnan(out).any(axis=1)):
        out[lost] = mode_damping(plan.system(int(lost)), modes)
    return out


def optimum_factors(
    beam: CoupledBeam, candidate: Candidate, aim: Aim | None = None
) -> tuple[dict[str, float], ...]:
    """Per group, how far an optimised circuit's values lie from their closed form (1 where equal)."""
    tuned = coupled_system(beam, candidate, aim).connections
    plain = coupled_system(beam, _by_closed_form(candidate)).connections
    return tuple(
        {name: t.values[name] / p.values[name] for name in t.values if p.values[name] > 0.0}
        for t, p in zip(tuned, plain, strict=True)
    )


def present_detune(project: Project, candidate: Candidate) -> tuple[dict[str, float], ...] | None:
    """The factors at the candidate's present layout; None where every circuit is at its closed form."""
    tunings = [g.circuit.tuning for g in candidate.groups]
    if all(t is None or t.rule == "closed form" for t in tunings):
        return None
    beam = solve(project, candidate)
    return optimum_factors(beam, candidate, forcing(beam, active_load(project), project.view).aim)


def _by_closed_form(candidate: Candidate) -> Candidate:
    def plain(group: Group) -> Group:
        tuning = group.circuit.tuning
        if tuning is None:
            return group
        return replace(group, circuit=replace(group.circuit, tuning=replace(tuning, rule="closed form")))

    return replace(candidate, groups=tuple(plain(g) for g in candidate.groups))


def _reference_mode(groups: tuple[Group, ...], n: int) -> int:
    tuned = [g.circuit.tuning.mode - 1 for g in groups if g.circuit.tuning is not None]
    return min(max(tuned[0], 0), n - 1) if tuned else 0


def _damping(omega: Array, pairs: Array, reference: int, modes: int) -> Array:
    """Damping from stacked matrices (P, 2, n, n): at the reference's loss and at twice it."""
    n = omega.shape[1]
    values, vectors = np.linalg.eig(pairs[:, 0])
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[:, :n] + energy[:, n : 2 * n]
    mechanical = per_mode.sum(axis=1) / energy.sum(axis=1)
    owner = per_mode.argmax(axis=1)
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
