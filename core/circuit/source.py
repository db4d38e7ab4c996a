"""What a circuit meets at the leads of its group: the admittance of structure, dielectric and the rest.

    Y(s) = s (C + sum theta_n^2/d_n(s)) + omega C tan(delta) + the instrument's conductance

with the other groups' circuits in place, and its first two derivatives along s. Leading axes are layouts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEP = 1e-4
"""Relative step of a difference where other groups are in the way of a formula."""


@np.errstate(divide="ignore", invalid="ignore")
def source_admittance(
    system: CoupledSystem, group: int, s: ComplexArray, loss_omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Y, Y' and Y'' at s (...), one per layout; the dielectric loss taken at a frequency of its own."""
    if len(system.connections) == 1:
        return _alone(system, s, loss_omega_rad_s)
    h = STEP * np.abs(s)
    low, here, high = (_among(system, group, s + k * h, loss_omega_rad_s) for k in (-1, 0, 1))
    return here, (high - low) / (2 * h), (high - 2 * here + low) / h**2


def _alone(
    system: CoupledSystem, s: ComplexArray, loss_omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    z = s[..., None]
    damped = 2.0 * system.zeta * system.omega_rad_s
    d, d1 = z * (z + damped) + system.omega_rad_s**2, 2.0 * z + damped
    share = system.theta[..., 0] ** 2 / d
    # s share, once and twice differentiated: share' = -share d'/d, share'' = share (2 d'^2/d - 2)/d.
    first = -share * d1 / d
    second = share * (2.0 * d1 * d1 / d - 2.0) / d
    c, a0, a1, a2 = system.capacitance_f[..., 0, 0], share.sum(-1), first.sum(-1), second.sum(-1)
    leak = system.loss_f[..., 0, 0] * loss_omega_rad_s + system.connections[0].instrument_s
    return s * (c + a0) + leak, c + a0 + s * a1, 2.0 * a1 + s * a2


def _among(system: CoupledSystem, group: int, s: ComplexArray, loss_omega_rad_s: Array) -> ComplexArray:
    """Y with the other groups' circuits on their leads, by elimination of their voltages."""
    z = s[..., None]
    d = z * (z + 2.0 * system.zeta * system.omega_rad_s) + system.omega_rad_s**2
    theta = system.theta
    modal = np.swapaxes(theta, -1, -2) @ (theta / d[..., None])
    y = z[..., None] * (system.capacitance_f + modal) + np.asarray(loss_omega_rad_s)[..., None, None] * system.loss_f
    others = [g for g in range(theta.shape[-1]) if g != group]
    rows = []
    for g in others:
        connection = system.connections[g]
        a, b = connection.immittance(s[..., None])
        row = a * y[..., g, :]
        row[..., g] += (b + a * connection.instrument_s)[..., 0]
        rows.append(row)
    matrix = np.stack(rows, axis=-2)
    to_own = np.linalg.solve(matrix[..., others], matrix[..., [group]])[..., 0]
    own = y[..., group, group] - (y[..., group, others] * to_own).sum(axis=-1)
    return np.asarray(own + system.connections[group].instrument_s)
