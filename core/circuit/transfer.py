"""Harmonic response of the coupled system, exact in what hangs on the ports and in the truncated modes.

With kept modes q, `d_n = omega_n^2 - omega^2 + 2 j zeta_n omega_n omega` and a force F:

    q = (phi_F F - theta V)/d,     Q = -theta^T q - e_F F + C V,     a (I - I_0) = b V,  I = -s Q

`e` is what the truncated modes add statically (`theta_rows (I - U U^T) r`), C the corrected
capacitance, I_0 what the connections do by themselves as the base moves (a tuned mass stays behind). The
dielectric counts as C (1 - j tan delta) at every frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Port
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

LEAST_ZETA = 1e-9
"""Keeps an undamped mode finite where a frequency falls on it."""


@dataclass(frozen=True)
class Functional:
    """A load or an output: modal values (..., N), share of the truncated modes in the charges of the
    ports (..., P), the rigid-body values (..., n_rigid), and the acceleration of the base it is."""

    modal: Array
    electric: Array
    rigid: Array
    base: float = 0.0


@dataclass(frozen=True)
class Forced:
    """Response to a unit force, over F frequencies.

    before : (..., F, N) modal amplitudes, every port shorted; after : (..., F, N) with the connections;
    voltage : (..., F, P) across the ports [V per unit]; rigid : (..., F, n_rigid).
    """

    omega_rad_s: Array
    before: ComplexArray
    after: ComplexArray
    voltage: ComplexArray
    rigid: ComplexArray

    def output(self, at: Functional, residual: Array | float) -> tuple[ComplexArray, ComplexArray]:
        """(before, after) at an output, (..., F); `residual` is the truncated modes' static answer."""
        common = np.asarray(residual)[..., None] + _along(self.rigid, at.rigid)
        after = _along(self.after, at.modal) + common - _along(self.voltage, at.electric)
        return _along(self.before, at.modal) + common, after


def _along(values: ComplexArray, weights: Array) -> ComplexArray:
    """(..., F, k) times (..., k): (..., F)."""
    return np.asarray((values @ weights[..., None])[..., 0])


def forced(system: CoupledSystem, load: Functional, omega_rad_s: Array) -> Forced:
    """Modal amplitudes and voltages per unit of the load at each frequency (> 0), (..., F)."""
    w = np.asarray(omega_rad_s, dtype=float)
    real, imag = _flexibility(system, w)
    flexibility: ComplexArray = np.empty((*real.shape[:-2], *real.shape[:-3:-1]), dtype=complex)
    flexibility.real, flexibility.imag = np.swapaxes(real, -1, -2), np.swapaxes(imag, -1, -2)
    before = flexibility * load.modal[..., None, :]
    rigid = -load.rigid[..., None, :] / w[..., None] ** 2 + 0j
    if not system.n_ports:
        return Forced(w, before, before, np.zeros((*w.shape, 0), dtype=complex), rigid)
    theta = system.theta
    charge = before @ theta + load.electric[..., None, :]
    inner = _inner(system, flexibility @ _products(theta), w)
    voltage = _voltage(system, w, inner, charge, load.base)
    after = before - flexibility * (voltage @ np.swapaxes(theta, -1, -2))
    return Forced(w, before, after, voltage, rigid)


def answers(
    system: CoupledSystem, load: Functional, output: Functional, residual: Array | float, omega_rad_s: Array
) -> tuple[ComplexArray, ComplexArray]:
    """(before, after) at an output per unit of the load, (..., F): `forced` and its `output` without the
    modal amplitudes between, which many layouts have no use for.

    Sums over the modes go through one product each, real and imaginary part apart: real numbers are
    several times faster.
    """
    w, theta = omega_rad_s, system.theta
    rows = [
        (output.modal * load.modal)[..., None],
        load.modal[..., None] * theta,
        output.modal[..., None] * theta,
        _products(theta),
    ]
    lead = np.broadcast_shapes(*(r.shape[:-1] for r in rows))
    stacked = np.concatenate([np.broadcast_to(r, (*lead, r.shape[-1])) for r in rows], axis=-1)
    stacked = np.swapaxes(stacked, -1, -2)
    real, imag = _flexibility(system, w)
    found: ComplexArray = np.empty((*real.shape[:-2], stacked.shape[-2], w.shape[-1]), dtype=complex)
    found.real, found.imag = stacked @ real, stacked @ imag
    groups = theta.shape[-1]
    rigid = (load.rigid * output.rigid).sum(axis=-1)[..., None] / w**2
    before = found[..., 0, :] + np.asarray(residual)[..., None] - rigid
    if not groups:
        return before, before
    sums = np.swapaxes(found, -1, -2)
    charge: ComplexArray = (sums[..., 1 : 1 + groups] + load.electric[..., None, :]).astype(complex)
    sensed = sums[..., 1 + groups : 1 + 2 * groups] + output.electric[..., None, :]
    voltage = _voltage(system, w, _inner(system, sums[..., 1 + 2 * groups :], w), charge, load.base)
    return before, before - (voltage * sensed).sum(axis=-1)


def _flexibility(system: CoupledSystem, w: Array) -> tuple[Array, Array]:
    """Real and imaginary part of 1/(omega_n^2 - w^2 + 2 j zeta_n omega_n w), (..., N, F): by real arithmetic, and
    along the frequencies, of which there are more (four times as fast)."""
    omega, zeta = system.omega_rad_s[..., None], np.maximum(system.zeta, LEAST_ZETA)[..., None]
    w = w[..., None, :]
    stiff = omega * omega - w * w
    loss = w * (2.0 * zeta * omega)
    size = 1.0 / (stiff * stiff + loss * loss)
    return stiff * size, -loss * size


def _products(theta: Array) -> Array:
    """(..., N, G * G) products of the couplings of each mode."""
    return (theta[..., :, None] * theta[..., None, :]).reshape(*theta.shape[:-1], theta.shape[-1] ** 2)


def _inner(system: CoupledSystem, sums: ComplexArray, w: Array) -> ComplexArray:
    """(..., F, G, G) admittance of the groups without their circuits, from the modes' share in the
    dynamic capacitance (..., F, G * G)."""
    groups = system.theta.shape[-1]
    capacitance = system.capacitance_f[..., None, :, :] + sums.reshape(*sums.shape[:-1], groups, groups)
    y = (1j * w)[..., None, None] * capacitance + w[..., None, None] * system.loss_f[..., None, :, :]
    for i, connection in enumerate(system.connections):
        if connection.instrument_s:
            first = system.leads(i)[0]
            y[..., first, first] += connection.instrument_s
    return y


def _voltage(
    system: CoupledSystem, w: Array, y: ComplexArray, charge: ComplexArray, base: float
) -> ComplexArray:
    """(..., F, P) voltage across the ports per unit of the load."""
    s = (1j * w).astype(complex)
    current = s[..., None] * charge
    if base:
        current = current - base * _by_base(system, s)
    if len(system.connections) == y.shape[-1] == 1:
        a, b = system.connections[0].immittance(s)
        return np.asarray((a * current[..., 0] / (b + a * y[..., 0, 0]))[..., None])
    a, b = _pairs(system, s)
    return np.linalg.solve(b + a @ y, a @ current[..., None])[..., 0].astype(complex)


def _pairs(system: CoupledSystem, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """(..., F, P, P) of all connections together; a port without any is open. What hangs on a port beside its own
    adds its current: a I = b V becomes a I = (b + a Y) V."""
    ports = system.n_ports
    pairs = [c.pair(s) for c in system.connections]
    shape = np.broadcast_shapes(s.shape, *(v.shape[:-2] for pair in pairs for v in pair))
    a = np.zeros((*shape, ports, ports), dtype=complex)
    a[..., np.arange(ports), np.arange(ports)] = 1.0
    b = np.zeros_like(a)
    taken: set[int] = set()
    for i in sorted(range(len(pairs)), key=lambda i: len(system.leads(i))):
        at, (own_a, own_b) = np.array(system.leads(i)), pairs[i]
        if taken.isdisjoint(system.leads(i)):
            a[..., at[:, None], at], b[..., at[:, None], at] = own_a, own_b
        else:
            b[..., :, at] += a[..., :, at] @ np.linalg.solve(own_a, own_b)
        taken.update(system.leads(i))
    return a, b


def _by_base(system: CoupledSystem, s: ComplexArray) -> ComplexArray:
    """(..., F, P) current into each connection by a unit acceleration of the base, without voltage."""
    out = np.zeros((*np.broadcast_shapes((*system.lead, 1), s.shape), system.n_ports), dtype=complex)
    for i, connection in enumerate(system.connections):
        port = connection.port()
        if port.base.any():
            leads = list(system.leads(i))
            moved = inner_states(port, s, np.zeros((1, len(leads))), 1.0)
            out[..., leads] += (port.flow[..., None, : len(leads), len(leads) :] @ moved[..., None])[..., 0]
    return out


def inner_states(port: Port, s: ComplexArray, voltage: ComplexArray | Array, base: float) -> ComplexArray:
    """(..., F, k) states of a connection under voltages (..., F, n) and an acceleration of the base."""
    n, flow = voltage.shape[-1], port.flow[..., None, :, :]
    matrix = s[..., None, None] * np.eye(port.states) + flow[..., n:, n:]
    pushed = base * port.base[..., None, :] - (flow[..., n:, :n] @ voltage[..., None])[..., 0]
    right = np.broadcast_to(pushed, matrix.shape[:-1])
    return np.linalg.solve(matrix, right[..., None])[..., 0].astype(complex)
