"""Damping ratio of every mode with the circuits, of one layout or many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.fast_states import FAST, fast_ones
from core.circuit.secular import Roots, roots_of
from core.circuit.spectrum import LEAST_MECHANICAL, STANDING, is_active, spectra
from core.circuit.states import full_matrices, live_ports
from core.circuit.system import CoupledSystem, by_mode

Array = NDArray[np.float64]

ROUGHLY = 1e8
"""Times the highest mode, up to which a state may be as it is while values are searched for: poles lose 1e-8 of that mode."""
FEW = 8
"""Of fewer layouts the state matrices' eigenvalues are had sooner than the secular equation's roots."""


def mode_damping(system: CoupledSystem, modes: int) -> Array:
    """(..., modes) damping ratios by the definition above; of one layout, or of many (one leading
    axis), nan where nothing oscillates, and of a layout that runs away."""
    if not system.lead:
        found = spectra(system, modes)
        if any(s.unstable.any() for s in found):
            return np.full(len(found), np.nan)
        return np.array([s.damping_of(n) for n, s in enumerate(found)])
    if not any(c.serves for c in system.connections):
        return _of_all(system, modes)
    return np.stack([own for _, own in by_mode(system, modes, lambda standing: list(_of_all(standing, modes).T))], axis=-1)


def damping_of(system: CoupledSystem, mode: int) -> Array:
    """(P,) damping ratio of one mode (from 0) of many layouts, as `mode_damping` has it to some 1e-6, without what only other modes need."""
    for index in system.absent_for(mode):
        system = system.opened(index)
    count = mode + 1
    omega = np.broadcast_to(system.omega_rad_s, (*system.lead, system.n_modes))[:, mode]
    out = np.full(system.lead, np.nan)

    def by_roots(layouts: NDArray[np.intp]) -> None:
        found = roots_of(system.at(layouts)) if len(layouts) else None
        if found is not None:
            out[layouts] = _by_roots(found, count)[:, mode]

    def by_matrices(layouts: NDArray[np.intp]) -> NDArray[np.intp]:
        """Those that have a state too fast for the matrix; of the others it tells, also that nothing swings."""
        if not len(layouts):
            return layouts
        found, fast = _at_loss(system.at(layouts), omega[layouts], count, ROUGHLY)
        out[layouts] = found[:, mode]
        return layouts[fast]

    if system.lead[0] >= FEW:
        by_roots(np.arange(system.lead[0]))
        lost = by_matrices(np.flatnonzero(np.isnan(out)))
    else:
        lost = by_matrices(np.arange(system.lead[0]))
        by_roots(lost)  # a state too fast for the matrix is none too fast for its roots
        lost = lost[np.isnan(out[lost])]
    for one in lost:
        out[one] = mode_damping(system.one(int(one)), count)[mode]
    if is_active(system):
        out[runs_away(system)] = np.nan
    return out


def _of_all(system: CoupledSystem, modes: int) -> Array:
    found = roots_of(system) if system.lead[0] >= FEW else None
    out = np.full((system.lead[0], modes), np.nan) if found is None else _by_roots(found, modes)
    open_ = np.flatnonzero(np.isnan(out).any(axis=1))
    if len(open_):
        out[open_] = _by_matrices(system.at(open_), modes)
    for lost in np.flatnonzero(np.isnan(out).any(axis=1)):
        out[lost] = mode_damping(system.one(int(lost)), modes)
    if is_active(system):
        out[runs_away(system)] = np.nan
    return out


def runs_away(system: CoupledSystem) -> NDArray[np.bool_]:
    """(P,) layouts of which any pole grows, real ones (`spectrum.drifts`) too: no damping is left to tell."""
    out = np.zeros(system.lead, dtype=bool)
    if not is_active(system):
        return out
    for loss_at, real in ((np.asarray(system.omega_rad_s[..., 0]), False), (np.zeros(1), True)):
        matrices = full_matrices(system, loss_at)[0]
        poles = np.linalg.eigvals(matrices)
        size = np.abs(matrices).max(axis=(-1, -2))[..., None]
        kind = (np.abs(poles.imag) <= 1e-7 * np.abs(poles)) == real
        out |= (kind & (poles.real > STANDING * size + 1e-9 * np.abs(poles))).any(axis=-1)
    return out


def _by_roots(found: Roots, modes: int) -> Array:
    """From the roots of the secular equation; nan where it does not tell."""
    ratio = -found.value_rad_s.real / np.maximum(np.abs(found.value_rad_s), 1e-300)
    out = _least(ratio, found.value_rad_s, found.mechanical_share, found.dominant, modes)
    out[~found.settled] = np.nan
    return out


def _least(
    ratio: Array, value: NDArray[np.complex128], share: Array, dominant: NDArray[np.intp], modes: int
) -> Array:
    """(..., modes) lowest damping ratio among the poles that count for each mode; nan without one."""
    counts = (value.imag > 1e-7 * np.abs(value)) & (share >= LEAST_MECHANICAL)
    mine = counts[..., None, :] & (dominant[..., None, :] == np.arange(modes)[:, None])
    least = np.where(mine, ratio[..., None, :], np.inf).min(axis=-1)
    return np.where(np.isfinite(least), least, np.nan)


def _by_matrices(system: CoupledSystem, modes: int) -> Array:
    """From state matrices of all layouts, those of a mode with the dielectric's loss at its frequency: a circuit
    tuned to its optimum has two poles in one, where a correction from another frequency's would be wild.
    nan where a state is too fast."""
    omega = np.broadcast_to(system.omega_rad_s, (*system.lead, system.n_modes))
    if not (system.is_lossy and live_ports(system)):
        return _at_loss(system, omega[:, 0], modes)[0]
    each, _ = _at_loss(system, omega[:, :modes].T, modes)
    return np.diagonal(each, axis1=0, axis2=2).copy()


def middle_of_poles(system: CoupledSystem, mode: NDArray[np.intp]) -> NDArray[np.complex128]:
    """(P,) the middle of the poles of a mode (P,) of each, those that are mechanical enough to count, of layouts with one leading
    axis; nan where none is."""
    n = system.n_modes
    every = np.broadcast_to(system.omega_rad_s, (*system.lead, n))
    omega = np.take_along_axis(every, mode[:, None], axis=-1)[:, 0]
    values, vectors = np.linalg.eig(full_matrices(system, omega)[0])
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[..., :n, :] + energy[..., n : 2 * n, :]
    share = per_mode.sum(axis=-2) / energy.sum(axis=-2)
    mine = (values.imag > 1e-7 * np.abs(values)) & (share >= LEAST_MECHANICAL) & (per_mode.argmax(axis=-2) == mode[:, None])
    count = mine.sum(axis=-1)
    return np.where(count > 0, np.where(mine, values, 0.0).sum(axis=-1) / np.maximum(count, 1), np.nan)


def _at_loss(system: CoupledSystem, reference: Array, modes: int, fastest: float = FAST) -> tuple[Array, NDArray[np.bool_]]:
    """(..., P, modes) with the loss at one frequency (..., P) of each layout, nan where nothing oscillates, and (..., P) where
    a state is too fast for that."""
    n = system.n_modes
    matrices = full_matrices(system, reference)[0]
    fast = fast_ones(matrices, system, fastest)
    matrices[fast] = np.eye(matrices.shape[-1])
    values, vectors = np.linalg.eig(matrices)
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[..., :n, :] + energy[..., n : 2 * n, :]
    share = per_mode.sum(axis=-2) / energy.sum(axis=-2)
    ratio = -values.real / np.maximum(np.abs(values), 1e-300)
    out = _least(ratio, values, share, per_mode.argmax(axis=-2), modes)
    out[fast] = np.nan
    return out, fast
