"""Harmonic response of the coupled system, exact in the circuit and in the truncated modes.

With kept modes q, `d_n = omega_n^2 - omega^2 + 2 j zeta_n omega_n omega` and a force F:

    q = (phi_F F - theta V)/d,     Q = -theta^T q - e_F F + C V,     a I = b V,  I = -s Q

`e` is what the truncated modes add statically (`theta_rows (I - U U^T) r`), C the corrected
capacitance. The dielectric counts as C (1 - j tan delta) at every frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

LEAST_ZETA = 1e-9
"""Keeps an undamped mode finite where a frequency falls on it."""


@dataclass(frozen=True)
class Functional:
    """A load or an output: modal values (N,), share of the truncated modes in the group charges
    (G,), and the rigid-body values (n_rigid,)."""

    modal: Array
    electric: Array
    rigid: Array


@dataclass(frozen=True)
class Forced:
    """Response to a unit force, over F frequencies.

    before : (F, N) modal amplitudes, every group shorted; after : (F, N) with the circuits;
    voltage : (F, G) across the leads [V per unit]; rigid : (F, n_rigid).
    """

    omega_rad_s: Array
    before: ComplexArray
    after: ComplexArray
    voltage: ComplexArray
    rigid: ComplexArray

    def output(self, at: Functional, residual: float) -> tuple[ComplexArray, ComplexArray]:
        """(before, after) at an output, (F,); `residual` is the truncated modes' static answer."""
        common = residual + self.rigid @ at.rigid
        return self.before @ at.modal + common, self.after @ at.modal + common - self.voltage @ at.electric


def forced(system: CoupledSystem, load: Functional, omega_rad_s: Array) -> Forced:
    """Modal amplitudes and voltages per unit of the load at each frequency (> 0)."""
    w = np.asarray(omega_rad_s, dtype=float)
    omega, zeta = system.omega_rad_s, np.maximum(system.zeta, LEAST_ZETA)
    flexibility = _flexibility(omega, zeta, w)
    before = flexibility * load.modal
    rigid = -load.rigid / w[:, None] ** 2 + 0j
    if not system.connections:
        return Forced(w, before, before, np.zeros((len(w), 0), dtype=complex), rigid)
    voltage = _voltage(system, load, w, flexibility, before)
    after = before - flexibility * (voltage @ system.theta.T)
    return Forced(w, before, after, voltage, rigid)


def _flexibility(omega: Array, zeta: Array, w: Array) -> ComplexArray:
    """1/(omega_n^2 - w^2 + 2 j zeta_n omega_n w), (F, N), by real arithmetic (twice as fast)."""
    stiff = omega**2 - (w * w)[:, None]
    loss = w[:, None] * (2.0 * zeta * omega)
    size = 1.0 / (stiff * stiff + loss * loss)
    out = np.empty(stiff.shape, dtype=complex)
    out.real = stiff * size
    out.imag = -loss * size
    return out


def _voltage(
    system: CoupledSystem, load: Functional, w: Array, flexibility: ComplexArray, before: ComplexArray
) -> ComplexArray:
    s = (1j * w).astype(complex)
    theta = system.theta
    pairs = [c.kind.immittance(c.values, s) for c in system.connections]
    charge = before @ theta + load.electric
    if len(pairs) == 1:
        a, b = pairs[0]
        inner = system.capacitance_f[0, 0] + flexibility @ theta[:, 0] ** 2
        y = s * inner + w * system.loss_f[0, 0] + system.connections[0].instrument_s
        return (a * s * charge[:, 0] / (b + a * y))[:, None]
    a = np.stack([p[0] for p in pairs], axis=1)
    b = np.stack([p[1] for p in pairs], axis=1)
    groups = len(pairs)
    products = (theta[:, :, None] * theta[:, None, :]).reshape(len(theta), -1)
    inner_matrix = system.capacitance_f + (flexibility @ products).reshape(-1, groups, groups)
    y_matrix = s[:, None, None] * inner_matrix + w[:, None, None] * system.loss_f
    diagonal = np.arange(groups)
    y_matrix[:, diagonal, diagonal] += [c.instrument_s for c in system.connections]
    matrix = a[:, :, None] * y_matrix
    matrix[:, diagonal, diagonal] += b
    right = (a * s[:, None] * charge)[:, :, None]
    return np.linalg.solve(matrix, right)[:, :, 0].astype(complex)
