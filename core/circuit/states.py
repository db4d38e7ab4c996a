"""A coupled system as one real first-order matrix, for one layout or many.

States in energy variables, half their squared norm the stored energy:

    [omega_n q_n (N), q_n' (N), sqrt(C) V (ports that are not shorted), states of the connections]

so the matrix is skew minus a dissipation: what is passive cannot come out unstable, whatever
its values. Where C is not positive (a negative capacitance larger than the patches'), the rate of that
state changes its sign, and the poles tell. States too fast for rounding are taken out in `core.circuit.fast_states`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import LARGEST_RATE
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]

STIFF = 1e3
"""Times the highest mode, from which a lead that drains so fast is a damper of its own."""
LEAST_STORED = 1e-60
"""F; keeps a rate finite where a negative capacitance leaves exactly nothing."""


def loss_slope(system: CoupledSystem) -> tuple[slice, Array]:
    """Where the dielectric's conductance enters the full state matrix, and minus its growth per
    rad/s, (..., m, m): d A / d omega on those states."""
    live = live_ports(system)
    to_volt, sign = _storage(_of(system.capacitance_f, live))
    start = 2 * system.n_modes
    loss = np.swapaxes(to_volt, -1, -2) @ _of(system.loss_f, live) @ to_volt
    return slice(start, start + len(live)), -loss if sign is None else -sign[..., None] * loss


def live_ports(system: CoupledSystem) -> list[int]:
    """Ports that are not shorted."""
    return system.live_ports


def state_slices(system: CoupledSystem) -> list[slice]:
    """Where the states of each connection stand among all."""
    at, out = 2 * system.n_modes + len(live_ports(system)), []
    for connection in system.connections:
        port = connection.port()
        width = 0 if port.short else port.states
        out.append(slice(at, at + width))
        at += width
    return out


def full_size(system: CoupledSystem) -> int:
    """Number of states before fast ones are eliminated."""
    slices = state_slices(system)
    return slices[-1].stop if slices else 2 * system.n_modes + system.n_ports


def full_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> tuple[Array, Array]:
    """(..., n, n) state matrices before fast states are eliminated and how voltages are read
    (..., P, n); the loss frequencies broadcast with the layouts."""
    rest, voltage, dampers = assembled(system, loss_omega_rad_s)
    return (rest - np.swapaxes(dampers, -1, -2) @ dampers if dampers.shape[-2] else rest), voltage


def assembled(system: CoupledSystem, loss_omega_rad_s: Array) -> tuple[Array, Array, Array]:
    """The same without the dampers of the ports, and these as rows (..., J, n) on all states."""
    n, live, size = system.n_modes, live_ports(system), full_size(system)
    lead = np.broadcast_shapes(system.lead, loss_omega_rad_s.shape)
    a = np.zeros((*lead, size, size))
    _diagonal(a, 0, n, n)[...] = system.omega_rad_s
    _diagonal(a, n, 0, n)[...] = -system.omega_rad_s
    _diagonal(a, n, n, n)[...] = -2 * system.zeta * system.omega_rad_s
    to_volt, sign = _storage(_of(system.capacitance_f, live))
    voltage = np.zeros((*to_volt.shape[:-2], system.n_ports, size))
    dampers: list[Array] = []
    if not live:
        return a, voltage, np.zeros((0, size))
    v = slice(2 * n, 2 * n + len(live))
    back = np.swapaxes(to_volt, -1, -2)
    theta = system.theta[..., live] @ to_volt
    a[..., n : 2 * n, v] = -theta
    a[..., v, n : 2 * n] = np.swapaxes(theta, -1, -2)
    leak = np.zeros((*system.lead, len(live), len(live)))
    for i, (connection, x) in enumerate(zip(system.connections, state_slices(system), strict=True)):
        port = connection.port()
        if port.short:
            continue
        leads = system.leads(i)
        # of several leads one may be shorted by what hangs on it besides: no voltage, and its current is its own
        own = [k for k, p in enumerate(leads) if p in live]
        at = [live.index(leads[k]) for k in own]
        leak[..., np.array(at, dtype=int)[:, None], at] += _of(port.conductance_s, own)
        if leads[0] in live:
            leak[..., at[0], at[0]] += connection.instrument_s
        if port.states:
            a[..., v, x] = -back[..., :, at] @ port.back[..., own, :]
            a[..., x, v] = port.coupling[..., own] @ to_volt[..., at, :]
            a[..., x, x] = -port.damping
        if port.dampers is not None:
            rows = np.zeros((*system.lead, port.dampers.shape[-2], size))
            rows[..., v] = port.dampers[..., own] @ to_volt[..., at, :]
            rows[..., x] = port.dampers[..., len(leads) :]
            dampers.append(rows)
    if len(live) > 1 and sign is None:
        dampers += _stiff_leaks(system, leak, to_volt, v, size)
    conductance = np.clip(back @ leak @ to_volt, -LARGEST_RATE, LARGEST_RATE)
    loss = back @ _of(system.loss_f, live) @ to_volt
    a[..., v, v] = -conductance - loss_omega_rad_s[..., None, None] * loss
    if sign is not None:
        a[..., v, :] *= sign[..., None]
    voltage[..., live, v] = to_volt
    return a, voltage, np.concatenate(dampers, axis=-2) if dampers else np.zeros((0, size))


def _stiff_leaks(system: CoupledSystem, leak: Array, to_volt: Array, v: slice, size: int) -> list[Array]:
    """Rows (..., 1, n) of what all but shorts a lead, taken out of `leak` (..., m, m). Leads share capacitance, so that a
    lead's voltage is a sum of states: as a damper it can be turned into a state of its own, in the matrix it would drown
    what is slow beside it."""
    reach = (to_volt**2).sum(axis=-1)
    top = STIFF * (system.omega_rad_s.max(axis=-1) if system.n_modes else np.ones(()))
    found = []
    for i in range(leak.shape[-1]):
        if not np.any(leak[..., i, i] * reach[..., i] > top):
            continue
        row = np.zeros((*system.lead, 1, size))
        row[..., 0, v] = np.sqrt(np.clip(leak[..., i, i], 0.0, LARGEST_RATE / reach[..., i]))[..., None] * to_volt[..., i, :]
        leak[..., i, i] = np.minimum(leak[..., i, i], 0.0)
        found.append(row)
    return found


def _diagonal(a: Array, row: int, column: int, count: int) -> Array:
    """(..., count) view of the entries (row + i, column + i) of every matrix."""
    size = a.shape[-1]
    flat = a.reshape(*a.shape[:-2], size * size)
    return flat[..., row * size + column :: size + 1][..., :count]


def _of(matrix: Array, ports: list[int]) -> Array:
    """The rows and columns of some ports."""
    return matrix if len(ports) == matrix.shape[-1] else matrix[..., np.array(ports, dtype=int)[:, None], ports]


def _storage(capacitance: Array) -> tuple[Array, Array | None]:
    """T with V = T v and V^T C V = sum of sign v^2; the signs (..., n), None where all are positive."""
    if capacitance.shape[-1] == 1:
        negative = capacitance < 0.0
        root = np.maximum(np.abs(capacitance), LEAST_STORED) ** -0.5
        return root, np.where(negative, -1.0, 1.0)[..., 0] if negative.any() else None
    try:
        return np.swapaxes(np.linalg.inv(np.linalg.cholesky(capacitance)), -1, -2), None
    except np.linalg.LinAlgError:
        value, vectors = np.linalg.eigh(capacitance)
        return vectors * (np.maximum(np.abs(value), LEAST_STORED) ** -0.5)[..., None, :], np.where(value < 0.0, -1.0, 1.0)
