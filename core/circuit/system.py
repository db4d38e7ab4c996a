"""Modes, ports and what hangs on them as one real first-order system, for one layout or many.

A port is a group of patches with its leads, or a place on the structure; both are a column theta on the
modes and what they store themselves, C: the capacitance of the group, the compliance at the place (of the
modes left out). A connection hangs on one port or joins several.

States in energy variables, half their squared norm the stored energy:

    [omega_n q_n (N), q_n' (N), sqrt(C) V (ports that are not shorted), states of the connections]

so the matrix is skew minus a dissipation: what is passive cannot come out unstable, whatever
its values. Where C is not positive (a negative capacitance larger than the patches'), the rate of that
state changes its sign, and the poles tell. A state faster than `FAST` times the highest mode is eliminated
(quasi-static Schur complement, exact to 1/FAST^2), which keeps 1 milliohm or 1 nanohenry from
drowning the modes in rounding.

Signs: `q'' + 2 zeta omega q' + omega^2 q + theta V = f`, `C V' = theta^T q' - I`, I into the circuit
(V the force on what hangs at a place, I the velocity there).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit import open as open_leads
from core.circuit.kind import LARGEST_RATE, CircuitKind, Port

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
T = TypeVar("T")

FAST = 1e5
LEAST_STORED = 1e-60
"""F; keeps a rate finite where a negative capacitance leaves exactly nothing."""
NEAR_RAD_S = 3e3
"""Amid the frequencies that parts vibrate at."""


@dataclass(frozen=True)
class Connection:
    """A circuit with its values in effect, and what an instrument and a bleed resistor add beside it on its first lead.

    A value is a number, or an array over layouts. `leads` are the ports it hangs on; empty for one that
    hangs on the port of its own number.
    """

    kind: CircuitKind
    values: Mapping[str, Number]
    instrument_s: float = 0.0
    leads: tuple[int, ...] = ()
    serves: tuple[int, ...] = ()
    """The modes (from 0) for which it stands; empty for all. For the others its leads are open."""
    wanted: Mapping[str, Number] | None = None
    """What was tuned where preferred parts are taken for it."""
    wanders: bool = False
    """Whether the search for its values ended before they stood."""

    def port(self) -> Port:
        return self._port

    @cached_property
    def _port(self) -> Port:
        return self.kind.port(self.values)

    @property
    def numbers(self) -> dict[str, float]:
        """The values of one layout."""
        return {n: float(v) for n, v in self.values.items()}

    def immittance(self, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """(a, b) at s (..., F), the leading axes those of the layouts; matrices where several leads are joined."""
        columns = {n: v[..., None] if isinstance(v, np.ndarray) else v for n, v in self.values.items()}
        return self.kind.immittance(columns, s)

    def pair(self, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """(a, b) as matrices (..., F, n, n)."""
        a, b = self.immittance(s)
        return (a, b) if len(self.leads) > 1 else (a[..., None, None], b[..., None, None])

    @cached_property
    def polynomials(self) -> ComplexArray:
        """(3, 2, ...) coefficients of 1, s, s^2 of a and b of a circuit on one lead, both at most quadratic, from
        their values at 0 and at +-i NEAR_RAD_S."""
        lead = np.broadcast_shapes(*(np.shape(v) for v in self.values.values()))
        at = np.zeros((*lead, 3), dtype=complex)
        at[..., 1], at[..., 2] = 1j * NEAR_RAD_S, -1j * NEAR_RAD_S
        pair = np.empty((2, *lead, 3), dtype=complex)
        pair[0], pair[1] = self.immittance(at)
        zero, up, down = pair[..., 0], pair[..., 1], pair[..., 2]
        out = np.empty((3, 2, *lead), dtype=complex)
        out[0], out[1], out[2] = zero, (up - down) / (2j * NEAR_RAD_S), (zero - 0.5 * (up + down)) / NEAR_RAD_S**2
        return out

    def one(self, index: tuple[int, ...]) -> Connection:
        """Of one layout."""
        values = {n: float(v[index]) if isinstance(v, np.ndarray) else v for n, v in self.values.items()}
        return replace(self, values=values)


@dataclass(frozen=True)
class CoupledSystem:
    """N elastic modes, P ports: the groups of patches in their order, then places on the structure.

    omega_rad_s, zeta : (..., N); theta : (..., N, P) N/V in modal units (deflection at a place);
    capacitance_f : (..., P, P) with the truncation correction and cables (compliance, m/N); loss_f :
    (..., P, P) true blocked capacitance times tan delta. Each port has one connection or none (open).
    """

    omega_rad_s: Array
    zeta: Array
    theta: Array
    capacitance_f: Array
    loss_f: Array
    connections: tuple[Connection, ...]

    @cached_property
    def kept(self) -> dict[float, Any]:
        """What was worked out of one layout at a frequency of the dielectric's loss."""
        return {}

    @property
    def n_modes(self) -> int:
        return self.omega_rad_s.shape[-1]

    @property
    def n_ports(self) -> int:
        return self.theta.shape[-1]

    def leads(self, index: int) -> tuple[int, ...]:
        """The ports a connection hangs on."""
        return self.connections[index].leads or (index,)

    @cached_property
    def is_lossy(self) -> bool:
        return bool(self.loss_f.any())

    @cached_property
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
        return self.with_connection(index, replace(old, values={**old.values, **values}))

    def opened(self, index: int) -> CoupledSystem:
        """With nothing but an instrument on the leads of one connection, and without the capacitance that it is."""
        own, stored = self.connections[index], self.capacitance_f.copy()
        stored[..., self.leads(index)[0], self.leads(index)[0]] -= own.kind.across(own.values)
        left = Connection(open_leads.KIND, {}, own.instrument_s, own.leads[:1])
        return replace(self, capacitance_f=stored).with_connection(index, left)

    def absent_for(self, mode: int) -> tuple[int, ...]:
        """Connections that do not stand for a mode (from 0)."""
        return tuple(i for i, c in enumerate(self.connections) if c.serves and mode not in c.serves)

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
    """`matrix` (n, n) on the states that are `kept` of all; `expand` (n_all, n) gives all of them back,
    `pick` (n, n_all) reads the kept ones; `voltage` (P, n_all) reads the voltages of the ports."""

    matrix: Array
    kept: NDArray[np.intp]
    expand: Array
    pick: Array
    voltage: Array
    n_modes: int


def by_mode(
    system: CoupledSystem, modes: int, found: Callable[[CoupledSystem], Sequence[T]]
) -> list[tuple[int, T]]:
    """What is found for each mode (from 0) on the system as it stands for it, each way asked once."""
    ways: dict[tuple[int, ...], list[int]] = {}
    for n in range(modes):
        ways.setdefault(system.absent_for(n), []).append(n)
    out: list[tuple[int, T]] = []
    for absent, wanted in ways.items():
        standing = system
        for index in absent:
            standing = standing.opened(index)
        every = found(standing)
        out += [(n, every[n]) for n in wanted if n < len(every)]
    return sorted(out, key=lambda pair: pair[0])


def state_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> Array:
    """State matrices of one layout with the dielectric's conductance taken at each frequency given.

    loss_omega_rad_s : (B,) rad/s. Returns (B, n, n), 1/s.
    """
    return _eliminate(system, np.asarray(loss_omega_rad_s, dtype=float)).matrices


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
    short = {p for i, c in enumerate(system.connections) if c.port().short for p in system.leads(i)}
    return [p for p in range(system.n_ports) if p not in short]


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


def state_space(system: CoupledSystem, loss_omega_rad_s: float) -> StateSpace:
    """One state matrix with the means to read voltages and eliminated states from it."""
    left = _eliminate(system, np.array([loss_omega_rad_s]))
    expand = np.zeros((full_size(system), len(left.kept)))
    expand[left.kept, np.arange(len(left.kept))] = 1.0
    for index, row in reversed(left.rows):
        expand[index] = row[0] @ expand
    turn = np.eye(len(expand)) if left.turn is None else left.turn
    return StateSpace(
        left.matrices[0], left.kept, turn @ expand, turn.T[left.kept], left.voltage, system.n_modes
    )


def full_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> tuple[Array, Array]:
    """(..., n, n) state matrices before fast states are eliminated and how voltages are read
    (..., P, n); the loss frequencies broadcast with the layouts."""
    rest, voltage, dampers = _assembled(system, loss_omega_rad_s)
    return (rest - np.swapaxes(dampers, -1, -2) @ dampers if dampers.shape[-2] else rest), voltage


def _assembled(system: CoupledSystem, loss_omega_rad_s: Array) -> tuple[Array, Array, Array]:
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
    conductance = np.clip(back @ leak @ to_volt, -LARGEST_RATE, LARGEST_RATE)
    loss = back @ _of(system.loss_f, live) @ to_volt
    a[..., v, v] = -conductance - loss_omega_rad_s[..., None, None] * loss
    if sign is not None:
        a[..., v, :] *= sign[..., None]
    voltage[..., live, v] = to_volt
    return a, voltage, np.concatenate(dampers, axis=-2) if dampers else np.zeros((0, size))


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


def fast_ones(a: Array, system: CoupledSystem) -> NDArray[np.bool_]:
    """(...) which matrices have a state of a port or a connection so fast that it must be eliminated."""
    electrical = np.abs(a[..., 2 * system.n_modes :, 2 * system.n_modes :])
    if not electrical.shape[-1]:
        return np.zeros(a.shape[:-2], dtype=bool)
    top = FAST * (system.omega_rad_s.max(axis=-1) if system.n_modes else np.ones(()))
    return electrical.max(axis=(-1, -2)) > top


@dataclass(frozen=True)
class _Left:
    """Matrices (B, n, n) on the kept states, how an eliminated one follows from the others, what the states
    were turned by before (n_all, n_all; None where they were not), and how voltages are read off all."""

    matrices: Array
    kept: NDArray[np.intp]
    rows: list[tuple[int, Array]]
    turn: Array | None
    voltage: Array


def _eliminate(system: CoupledSystem, loss_omega_rad_s: Array) -> _Left:
    """Matrices of one layout with the loss at each frequency (B,), the fast states of ports and connections
    taken out."""
    start = 2 * system.n_modes
    rest, voltage, dampers = _assembled(system, loss_omega_rad_s)
    a = rest - dampers.T @ dampers if len(dampers) else rest
    kept = np.arange(a.shape[-1])
    rows: list[tuple[int, Array]] = []
    if not fast_ones(a, system).any():
        return _Left(a, kept, rows, None, voltage)
    limit = FAST * (float(system.omega_rad_s.max()) if system.n_modes else 1.0)
    a, turn = _turned(rest, dampers, limit)
    electrical = list(range(start, len(kept)))
    gone: list[int] = []
    while electrical:
        # what grows fast is no state to take out: the poles must tell
        diagonal = -a[:, electrical, electrical].max(axis=0)
        worst = int(np.argmax(diagonal))
        if diagonal[worst] <= limit:
            break
        rows += _take_out(a, [electrical[worst]])
        gone.append(electrical.pop(worst))
    for group in _fast_pairs(a, electrical, limit):
        rows += _take_out(a, group)
        gone += group
    kept = np.setdiff1d(kept, gone)
    return _Left(a[:, kept[:, None], kept], kept, rows, turn, voltage)


def _turned(rest: Array, dampers: Array, limit: float) -> tuple[Array, Array | None]:
    """Whole matrices from those without dampers, in states whose fast ones stand alone. A stiff damper
    between two states (one that joins two leads, or a spring and the compliance it sits on) makes their
    difference fast and leaves their sum slow: neither can be taken out before they are turned into these two,
    which keeps the energies. From the dampers themselves, so that what is slow stays free of their rounding."""
    stiff = (dampers**2).sum(axis=1) > limit
    if not stiff.any():
        return rest - dampers.T @ dampers, None
    at = np.flatnonzero(dampers[stiff].any(axis=0))
    vectors, size, _ = np.linalg.svd(dampers[stiff][:, at].T)
    turn = np.eye(rest.shape[-1])
    turn[at[:, None], at] = vectors
    others = dampers[~stiff] @ turn
    a = turn.T @ rest @ turn - others.T @ others
    a[:, at[: len(size)], at[: len(size)]] -= size**2
    return a, turn


def _fast_pairs(a: Array, electrical: Sequence[int], limit: float) -> list[list[int]]:
    """Pairs of states that only swing against each other far above the modes: each must drive the other, or a strong
    feed in one direction would pass for a swing."""
    both = np.sqrt(np.abs(a * np.swapaxes(a, -1, -2)))
    pairs: list[list[int]] = []
    free = list(electrical)
    for i in electrical:
        others = [j for j in free if j != i]
        if i not in free or not others:
            continue
        j = max(others, key=lambda k: float(both[:, i, k].min()))
        if float(both[:, i, j].min()) > limit:
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
