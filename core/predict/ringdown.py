"""Free decay after a release, an impact, or a release of mode 1 where the load is harmonic.

The coupled system's own eigenvectors carry the start state: no time stepping. The dielectric's
conductance is that of the mode which holds most of the starting energy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Port
from core.circuit.system import CoupledSystem, StateSpace, state_space
from core.predict.decay import Decay, settling_time
from core.predict.forcing import Forcing
from core.predict.prediction import RingDown
from core.predict.response import Side
from core.project.model import Impact, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

CYCLES_SHOWN = (12.0, 60.0)
POINTS_A_CYCLE = 24


@dataclass(frozen=True)
class Start:
    """Modal displacement (N,), modal velocity (N,) and group voltage (G,) at t = 0."""

    q: Array
    velocity: Array
    voltage: Array


@dataclass(frozen=True)
class Motion:
    """Decay of every modal coordinate (N, k) and group voltage (G, k) from one start."""

    q: Decay
    voltage: Decay


def start_of(system: CoupledSystem, item: Forcing) -> tuple[Start, str]:
    """State from which the load lets go, and the unit of the output."""
    load, aim = item.load, item.aim
    omega, groups = system.omega_rad_s, len(system.connections)
    if isinstance(load, Release):
        return _released(system, item, load.deflection_m), "m"
    if isinstance(load, Impact):
        return _struck(system, item, load), "m"
    q = np.zeros(len(omega))
    at_output = float(aim.output.modal[0])
    q[0] = 1.0 / at_output if abs(at_output) > 1e-12 else 1.0
    return Start(q, np.zeros(len(omega)), np.zeros(groups)), "1"


def _released(system: CoupledSystem, item: Forcing, deflection: float) -> Start:
    """Static bend under a force at the load's point. A circuit that conducts has let the charge
    go by then; open leads still hold it."""
    omega, load = system.omega_rad_s, item.aim.load
    charge = (load.modal / omega**2) @ system.theta + load.electric
    voltage = np.zeros(len(system.connections))
    held = [g for g, c in enumerate(system.connections) if _holds_charge(c.port(), c.instrument_s)]
    if held:
        free = system.capacitance_f + system.theta.T @ (system.theta / omega[:, None] ** 2)
        voltage[held] = np.linalg.solve(free[np.ix_(held, held)], charge[held])
    per_newton = float(item.load_row @ item.load_row) - float(charge @ voltage)
    force = deflection / per_newton
    q = (load.modal - system.theta @ voltage) / omega**2 * force
    return Start(q, np.zeros(len(omega)), voltage * force)


def _holds_charge(port: Port, instrument_s: float) -> bool:
    return not port.short and instrument_s == 0 and port.conductance_s == 0 and len(port.coupling) == 0


def _struck(system: CoupledSystem, item: Forcing, load: Impact) -> Start:
    """State at the end of a half-sine pulse of the stated impulse, from the coupled modes."""
    space = state_space(system, float(system.omega_rad_s[0]))
    rate, shapes = np.linalg.eig(space.matrix)
    n = system.n_modes
    push = np.zeros(len(space.matrix))
    push[n : 2 * n] = item.aim.load.modal
    a = np.pi / load.duration_s
    gain = a * (1 + np.exp(rate * load.duration_s)) / (rate**2 + a**2)
    height = load.impulse_n_s * a / 2
    state = (shapes @ (np.linalg.solve(shapes, push.astype(complex)) * gain)).real * height
    full = space.expand @ state
    return Start(full[:n] / system.omega_rad_s, full[n : 2 * n], space.voltage @ full)


def motion(system: CoupledSystem, start: Start) -> Motion:
    """Free decay of the coupled system."""
    omega, n = system.omega_rad_s, system.n_modes
    energy = (omega * start.q) ** 2 + start.velocity**2
    space = state_space(system, float(omega[int(np.argmax(energy))]))
    state = _state(space, system, start)
    rate, shapes = np.linalg.eig(space.matrix)
    content = np.linalg.solve(shapes, state.astype(complex))
    pick = rate.imag >= 0
    weight = content[pick] * np.where(rate[pick].imag > 0, 2.0, 1.0)
    full = space.expand @ shapes[:, pick] * weight
    return Motion(Decay(rate[pick], full[:n] / omega[:, None]), Decay(rate[pick], space.voltage @ full))


def _state(space: StateSpace, system: CoupledSystem, start: Start) -> Array:
    """Kept states at the start; eliminated ones follow by themselves."""
    n = system.n_modes
    full = np.zeros(len(space.expand))
    full[:n] = system.omega_rad_s * start.q
    full[n : 2 * n] = start.velocity
    live = np.flatnonzero(np.abs(space.voltage).sum(axis=1) > 0)
    if len(live):
        block = space.voltage[np.ix_(live, range(2 * n, 2 * n + len(live)))]
        full[2 * n : 2 * n + len(live)] = np.linalg.solve(block, start.voltage[live])
    kept = np.argmax(space.expand == 1.0, axis=0)
    return full[kept]


def shorted_motion(system: CoupledSystem, start: Start) -> Decay:
    """(N, N) decay of uncoupled modes from the start's displacement and velocity."""
    omega, zeta = system.omega_rad_s, np.minimum(system.zeta, 0.999999)
    rate = omega * (-zeta + 1j * np.sqrt(1 - zeta**2))
    amplitude = start.q + 1j * (rate.real * start.q - start.velocity) / rate.imag
    return Decay(rate, np.diag(amplitude))


def output_decay(q: Decay, item: Forcing, voltage: Decay | None = None) -> Decay:
    """Deflection at the output from modal amplitudes and voltages."""
    total = item.aim.output.modal @ q.amplitude
    if voltage is not None and len(item.aim.output.electric):
        total = total - item.aim.output.electric @ voltage.amplitude
    return Decay(q.rate, total)


def ring_down(side: Side, bare: Side | None, settle_to: float) -> tuple[RingDown, Motion]:
    """Decay at the output before and after, and the motion with the circuits."""
    start, unit = start_of(side.system, side.forcing)
    moved = motion(side.system, start)
    after = output_decay(moved.q, side.forcing, moved.voltage)
    reference = side if bare is None else bare
    first, _ = start_of(_passive(reference.system), reference.forcing)
    before = output_decay(shorted_motion(reference.system, first), reference.forcing)
    sizes = [_largest(before), _largest(after)]
    settle = [settling_time(d, settle_to, size) for d, size in zip((before, after), sizes, strict=True)]
    half = [settling_time(d, 0.5, size) for d, size in zip((before, after), sizes, strict=True)]
    step, count = _time_grid(side.system, settle[1])
    return (
        RingDown(
            time_s=step * np.arange(count),
            before=before.analytic(0.0, step, count).real,
            after=after.analytic(0.0, step, count).real,
            unit=unit,
            settle_to=settle_to,
            settle_before_s=settle[0],
            settle_after_s=settle[1],
            half_life_before_s=half[0],
            half_life_after_s=half[1],
        ),
        moved,
    )


def _passive(system: CoupledSystem) -> CoupledSystem:
    """The same modes with every group shorted."""
    none = np.zeros((0, 0))
    return CoupledSystem(system.omega_rad_s, system.zeta, np.zeros((system.n_modes, 0)), none, none, ())


def _largest(decay: Decay) -> float:
    """Envelope at the start, or its largest value within the first cycles of the slowest term."""
    if len(decay.rate) == 0:
        return 0.0
    slow = np.abs(decay.rate[np.argmax(np.abs(decay.amplitude))])
    return float(np.abs(decay.analytic(0.0, 2 * np.pi / max(slow, 1e-9) / 40, 80)).max())


def _time_grid(system: CoupledSystem, settle_s: float) -> tuple[float, int]:
    period = 2 * np.pi / float(system.omega_rad_s[0])
    cycles = 1.3 * settle_s / period if np.isfinite(settle_s) else CYCLES_SHOWN[1]
    cycles = min(max(cycles, CYCLES_SHOWN[0]), CYCLES_SHOWN[1])
    return period / POINTS_A_CYCLE, int(cycles * POINTS_A_CYCLE) + 1
