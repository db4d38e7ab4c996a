"""Modes, patch groups and circuits as one real first-order system.

States in energy variables, half their squared norm the stored energy:

    [omega_n q_n (N), q_n' (N), sqrt(C) V (groups that are not shorted), circuit states]

so the matrix is skew minus a dissipation: a passive circuit cannot come out unstable, whatever
its values. An electrical state faster than `FAST` times the highest mode is eliminated
(quasi-static Schur complement, exact to 1/FAST^2), which keeps 1 milliohm or 1 nanohenry from
drowning the modes in rounding.

Signs: `q'' + 2 zeta omega q' + omega^2 q + theta V = f`, `C V' = theta^T q' - I`, I into the circuit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import LARGEST_RATE, CircuitKind, Port

Array = NDArray[np.float64]

FAST = 1e5


@dataclass(frozen=True)
class Connection:
    """A circuit with its values in effect, and what an instrument adds beside it."""

    kind: CircuitKind
    values: dict[str, float]
    instrument_s: float = 0.0

    def port(self) -> Port:
        return self.kind.port(self.values)


@dataclass(frozen=True)
class CoupledSystem:
    """N elastic modes, G groups: everything electrical as seen from the leads.

    omega_rad_s, zeta : (N,); theta : (N, G) N/V in modal units; capacitance_f : (G, G) with the
    truncation correction and cables; loss_f : (G, G) true blocked capacitance times tan delta.
    """

    omega_rad_s: Array
    zeta: Array
    theta: Array
    capacitance_f: Array
    loss_f: Array
    connections: tuple[Connection, ...]

    @property
    def n_modes(self) -> int:
        return len(self.omega_rad_s)

    @property
    def is_lossy(self) -> bool:
        return bool(self.loss_f.any())

    def with_connection(self, index: int, connection: Connection) -> CoupledSystem:
        rest = self.connections
        return replace(self, connections=(*rest[:index], connection, *rest[index + 1 :]))


@dataclass(frozen=True)
class StateSpace:
    """`matrix` (n, n) on the `kept` states; `expand` (n_all, n) gives back the eliminated ones;
    `voltage` (G, n_all) reads the group voltages."""

    matrix: Array
    kept: NDArray[np.intp]
    expand: Array
    voltage: Array
    n_modes: int


def state_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> Array:
    """State matrices with the dielectric's conductance taken at each frequency given.

    loss_omega_rad_s : (B,) rad/s. Returns (B, n, n), 1/s.
    """
    full, _ = _assemble([system], np.asarray(loss_omega_rad_s, dtype=float))
    return _eliminate(full, system)[0]


def variant_matrices(variants: Sequence[CoupledSystem], loss_omega_rad_s: float) -> Array | None:
    """(B, n, n) state matrices of systems that differ in the values of their circuits alone; None
    where one of them has a state so fast that it must be eliminated."""
    full, _ = _assemble(variants, np.array([loss_omega_rad_s]))
    return None if _has_fast(full, variants[0]) else full


def loss_slope(system: CoupledSystem) -> tuple[slice, Array]:
    """Where the dielectric's conductance enters the full state matrix, and minus its growth per
    rad/s, (m, m): d A / d omega on those states."""
    live = [g for g, c in enumerate(system.connections) if not c.port().short]
    to_volt = _inverse_root(_of(system.capacitance_f, live))
    start = 2 * system.n_modes
    return slice(start, start + len(live)), -(to_volt.T @ _of(system.loss_f, live) @ to_volt)


def full_size(system: CoupledSystem) -> int:
    """Number of states before fast ones are eliminated."""
    ports = [c.port() for c in system.connections]
    return 2 * system.n_modes + sum(1 + len(p.coupling) for p in ports if not p.short)


def state_space(system: CoupledSystem, loss_omega_rad_s: float) -> StateSpace:
    """One state matrix with the means to read voltages and eliminated states from it."""
    full, voltage = _assemble([system], np.array([loss_omega_rad_s]))
    reduced, kept, rows = _eliminate(full, system)
    expand = np.zeros((full.shape[-1], len(kept)))
    expand[kept, np.arange(len(kept))] = 1.0
    for index, row in reversed(rows):
        expand[index] = row[0] @ expand
    return StateSpace(reduced[0], kept, expand, voltage, system.n_modes)


def _assemble(variants: Sequence[CoupledSystem], loss_omega: Array) -> tuple[Array, Array]:
    """(B, n, n) full state matrices and how voltages are read (G, n): one system at B frequencies, or
    B systems that differ in the values of their circuits alone at one."""
    system = variants[0]
    n = system.n_modes
    ports = [[c.port() for c in v.connections] for v in variants]
    live = [g for g, port in enumerate(ports[0]) if not port.short]
    widths = [len(ports[0][g].coupling) for g in live]
    n_volt = len(live)
    size = 2 * n + n_volt + sum(widths)
    a = np.zeros((max(len(variants), len(loss_omega)), size, size))
    _diagonal(a, 0, n, n)[:] = system.omega_rad_s
    _diagonal(a, n, 0, n)[:] = -system.omega_rad_s
    _diagonal(a, n, n, n)[:] = -2 * system.zeta * system.omega_rad_s
    voltage = np.zeros((len(ports[0]), size))
    if not live:
        return a, voltage
    to_volt = _inverse_root(_of(system.capacitance_f, live))
    v = slice(2 * n, 2 * n + n_volt)
    theta = system.theta[:, live] @ to_volt
    a[:, n : 2 * n, v] = -theta
    a[:, v, n : 2 * n] = theta.T
    leak = np.array([[p[g].conductance_s + system.connections[g].instrument_s for g in live] for p in ports])
    conductance = (to_volt.T * leak[:, None, :]) @ to_volt
    loss = to_volt.T @ _of(system.loss_f, live) @ to_volt
    conductance = np.minimum(np.maximum(conductance, -LARGEST_RATE), LARGEST_RATE)
    a[:, v, v] = -conductance - loss_omega[:, None, None] * loss
    start = 2 * n + n_volt
    for row, g, width in zip(range(n_volt), live, widths, strict=True):
        if not width:
            continue
        x = slice(start, start + width)
        rate = to_volt[row][:, None] * np.array([p[g].coupling for p in ports])[:, None, :]
        a[:, v, x] = -rate
        a[:, x, v] = np.swapaxes(rate, 1, 2)
        a[:, x, x] = -np.array([p[g].damping for p in ports])
        start += width
    voltage[live, v] = to_volt
    return a, voltage


def _diagonal(a: Array, row: int, column: int, count: int) -> Array:
    """(B, count) view of the entries (row + i, column + i) of every matrix."""
    size = a.shape[-1]
    return a.reshape(len(a), size * size)[:, row * size + column :: size + 1][:, :count]


def _of(matrix: Array, groups: list[int]) -> Array:
    """The rows and columns of some groups."""
    return matrix if len(groups) == len(matrix) else matrix[np.ix_(groups, groups)]


def _inverse_root(capacitance: Array) -> Array:
    """T with V = T v and v^T v = V^T C V."""
    if len(capacitance) == 1:
        return capacitance**-0.5
    return np.linalg.inv(np.linalg.cholesky(capacitance)).T


def _limit(system: CoupledSystem) -> float:
    """Rate [1/s] beyond which an electrical state counts as fast."""
    return FAST * (float(system.omega_rad_s.max()) if system.n_modes else 1.0)


def _has_fast(a: Array, system: CoupledSystem) -> bool:
    electrical = a[:, 2 * system.n_modes :, 2 * system.n_modes :]
    return electrical.size > 0 and float(np.abs(electrical).max()) > _limit(system)


def _eliminate(a: Array, system: CoupledSystem) -> tuple[Array, NDArray[np.intp], list[tuple[int, Array]]]:
    """Takes the fast electrical states out; returns what is left, its indices, recovery rows."""
    start = 2 * system.n_modes
    kept = np.arange(a.shape[-1])
    rows: list[tuple[int, Array]] = []
    if not _has_fast(a, system):
        return a, kept, rows
    limit = _limit(system)
    a = a.copy()
    electrical = list(range(start, len(kept)))
    gone: list[int] = []
    while electrical:
        diagonal = np.abs(a[:, electrical, electrical]).min(axis=0)
        worst = int(np.argmax(diagonal))
        if diagonal[worst] <= limit:
            break
        rows += _take_out(a, [electrical[worst]])
        gone.append(electrical.pop(worst))
    for group in _fast_pairs(a, electrical, limit):
        rows += _take_out(a, group)
        gone += group
    kept = np.setdiff1d(kept, gone)
    return a[:, kept[:, None], kept], kept, rows


def _fast_pairs(a: Array, electrical: Sequence[int], limit: float) -> list[list[int]]:
    """Pairs of states that only swing against each other far above the modes."""
    pairs: list[list[int]] = []
    free = list(electrical)
    for i in electrical:
        others = [j for j in free if j != i]
        if i not in free or not others:
            continue
        j = max(others, key=lambda k: float(np.abs(a[:, i, k]).min()))
        if float(np.abs(a[:, i, j]).min()) > limit:
            pairs.append([i, j])
            free = [k for k in free if k not in (i, j)]
    return pairs


def _take_out(a: Array, indices: list[int]) -> list[tuple[int, Array]]:
    block = a[:, indices][:, :, indices]
    rows = -np.linalg.solve(block, a[:, indices, :]).astype(float)
    rows[:, :, indices] = 0.0
    columns = a[:, :, indices].copy()
    columns[:, indices] = 0.0
    a += columns @ rows
    a[:, indices, :] = 0.0
    a[:, :, indices] = 0.0
    return [(index, rows[:, k]) for k, index in enumerate(indices)]
