"""Modes, patch groups and circuits as one real first-order system, for one layout or many.

States in energy variables, half their squared norm the stored energy:

    [omega_n q_n (N), q_n' (N), sqrt(C) V (groups that are not shorted), circuit states]

so the matrix is skew minus a dissipation: a passive circuit cannot come out unstable, whatever
its values. An electrical state faster than `FAST` times the highest mode is eliminated
(quasi-static Schur complement, exact to 1/FAST^2), which keeps 1 milliohm or 1 nanohenry from
drowning the modes in rounding.

Signs: `q'' + 2 zeta omega q' + omega^2 q + theta V = f`, `C V' = theta^T q' - I`, I into the circuit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit.kind import LARGEST_RATE, CircuitKind, Port

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

FAST = 1e5


@dataclass(frozen=True)
class Connection:
    """A circuit with its values in effect, and what an instrument adds beside it.

    A value is a number, or an array over layouts.
    """

    kind: CircuitKind
    values: Mapping[str, Number]
    instrument_s: float = 0.0

    def port(self) -> Port:
        return self.kind.port(self.values)

    @property
    def numbers(self) -> dict[str, float]:
        """The values of one layout."""
        return {n: float(v) for n, v in self.values.items()}

    def immittance(self, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """(a, b) at s (..., F), the leading axes those of the layouts."""
        columns = {n: v[..., None] if isinstance(v, np.ndarray) else v for n, v in self.values.items()}
        return self.kind.immittance(columns, s)

    def one(self, index: tuple[int, ...]) -> Connection:
        """Of one layout."""
        values = {n: float(v[index]) if isinstance(v, np.ndarray) else v for n, v in self.values.items()}
        return Connection(self.kind, values, self.instrument_s)


@dataclass(frozen=True)
class CoupledSystem:
    """N elastic modes, G groups: everything electrical as seen from the leads.

    omega_rad_s, zeta : (..., N); theta : (..., N, G) N/V in modal units; capacitance_f : (..., G, G)
    with the truncation correction and cables; loss_f : (..., G, G) true blocked capacitance times tan
    delta.
    """

    omega_rad_s: Array
    zeta: Array
    theta: Array
    capacitance_f: Array
    loss_f: Array
    connections: tuple[Connection, ...]

    @property
    def n_modes(self) -> int:
        return self.omega_rad_s.shape[-1]

    @property
    def is_lossy(self) -> bool:
        return bool(self.loss_f.any())

    @property
    def lead(self) -> tuple[int, ...]:
        """Shape of the layouts, circuit values included; () for one."""
        shapes = [self.omega_rad_s.shape[:-1]]
        shapes += [np.shape(v) for c in self.connections for v in c.values.values()]
        return np.broadcast_shapes(*shapes)

    def with_connection(self, index: int, connection: Connection) -> CoupledSystem:
        rest = self.connections
        return replace(self, connections=(*rest[:index], connection, *rest[index + 1 :]))

    def with_values(self, index: int, values: Mapping[str, Number]) -> CoupledSystem:
        """With other values, or arrays of them, in one circuit."""
        old = self.connections[index]
        return self.with_connection(index, Connection(old.kind, {**old.values, **values}, old.instrument_s))

    def at(self, index: NDArray[np.intp]) -> CoupledSystem:
        """Some of many layouts (one leading axis)."""
        connections = tuple(
            replace(
                c, values={n: v[index] if isinstance(v, np.ndarray) else v for n, v in c.values.items()}
            )
            for c in self.connections
        )
        arrays = (self.omega_rad_s, self.zeta, self.theta, self.capacitance_f, self.loss_f)
        depth = (1, 1, 2, 2, 2)
        omega, zeta, theta, capacitance, loss = (
            a[index] if a.ndim > d else a for a, d in zip(arrays, depth, strict=True)
        )
        return CoupledSystem(omega, zeta, theta, capacitance, loss, connections)

    def stacked(self) -> CoupledSystem:
        """With a leading axis, of one layout if it had none."""
        if self.lead:
            return self
        return CoupledSystem(
            self.omega_rad_s[None],
            self.zeta[None],
            self.theta[None],
            self.capacitance_f[None],
            self.loss_f[None],
            self.connections,
        )

    def one(self, i: int) -> CoupledSystem:
        """One of many layouts, with its values as numbers."""
        found = self.at(np.array(i))
        return replace(found, connections=tuple(c.one(()) for c in found.connections))


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
    """State matrices of one layout with the dielectric's conductance taken at each frequency given.

    loss_omega_rad_s : (B,) rad/s. Returns (B, n, n), 1/s.
    """
    return _eliminate(full_matrices(system, np.asarray(loss_omega_rad_s, dtype=float))[0], system)[0]


def loss_slope(system: CoupledSystem) -> tuple[slice, Array]:
    """Where the dielectric's conductance enters the full state matrix, and minus its growth per
    rad/s, (..., m, m): d A / d omega on those states."""
    live = live_groups(system)
    to_volt = _inverse_root(_of(system.capacitance_f, live))
    start = 2 * system.n_modes
    loss = np.swapaxes(to_volt, -1, -2) @ _of(system.loss_f, live) @ to_volt
    return slice(start, start + len(live)), -loss


def live_groups(system: CoupledSystem) -> list[int]:
    """Groups whose leads are not shorted."""
    return [g for g, c in enumerate(system.connections) if not c.port().short]


def full_size(system: CoupledSystem) -> int:
    """Number of states before fast ones are eliminated."""
    ports = [c.port() for c in system.connections]
    return 2 * system.n_modes + sum(1 + p.coupling.shape[-1] for p in ports if not p.short)


def state_space(system: CoupledSystem, loss_omega_rad_s: float) -> StateSpace:
    """One state matrix with the means to read voltages and eliminated states from it."""
    full, voltage = full_matrices(system, np.array([loss_omega_rad_s]))
    reduced, kept, rows = _eliminate(full, system)
    expand = np.zeros((full.shape[-1], len(kept)))
    expand[kept, np.arange(len(kept))] = 1.0
    for index, row in reversed(rows):
        expand[index] = row[0] @ expand
    return StateSpace(reduced[0], kept, expand, voltage, system.n_modes)


def full_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> tuple[Array, Array]:
    """(..., n, n) state matrices before fast states are eliminated and how voltages are read
    (..., G, n); the loss frequencies broadcast with the layouts."""
    n = system.n_modes
    ports = [c.port() for c in system.connections]
    live = [g for g, port in enumerate(ports) if not port.short]
    widths = [ports[g].coupling.shape[-1] for g in live]
    n_volt = len(live)
    size = 2 * n + n_volt + sum(widths)
    lead = np.broadcast_shapes(system.lead, loss_omega_rad_s.shape)
    a = np.zeros((*lead, size, size))
    _diagonal(a, 0, n, n)[...] = system.omega_rad_s
    _diagonal(a, n, 0, n)[...] = -system.omega_rad_s
    _diagonal(a, n, n, n)[...] = -2 * system.zeta * system.omega_rad_s
    to_volt = _inverse_root(_of(system.capacitance_f, live))
    voltage = np.zeros((*to_volt.shape[:-2], len(ports), size))
    if not live:
        return a, voltage
    v = slice(2 * n, 2 * n + n_volt)
    back = np.swapaxes(to_volt, -1, -2)
    theta = system.theta[..., live] @ to_volt
    a[..., n : 2 * n, v] = -theta
    a[..., v, n : 2 * n] = np.swapaxes(theta, -1, -2)
    leaks = [ports[g].conductance_s + system.connections[g].instrument_s for g in live]
    leak = np.stack(np.broadcast_arrays(*leaks), axis=-1)
    conductance = np.clip((back * leak[..., None, :]) @ to_volt, -LARGEST_RATE, LARGEST_RATE)
    loss = back @ _of(system.loss_f, live) @ to_volt
    a[..., v, v] = -conductance - loss_omega_rad_s[..., None, None] * loss
    start = 2 * n + n_volt
    for row, g, width in zip(range(n_volt), live, widths, strict=True):
        if not width:
            continue
        x = slice(start, start + width)
        rate = to_volt[..., row, :, None] * ports[g].coupling[..., None, :]
        a[..., v, x] = -rate
        a[..., x, v] = np.swapaxes(rate, -1, -2)
        a[..., x, x] = -ports[g].damping
        start += width
    voltage[..., live, v] = to_volt
    return a, voltage


def _diagonal(a: Array, row: int, column: int, count: int) -> Array:
    """(..., count) view of the entries (row + i, column + i) of every matrix."""
    size = a.shape[-1]
    flat = a.reshape(*a.shape[:-2], size * size)
    return flat[..., row * size + column :: size + 1][..., :count]


def _of(matrix: Array, groups: list[int]) -> Array:
    """The rows and columns of some groups."""
    return matrix if len(groups) == matrix.shape[-1] else matrix[..., np.array(groups, dtype=int)[:, None], groups]


def _inverse_root(capacitance: Array) -> Array:
    """T with V = T v and v^T v = V^T C V."""
    if capacitance.shape[-1] == 1:
        return capacitance**-0.5
    return np.swapaxes(np.linalg.inv(np.linalg.cholesky(capacitance)), -1, -2)


def fast_ones(a: Array, system: CoupledSystem) -> NDArray[np.bool_]:
    """(...) which matrices have an electrical state so fast that it must be eliminated."""
    electrical = np.abs(a[..., 2 * system.n_modes :, 2 * system.n_modes :])
    if not electrical.shape[-1]:
        return np.zeros(a.shape[:-2], dtype=bool)
    top = FAST * (system.omega_rad_s.max(axis=-1) if system.n_modes else np.ones(()))
    return electrical.max(axis=(-1, -2)) > top


def _eliminate(a: Array, system: CoupledSystem) -> tuple[Array, NDArray[np.intp], list[tuple[int, Array]]]:
    """Takes the fast electrical states out of matrices (B, n, n) of one layout; returns what is left,
    its indices, recovery rows."""
    start = 2 * system.n_modes
    kept = np.arange(a.shape[-1])
    rows: list[tuple[int, Array]] = []
    if not fast_ones(a, system).any():
        return a, kept, rows
    limit = FAST * (float(system.omega_rad_s.max()) if system.n_modes else 1.0)
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
