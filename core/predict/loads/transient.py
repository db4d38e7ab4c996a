"""Motion of the coupled system under a load that happens once, as sums of exponentials.

    x' = A x + b F(t) + e F'(t),    x = [modes, circuits],

with the system's own eigenvectors: no time stepping. `e` is the charge that the truncated modes push
into the groups at once. A half-sine adds the exponentials exp(+-j a t), a = pi/duration, a step a
constant. The dielectric's conductance is that of the mode which holds most of the starting energy
(mode 1 under a pulse or a step).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import states_at_rest, volts_at_rest
from core.circuit.fast_states import StateSpace, state_space
from core.circuit.spectrum import drifts, eigen_at, is_active
from core.circuit.states import live_ports, state_slices
from core.circuit.system import CoupledSystem
from core.predict.forcing import Forcing
from core.project.service import BaseShock, BaseStep, Impact, Load, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SHORTEST_PULSE_S = 1e-9
STANDING = 1e-9
"""A pole this much slower than mode 1 stands still."""


@dataclass(frozen=True)
class Motion:
    """y(t) = Re sum over k of amplitude exp(rate t), time counted from a stretch's start.

    rate : (k,); q : (N, k) modal coordinates; voltage : (P, k); inner : per connection the amplitudes (m, k)
    of its own states in energy variables; load : (k,) the load itself, N or m/s^2.
    """

    rate: ComplexArray
    q: ComplexArray
    voltage: ComplexArray
    inner: tuple[ComplexArray, ...]
    load: ComplexArray

    def with_(self, other: Motion) -> Motion:
        """Both at once."""
        return Motion(
            np.concatenate([self.rate, other.rate]),
            np.concatenate([self.q, other.q], axis=1),
            np.concatenate([self.voltage, other.voltage], axis=1),
            tuple(np.concatenate(pair, axis=1) for pair in zip(self.inner, other.inner, strict=True)),
            np.concatenate([self.load, other.load]),
        )


@dataclass(frozen=True)
class Stretch:
    """From one change of the load to the next: what decays, and what follows the load.

    length_s : inf for the last one.
    """

    length_s: float
    free: Motion
    forced: Motion | None = None

    @cached_property
    def whole(self) -> Motion:
        return self.free if self.forced is None else self.free.with_(self.forced)


def is_transient(load: Load) -> bool:
    """Whether the load happens once."""
    return isinstance(load, Release | Impact | BaseShock | BaseStep)


def transient(system: CoupledSystem, item: Forcing) -> tuple[Stretch, ...]:
    """The motion, stretch by stretch; a release of the mode it drives most for a load that is no transient."""
    load = item.load
    if isinstance(load, Impact | BaseShock):
        return _pulse(system, item, *half_sine(load))
    if isinstance(load, BaseStep):
        return _step(system, item, load.level_m_s2)
    return _release(system, item)


def half_sine(load: Impact | BaseShock) -> tuple[float, float]:
    """(height in N or m/s^2, duration in s) of a pulse."""
    length = max(load.duration_s, SHORTEST_PULSE_S)
    if isinstance(load, BaseShock):
        return load.peak_m_s2, length
    return load.impulse_n_s * np.pi / (2 * length), length


@dataclass(frozen=True)
class _Poles:
    """Poles of the state matrix with positive imaginary part or real, those pairs counted twice."""

    space: StateSpace
    system: CoupledSystem
    rate: ComplexArray
    vectors: ComplexArray
    """(n_all, k) states of each pole, eliminated ones too."""
    inverse: ComplexArray
    """(k, n) content of each pole in a state."""

    def motion(self, content: ComplexArray) -> Motion:
        """Motion from the content of each pole at time 0."""
        return _read(self.space, self.system, self.rate, self.vectors * content, np.zeros(len(self.rate)))


def _poles(system: CoupledSystem, loss_omega: float) -> _Poles:
    if not system.n_ports:
        return _apart(state_space(system, loss_omega), system)
    found = eigen_at(system, loss_in_time_rad_s(system, loss_omega))
    space, rate, vectors, inverse = found.space, found.values, found.vectors, found.inverse
    # a charge that nothing lets go stands; what rounding makes of its rate would grow in the end
    rate = np.where(np.abs(rate) > STANDING * system.omega_rad_s[0], rate, 0.0)
    pick = np.flatnonzero(rate.imag >= 0)
    twice = np.where(rate[pick].imag > 0, 2.0, 1.0)
    return _Poles(
        space, system, rate[pick].astype(complex), (space.expand @ vectors[:, pick]).astype(complex),
        (inverse[pick] * twice[:, None]).astype(complex),
    )  # fmt: skip


def loss_in_time_rad_s(system: CoupledSystem, loss_omega: float) -> float:
    """Frequency at which the dielectric's conductance is taken in time: that of the mode that rings, or 0 where the
    conductance alone makes a negative capacitance run away, for at rest the dielectric does not conduct."""
    if not is_active(system):
        return loss_omega
    rate = eigen_at(system, loss_omega).values
    grows = bool(((rate.imag == 0.0) & (rate.real > 0.0)).any())
    return 0.0 if grows and not drifts(system) else loss_omega


def _apart(space: StateSpace, system: CoupledSystem) -> _Poles:
    """Poles of modes that nothing couples."""
    omega, zeta = system.omega_rad_s, np.minimum(system.zeta, 0.999999)
    rate = omega * (-zeta + 1j * np.sqrt(1 - zeta**2))
    vectors = np.vstack([np.diag(omega), np.diag(rate)])
    inverse = np.hstack([np.diag((1 + 1j * rate.real / rate.imag) / omega), np.diag(-1j / rate.imag)])
    return _Poles(space, system, rate, vectors, inverse)


def _read(
    space: StateSpace,
    system: CoupledSystem,
    rate: ComplexArray,
    full: ComplexArray,
    load: Array | ComplexArray,
) -> Motion:
    n = system.n_modes
    inner = [full[at] for at in state_slices(system)]
    return Motion(
        rate,
        full[:n] / system.omega_rad_s[:, None],
        space.voltage @ full,
        tuple(inner),
        np.asarray(load, dtype=complex),
    )


def _input(space: StateSpace, system: CoupledSystem, item: Forcing) -> tuple[Array, Array]:
    """(b, e) on all states."""
    n, load = system.n_modes, item.aim.load
    b = np.zeros(len(space.expand))
    b[n : 2 * n] = load.modal
    for connection, at in zip(system.connections, state_slices(system), strict=True):
        b[at] = load.base * connection.port().base
    return b, load.electric[: system.n_ports] @ space.voltage


def _pulse(system: CoupledSystem, item: Forcing, height: float, length: float) -> tuple[Stretch, ...]:
    """Half-sine F = height sin(a t): with c the content of b + A e in a pole of rate r,

        c (a exp(r t) - a cos a t - r sin a t)/(r^2 + a^2)

    while it lasts, and exp(r t) times its value from then on."""
    poles = _poles(system, float(system.omega_rad_s[0]))
    b, e = _input(poles.space, system, item)
    pick = poles.space.pick
    content = height * (poles.inverse @ (pick @ b + poles.space.matrix @ (pick @ e)))
    a = np.pi / length
    square = poles.rate**2 + a**2
    # an undamped pole exactly on the pulse's own frequency: a hair beside it
    square = np.where(np.abs(square) < 1e-9 * a**2, 1e-9j * a**2, square)
    share = content / square
    during = poles.motion(share * a)
    cosine, sine = (-(poles.vectors * (share * factor)).sum(axis=1).real for factor in (a, poles.rate))
    sine = sine + height * e
    forced = _read(
        poles.space, system, np.array([1j * a]), (cosine - 1j * sine)[:, None], np.array([-1j * height])
    )
    after = poles.motion(share * a * (1 + np.exp(poles.rate * length)))
    return Stretch(length, during, forced), Stretch(float("inf"), after)


def _step(system: CoupledSystem, item: Forcing, level: float) -> tuple[Stretch, ...]:
    """F = level from time 0: c (exp(r t) - 1)/r in every pole."""
    poles = _poles(system, float(system.omega_rad_s[0]))
    b, e = _input(poles.space, system, item)
    pick = poles.space.pick
    content = level * (poles.inverse @ (pick @ b + poles.space.matrix @ (pick @ e)))
    moves = poles.rate != 0
    share = np.where(moves, content / np.where(moves, poles.rate, 1.0), 0.0)
    rest = level * e - (poles.vectors * share).sum(axis=1).real
    forced = _read(poles.space, system, np.zeros(1, dtype=complex), rest[:, None] + 0j, np.array([level]))
    return (Stretch(float("inf"), poles.motion(share), forced),)


def _release(system: CoupledSystem, item: Forcing) -> tuple[Stretch, ...]:
    return free_motion(system, *start_of(system, item))


def free_motion(system: CoupledSystem, q: Array, voltage: Array, stood: Array) -> tuple[Stretch, ...]:
    """From a state at rest with those modal coordinates and voltages, where others had `stood`; nothing drives it."""
    poles = _poles(system, float(system.omega_rad_s[int(np.argmax(np.abs(system.omega_rad_s * q)))]))
    state = _state(poles.space, system, q, voltage, stood)
    return (Stretch(float("inf"), poles.motion(poles.inverse @ state)),)


def driven_mode(system: CoupledSystem, item: Forcing) -> int:
    """Index of the mode that is let go under a load that lasts: the one the circuits serve where it lies
    in the load's band, else the one driven most at the output: the largest resonance
    |phi_F phi_o|/(2 zeta omega^2) among those in the band; the first where the band has none."""
    omega = system.omega_rad_s
    low, high = item.aim.band_rad_s
    if item.served is not None and item.served < len(omega) and low <= omega[item.served] <= high:
        return item.served
    height = np.abs(item.aim.load.modal * item.aim.output.modal) / (2 * np.maximum(system.zeta, 1e-6) * omega**2)
    height = np.where((omega >= low) & (omega <= high), height, 0.0)
    return int(np.argmax(height)) if height.max() > 0 else 0


def start_of(system: CoupledSystem, item: Forcing) -> tuple[Array, Array, Array]:
    """(q (N,), voltage (P,)) just after letting go of the static bend of a release, and the voltages that had stood; else
    the driven mode with unit deflection at the output."""
    if isinstance(item.load, Release):
        return released(system, item, item.load.deflection_m)
    q, mode = np.zeros(system.n_modes), driven_mode(system, item)
    at_output = float(item.aim.output.modal[mode])
    q[mode] = 1.0 / at_output if abs(at_output) > 1e-12 else 1.0
    return q, np.zeros(system.n_ports), np.zeros(system.n_ports)


def released(system: CoupledSystem, item: Forcing, deflection: float) -> tuple[Array, Array, Array]:
    """Static bend under a force at the load's point. A circuit that conducts has let the charge go by
    then; what blocks at rest holds it. The truncated modes give their charge back as the force goes."""
    return let_go(system, item, *held_bend(system, item, deflection))


def let_go(system: CoupledSystem, item: Forcing, stood: Array, force: float) -> tuple[Array, Array, Array]:
    """(q, voltage) just after a force that stood, with those voltages on the leads, is gone; and these voltages."""
    omega, load = system.omega_rad_s, item.aim.load
    live = live_ports(system)
    q, voltage = (load.modal * force - system.theta @ stood) / omega**2, stood.copy()
    if live:
        voltage[live] -= force * np.linalg.solve(system.capacitance_f[np.ix_(live, live)], load.electric[live])
    return q, voltage, stood


def held_bend(system: CoupledSystem, item: Forcing, deflection: float) -> tuple[Array, float]:
    """(voltage (P,) on leads that hold their charge, force) of a static bend by so much at the load."""
    omega, load = system.omega_rad_s, item.aim.load
    charge = (load.modal / omega**2) @ system.theta + load.electric[: system.n_ports]
    voltage = volts_at_rest(system, charge)
    per_newton = float(item.load_row @ item.load_row) - float(charge @ voltage)
    force = deflection / per_newton if per_newton > 0 else 0.0
    return voltage * force, force


def _state(space: StateSpace, system: CoupledSystem, q: Array, voltage: Array, stood: Array) -> Array:
    """Kept states at the start, at rest, what hangs on the leads as it is after volts that `stood`; eliminated ones follow
    by themselves."""
    n = system.n_modes
    full = np.zeros(len(space.expand))
    full[:n] = system.omega_rad_s * q
    for i, (connection, at) in enumerate(zip(system.connections, state_slices(system), strict=True)):
        full[at] = states_at_rest(connection.port(), stood[list(system.leads(i))])[: at.stop - at.start]
    live = np.flatnonzero(np.abs(space.voltage).sum(axis=1) > 0)
    if len(live):
        volts = slice(2 * n, 2 * n + len(live))
        full[volts] = np.linalg.solve(space.voltage[live, volts], voltage[live])
    return space.pick @ full


def shorted(system: CoupledSystem) -> CoupledSystem:
    """The same modes with every group shorted."""
    none = np.zeros((0, 0))
    return CoupledSystem(system.omega_rad_s, system.zeta, np.zeros((system.n_modes, 0)), none, none, ())
