"""Free decay after a release, an impact, or a release of mode 1 where the load is harmonic.

The coupled system's own eigenvectors carry the start state: no time stepping. The dielectric's
conductance is that of the mode which holds most of the starting energy (mode 1 for an impact).
A pulse counts from its end, when the part is free.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Port
from core.circuit.system import CoupledSystem, StateSpace, state_space
from core.predict.decay import Decay, settling_times
from core.predict.forcing import Forcing
from core.predict.prediction import RingDown
from core.predict.response import Side
from core.project.model import Impact, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

CYCLES_SHOWN = (12.0, 60.0)
POINTS_A_CYCLE = 24
SHORTEST_PULSE_S = 1e-9


@dataclass(frozen=True)
class Start:
    """Modal displacement (N,) and group voltage (G,) at the moment of letting go."""

    q: Array
    voltage: Array


@dataclass(frozen=True)
class Motion:
    """Decay of every modal coordinate (N, k) and group voltage (G, k) from one start."""

    q: Decay
    voltage: Decay


def ring_down(side: Side, bare: Side | None, settle_to: float) -> tuple[RingDown, Motion]:
    """Decay at the output before and after, and the motion with the circuits."""
    moved = motion(side.system, side.forcing)
    after = output_decay(moved.q, side.forcing, moved.voltage)
    reference = side if bare is None else bare
    before = output_decay(shorted_motion(reference.system, reference.forcing), reference.forcing)
    settle_before, half_before = settling_times(before, (settle_to, 0.5), _largest(before))
    settle_after, half_after = settling_times(after, (settle_to, 0.5), _largest(after))
    step, count = _time_grid(side.system, settle_after)
    down = RingDown(
        time_s=step * np.arange(count, dtype=float),
        before=before.analytic(0.0, step, count).real,
        after=after.analytic(0.0, step, count).real,
        unit="m" if isinstance(side.forcing.load, Release | Impact) else "1",
        settle_to=settle_to,
        settle_before_s=settle_before,
        settle_after_s=settle_after,
        half_life_before_s=half_before,
        half_life_after_s=half_after,
    )
    return down, moved


def motion(system: CoupledSystem, item: Forcing) -> Motion:
    """Free decay of the coupled system after the load lets go."""
    omega, n = system.omega_rad_s, system.n_modes
    load = item.load
    if isinstance(load, Impact):
        space = state_space(system, float(omega[0]))
        state = np.zeros(len(space.matrix))
        state[n : 2 * n] = item.aim.load.modal
    else:
        start = start_of(system, item)
        space = state_space(system, float(omega[int(np.argmax(np.abs(omega * start.q)))]))
        state = _state(space, system, start)
    rate, vectors = np.linalg.eig(space.matrix)
    content = np.linalg.solve(vectors, state.astype(complex))
    pick = np.flatnonzero(rate.imag >= 0)
    rate, content = rate[pick], content[pick] * np.where(rate[pick].imag > 0, 2.0, 1.0)
    if isinstance(load, Impact):
        content = content * pulse_gain(rate, load)
    full = (space.expand @ vectors[:, pick]) * content
    return Motion(Decay(rate, full[:n] / omega[:, None]), Decay(rate, space.voltage @ full))


def shorted_motion(system: CoupledSystem, item: Forcing) -> Decay:
    """(N, N) decay with every group shorted: the modes are uncoupled."""
    omega, zeta = system.omega_rad_s, np.minimum(system.zeta, 0.999999)
    rate = omega * (-zeta + 1j * np.sqrt(1 - zeta**2))
    if isinstance(item.load, Impact):
        amplitude = -1j / rate.imag * item.aim.load.modal * pulse_gain(rate, item.load)
    else:
        q = start_of(shorted(system), item).q
        amplitude = q * (1 + 1j * rate.real / rate.imag)
    return Decay(rate, np.diag(amplitude))


def pulse_gain(rate: ComplexArray, load: Impact) -> ComplexArray:
    """Integral over the half-sine pulse of exp(rate (T - t)) f(t) dt, N s."""
    a = np.pi / max(load.duration_s, SHORTEST_PULSE_S)
    return load.impulse_n_s * a / 2 * a * (1 + np.exp(rate * load.duration_s)) / (rate**2 + a**2)


def start_of(system: CoupledSystem, item: Forcing) -> Start:
    """Static bend of a release, else mode 1 with unit deflection at the output."""
    if isinstance(item.load, Release):
        return _released(system, item, item.load.deflection_m)
    q = np.zeros(system.n_modes)
    at_output = float(item.aim.output.modal[0])
    q[0] = 1.0 / at_output if abs(at_output) > 1e-12 else 1.0
    return Start(q, np.zeros(len(system.connections)))


def _released(system: CoupledSystem, item: Forcing, deflection: float) -> Start:
    """Static bend under a force at the load's point. A circuit that conducts has let the charge
    go by then; open leads still hold it."""
    omega, load = system.omega_rad_s, item.aim.load
    groups = len(system.connections)
    charge = (load.modal / omega**2) @ system.theta + load.electric[:groups]
    voltage = np.zeros(groups)
    held = [g for g, c in enumerate(system.connections) if _holds_charge(c.port(), c.instrument_s)]
    if held:
        free = system.capacitance_f + system.theta.T @ (system.theta / omega[:, None] ** 2)
        voltage[held] = np.linalg.solve(free[np.ix_(held, held)], charge[held])
    per_newton = float(item.load_row @ item.load_row) - float(charge @ voltage)
    force = deflection / per_newton if per_newton > 0 else 0.0
    return Start((load.modal - system.theta @ voltage) / omega**2 * force, voltage * force)


def _holds_charge(port: Port, instrument_s: float) -> bool:
    return not port.short and instrument_s == 0 and port.conductance_s == 0 and len(port.coupling) == 0


def _state(space: StateSpace, system: CoupledSystem, start: Start) -> Array:
    """Kept states at the start, at rest; eliminated ones follow by themselves."""
    n = system.n_modes
    full = np.zeros(len(space.expand))
    full[:n] = system.omega_rad_s * start.q
    live = np.flatnonzero(np.abs(space.voltage).sum(axis=1) > 0)
    if len(live):
        volts = slice(2 * n, 2 * n + len(live))
        full[volts] = np.linalg.solve(space.voltage[live, volts], start.voltage[live])
    return full[space.kept]


def output_decay(q: Decay, item: Forcing, voltage: Decay | None = None) -> Decay:
    """Deflection at the output from modal amplitudes and voltages."""
    total = item.aim.output.modal @ q.amplitude
    if voltage is not None and len(item.aim.output.electric):
        total = total - item.aim.output.electric @ voltage.amplitude
    return Decay(q.rate, total)


def shorted(system: CoupledSystem) -> CoupledSystem:
    """The same modes with every group shorted."""
    none = np.zeros((0, 0))
    return CoupledSystem(system.omega_rad_s, system.zeta, np.zeros((system.n_modes, 0)), none, none, ())


def _largest(decay: Decay) -> float:
    """Largest envelope within the first cycles of the strongest term."""
    if len(decay.rate) == 0:
        return 0.0
    speed = float(np.abs(decay.rate[np.argmax(np.abs(decay.amplitude))]))
    return float(np.abs(decay.analytic(0.0, 2 * np.pi / max(speed, 1e-9) / 40, 80)).max())


def _time_grid(system: CoupledSystem, settle_s: float) -> tuple[float, int]:
    period = 2 * np.pi / float(system.omega_rad_s[0])
    cycles = 1.3 * settle_s / period if np.isfinite(settle_s) else CYCLES_SHOWN[1]
    cycles = min(max(cycles, CYCLES_SHOWN[0]), CYCLES_SHOWN[1])
    return period / POINTS_A_CYCLE, int(cycles * POINTS_A_CYCLE) + 1
