"""What a circuit meets at the leads of its group: the admittance of structure, dielectric and the rest.

    Y(s) = s (C + sum theta_n^2/d_n(s)) + omega C tan(delta) + the instrument's conductance

with the other groups' circuits in place, and its first two derivatives along s. Leading axes are layouts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import Connection, CoupledSystem, live_ports

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEP = 1e-3
"""Relative step of differences of a circuit's immittance, a polynomial of low degree."""


@np.errstate(divide="ignore", invalid="ignore")
def source_admittance(
    system: CoupledSystem, group: int, s: ComplexArray, loss_omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Y, Y' and Y'' at s (...), one per layout; the dielectric loss taken at a frequency of its own."""
    if system.n_ports == 1:
        return _alone(system, s, loss_omega_rad_s)
    return _among(system, group, s, loss_omega_rad_s)


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


def _among(
    system: CoupledSystem, group: int, s: ComplexArray, loss_omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """With the other groups' circuits on their leads: their voltages x = D^-1 b eliminated from the
    symmetric admittance [[A, b^T], [b, D]], so that Y = A - b^T x and, with r = b' - D' x,

        Y' = A' - 2 b'^T x + x^T D' x,   Y'' = A'' - 2 b''^T x + x^T D'' x - 2 r^T D^-1 r.
    """
    others = [p for p in live_ports(system) if p != group]
    each = _admittances(system, s, loss_omega_rad_s)
    for i, connection in enumerate(system.connections):
        at = np.array(system.leads(i))
        each[0][..., at[0], at[0]] += connection.instrument_s
        if connection.port().short or group in at:
            continue
        for matrix, own in zip(each, _circuit(connection, s), strict=True):
            matrix[..., at[:, None], at] += own
    b, d = [m[..., others, group] for m in each], [m[..., np.array(others, dtype=int)[:, None], others] for m in each]
    x = np.linalg.solve(d[0], b[0][..., None])[..., 0]
    r = b[1] - (d[1] @ x[..., None])[..., 0]
    bent = np.linalg.solve(d[0], r[..., None])[..., 0]

    def along(k: int) -> ComplexArray:
        own = (x * (d[k] @ x[..., None])[..., 0]).sum(axis=-1)
        return np.asarray(each[k][..., group, group] - 2 * (b[k] * x).sum(axis=-1) + own)

    return (
        each[0][..., group, group] - (b[0] * x).sum(axis=-1),
        along(1),
        along(2) - 2 * (r * bent).sum(axis=-1),
    )


def _admittances(
    system: CoupledSystem, s: ComplexArray, loss_omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """(..., G, G) admittance of modes and dielectric at the leads, and its first two derivatives."""
    z = s[..., None]
    damped = 2.0 * system.zeta * system.omega_rad_s
    d, d1 = z * (z + damped) + system.omega_rad_s**2, 2.0 * z + damped
    theta = system.theta
    flat = (theta[..., :, None] * theta[..., None, :]).reshape(*theta.shape[:-1], -1)

    def matrix(weight: ComplexArray) -> ComplexArray:
        total = (weight[..., None, :] @ flat)[..., 0, :]
        return total.reshape(*total.shape[:-1], theta.shape[-1], theta.shape[-1])

    a0, a1, a2 = matrix(1.0 / d), matrix(-d1 / d**2), matrix((2.0 * d1 * d1 / d - 2.0) / d**2)
    z = z[..., None]
    loss = np.asarray(loss_omega_rad_s)[..., None, None] * system.loss_f
    whole = system.capacitance_f + a0
    return z * whole + loss, whole + z * a1, 2.0 * a1 + z * a2


def _circuit(connection: Connection, s: ComplexArray) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """(..., n, n) admittance of a circuit and its first two derivatives; a and b are at most quadratic in s."""
    h = STEP * np.abs(s)
    a, b = connection.pair(np.stack([s - h, s, s + h], axis=-1))
    h = h[..., None, None]

    def along(v: ComplexArray) -> tuple[ComplexArray, ...]:
        before, here, after = v[..., 0, :, :], v[..., 1, :, :], v[..., 2, :, :]
        return here, (after - before) / (2 * h), (after - 2 * here + before) / h**2

    (a0, a1, a2), (b0, b1, b2) = along(a), along(b)
    y = _over(a0, b0)
    y1 = _over(a0, b1 - a1 @ y)
    return y, y1, _over(a0, b2 - 2 * a1 @ y1 - a2 @ y)


def _over(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """a^-1 b of (..., n, n)."""
    return np.asarray(b / a) if a.shape[-1] == 1 else np.linalg.solve(a, b).astype(complex)


def pole_among_others(system: CoupledSystem, group: int, mode: int) -> ComplexArray:
    """(...) where a mode's pole lies with the other groups' circuits alone, to first order."""
    omega, zeta = system.omega_rad_s[..., mode], system.zeta[..., mode]
    s = omega * (1j * np.sqrt(np.maximum(1.0 - zeta**2, 0.0)) - zeta)
    moved = s
    for i, connection in enumerate(system.connections):
        at = np.array(system.leads(i))
        if group in at or connection.port().short:
            continue
        y = s[..., None, None] * system.capacitance_f[..., at[:, None], at]
        y = y + omega[..., None, None] * system.loss_f[..., at[:, None], at] + _circuit(connection, s)[0]
        y[..., 0, 0] += connection.instrument_s
        theta = system.theta[..., mode, at]
        moved = moved - 0.5 * (theta * _over(y, theta[..., None].astype(complex))[..., 0]).sum(axis=-1)
    return np.asarray(moved)
