"""Poles of the coupled system and the damping each mode gets from them.

Definition: a pole belongs to the mode that holds the largest share of its mechanical energy
((|s|^2 + omega_n^2)|q_n|^2/2). A mode's damping is the lowest damping ratio among its
oscillatory poles that keep at least a tenth of their energy mechanical. The dielectric's
conductance is omega_n C tan(delta) of the mode looked at: one eigenproblem per mode, solved as
a batch, unless the dielectric is lossless.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem, state_matrices

Array = NDArray[np.float64]

LEAST_MECHANICAL = 0.1
"""A pole with less of its energy mechanical does not count for a mode's damping."""


@dataclass(frozen=True)
class Spectrum:
    """Poles of one state matrix, positive imaginary part or real.

    value_rad_s : (P,) complex; mechanical_share : (P,); owner : (P,) mode index from 0;
    oscillatory : (P,) bool; tolerance : growth rate [1/s] that is still rounding.
    """

    value_rad_s: NDArray[np.complex128]
    mechanical_share: Array
    owner: NDArray[np.intp]
    oscillatory: NDArray[np.bool_]
    tolerance: float

    @property
    def damping_ratio(self) -> Array:
        size = np.abs(self.value_rad_s)
        return -self.value_rad_s.real / np.where(size == 0, 1, size)

    @property
    def unstable(self) -> NDArray[np.bool_]:
        return self.value_rad_s.real > self.tolerance + 1e-9 * np.abs(self.value_rad_s)

    def poles_of(self, mode: int) -> NDArray[np.intp]:
        """Indices of the oscillatory poles of a mode (from 0), lowest frequency first."""
        found = np.flatnonzero(self.oscillatory & (self.owner == mode))
        return found[np.argsort(np.abs(self.value_rad_s[found]), kind="stable")]

    def damping_of(self, mode: int) -> float:
        """Damping ratio of a mode (from 0); nan where no oscillatory pole counts for it."""
        ratio = self.damping_ratio
        counting = (self.owner == mode) & self.oscillatory & (self.mechanical_share >= LEAST_MECHANICAL)
        return float(ratio[counting].min()) if counting.any() else float("nan")


def spectra(system: CoupledSystem, modes: int) -> list[Spectrum]:
    """A spectrum per mode, the dielectric loss of each taken at that mode's frequency."""
    if modes == 0 or system.n_modes == 0:
        return []
    lossy = system.is_lossy and any(not c.port().short for c in system.connections)
    at = system.omega_rad_s[: modes if lossy else 1]
    found = _solve(system, at)
    return found if lossy else found * modes


def spectrum_at(system: CoupledSystem, loss_omega_rad_s: float) -> Spectrum:
    """One spectrum with the dielectric loss taken at the frequency given."""
    return _solve(system, np.array([loss_omega_rad_s]))[0]


def mode_damping(system: CoupledSystem, modes: int) -> Array:
    """(modes,) damping ratios by the definition above."""
    return np.array([s.damping_of(n) for n, s in enumerate(spectra(system, modes))])


def _solve(system: CoupledSystem, loss_omega: Array) -> list[Spectrum]:
    matrices = state_matrices(system, loss_omega)
    n = system.n_modes
    values, vectors = np.linalg.eig(matrices)
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[:, :n] + energy[:, n : 2 * n]
    mechanical = per_mode.sum(axis=1)
    share = mechanical / energy.sum(axis=1)
    owner = per_mode.argmax(axis=1)
    oscillatory = np.abs(values.imag) > 1e-7 * np.abs(values)
    keep = values.imag >= 0
    rounding = 20 * np.finfo(float).eps * np.abs(matrices).max(axis=(1, 2))
    return [
        Spectrum(
            values[b][keep[b]].astype(complex),
            share[b][keep[b]],
            owner[b][keep[b]],
            oscillatory[b][keep[b]],
            float(rounding[b]),
        )
        for b in range(len(loss_omega))
    ]
