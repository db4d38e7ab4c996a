"""Modes, ports and what hangs on them, for one layout or many.

A port is a group of patches with its leads, or a place on the structure; both are a column theta on the
modes and what they store themselves, C: the capacitance of the group, the compliance at the place (of the
modes left out). A connection hangs on one port or joins several.

Signs: `q'' + 2 zeta omega q' + omega^2 q + theta V = f`, `C V' = theta^T q' - I`, I into the circuit
(V the force on what hangs at a place, I the velocity there). As a matrix: `core.circuit.states`.
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
from core.circuit.kind import CircuitKind, Port

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
T = TypeVar("T")

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
    def kept(self) -> dict[float | str, Any]:
        """What was worked out: of one layout at a frequency of the dielectric's loss, of many their "roots"."""
        return {}

    @property
    def n_modes(self) -> int:
        return self.omega_rad_s.shape[-1]

    @property
    def free_f(self) -> Array:
        """(..., P, P) what the ports store at rest, the part following: C + theta^T omega^-2 theta."""
        seen = self.theta / self.omega_rad_s[..., None]
        return np.asarray(self.capacitance_f + np.swapaxes(seen, -1, -2) @ seen)

    @property
    def n_ports(self) -> int:
        return self.theta.shape[-1]

    def seen_f(self, port: int, mode: int) -> Array:
        """(...) what a port stores as a mode (from 0) meets it, the other modes kept moving with it: the capacitance that goes
        with K^2, to the order of K^2."""
        others = np.arange(self.n_modes) != mode
        theta, omega2 = self.theta[..., others, port], self.omega_rad_s**2
        moved = (theta**2 / (omega2[..., others] - omega2[..., mode, None])).sum(axis=-1)
        return np.asarray(self.capacitance_f[..., port, port] + moved)

    def leads(self, index: int) -> tuple[int, ...]:
        """The ports a connection hangs on."""
        return self.connections[index].leads or (index,)

    @cached_property
    def live_ports(self) -> list[int]:
        """Ports that are not shorted."""
        short = {p for i, c in enumerate(self.connections) if c.port().short for p in self.leads(i)}
        return [p for p in range(self.n_ports) if p not in short]

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
