"""A switch across one group's leads in time, exactly between the instants at which it closes.

With the leads open the coupled system is linear: x' = A x + b f(t), a sum of exponentials of A's own eigenvectors (a
sine force adds two states). The switch closes at every extreme of the mode it serves, as a detector sees that is
filtered to it; these are found as the zeros of that mode's velocity on the exact motion. Closing takes no time: the
charge that makes V into -gamma V passes at once, everything else stays as it is.

Against it stands the equivalent of `core.circuit.switched`. In a free decay the amplitude falls while the voltage builds up,
so the damping is another one: both are told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from core.circuit.fast_states import state_space
from core.circuit.switched import kappa
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SAMPLES = 48
"""A half period, in which zeros of the velocity are looked for."""
LATE = 3.0
"""Half periods without a zero after which the motion has stopped swinging."""
CYCLES_OF_DECAY = 8
SETTLED = 2
"""Last swings of a decay, which tell its damping: the voltage has built up by then."""
FELL_TO = 0.02
"""Of the start, below which a decay is not followed."""
FEWEST_CYCLES, MOST_CYCLES = 20, 250
TIME_CONSTANTS = 5.0
"""Of the mode's damping, after which sine motion counts as steady."""


@dataclass(frozen=True)
class Switching:
    """A switched group, mode n (from 0) its own: damping ratios with the inherent one included.

    equivalent : eta/2 of the closed form with the leak, and the inherent one; steady : from the force that a sine motion takes, in
    time; decay : of a release once the voltage has built up, nan where the motion stops before that; attenuation_db, equivalent_db :
    change of the amplitude at resonance against shorted leads; swings : of the decay, amplitudes at the extremes over the
    start's, until it stops or no longer passes the middle; extremes_seen : of the voltage's rate in a period of the steady motion, 2 for a clean signal.
    """

    mode: int
    inversion: float
    equivalent: float
    steady: float
    decay: float
    attenuation_db: float
    equivalent_db: float
    swings: tuple[float, ...]
    extremes_seen: float


class _Run:
    """The system with the group's leads open, and a sine force on the mode if there is one."""

    def __init__(self, system: CoupledSystem, group: int, mode: int, omega_rad_s: float = 0.0) -> None:
        held = system.opened(group)
        space = state_space(held, float(system.omega_rad_s[mode]))
        n, count = system.n_modes, len(space.kept)
        place = {int(state): k for k, state in enumerate(space.kept)}
        self.position, self.speed = place[mode], place[n + mode]
        self.omega = float(system.omega_rad_s[mode])
        self.volts = space.voltage[group] @ space.expand
        """(n,) the voltage across the leads."""
        push = space.pick @ space.voltage[group]
        self.push = push / float(self.volts @ push)
        """(n,) what a jump of the voltage by 1 V does to the states."""
        forced = 2 if omega_rad_s else 0
        matrix = np.zeros((count + forced, count + forced))
        matrix[:count, :count] = space.matrix
        if forced:
            matrix[self.speed, count] = 1.0
            matrix[count, count + 1], matrix[count + 1, count] = omega_rad_s, -omega_rad_s
        self.size = count
        self.rate, self.vectors = np.linalg.eig(matrix)
        self.inverse = np.linalg.inv(self.vectors)
        self.period = pi / (self.omega * (1.0 + _k2(held, group, mode)) ** 0.5)
        """Half a period with the leads open, s."""
        grid = np.linspace(0.0, LATE, int(LATE * SAMPLES) + 1)[1:]
        self.grid = self.period * grid
        self.growth = np.exp(self.rate[:, None] * self.grid)

    def next_extreme(self, state: Array) -> tuple[float, Array] | None:
        """When the mode's velocity is next zero, s, and the state then; None where it does not come."""
        amplitude = self.inverse @ state.astype(complex)
        weight = self.vectors[self.speed] * amplitude
        speed = (weight @ self.growth).real
        turned = np.flatnonzero(speed[:-1] * speed[1:] <= 0.0)
        # the start is an extreme itself: its own zero is not the next
        turned = turned[self.grid[turned] > 0.1 * self.period]
        if not len(turned):
            return None
        k = int(turned[0])
        low, high = float(self.grid[k]), float(self.grid[k + 1])
        at = low + (high - low) * float(speed[k]) / float(speed[k] - speed[k + 1]) if speed[k] != speed[k + 1] else low
        for _ in range(6):
            turn = weight * np.exp(self.rate * at)
            slope = float((turn * self.rate).real.sum())
            step = float(turn.real.sum()) / slope if slope else 0.0
            at = min(max(at - step, low), high)
            if abs(step) < 1e-12 * self.period:
                break
        return at, (self.vectors @ (amplitude * np.exp(self.rate * at))).real

    def switched(self, state: Array, inversion: float) -> Array:
        """The state after the switch has closed."""
        out = state.copy()
        out[: self.size] -= (1.0 + inversion) * float(self.volts @ state[: self.size]) * self.push
        return out

    def swings(self, state: Array, inversion: float) -> Iterator[tuple[float, Array, Array]]:
        """From extreme to extreme: how long it took, the state before the switch closes, and after."""
        while True:
            found = self.next_extreme(state)
            if found is None:
                return
            after, before = found
            state = self.switched(before, inversion)
            yield after, before, state

    def extremes_between(self, start: Array, length: float) -> int:
        """Zeros of the voltage's rate from a state on."""
        amplitude = self.inverse @ start.astype(complex)
        t = np.linspace(0.01, 0.99, 40 * SAMPLES) * length
        rate = ((self.volts @ self.vectors[: self.size]) * self.rate * amplitude) @ np.exp(self.rate[:, None] * t)
        return int((rate.real[:-1] * rate.real[1:] < 0.0).sum())


def _k2(system: CoupledSystem, group: int, mode: int) -> float:
    """K^2 of the group for a mode from the kept modes, its frequency near enough to look for zeros."""
    theta, omega = system.theta[:, group], system.omega_rad_s
    c = float(system.seen_f(group, mode))
    return max(float(theta[mode] ** 2 / (abs(c) * omega[mode] ** 2)), 0.0)


def simulate(system: CoupledSystem, group: int, mode: int, inversion: float) -> Switching:
    """One layout's switched group, its circuit the equivalent or any other (it is taken off), mode from 0.

    Takes some 50 ms.
    """
    held = system.opened(group)
    k2, zeta = _k2(held, group, mode), float(system.zeta[mode])
    omega, c = float(system.omega_rad_s[mode]), float(held.seen_f(group, mode))
    leak = (float(system.loss_f[group, group]) + system.connections[group].instrument_s / omega) / c
    expected = zeta + 0.5 * float(kappa(inversion, leak)[1]) * k2
    decay, swings = _decay(system, group, mode, inversion)
    steady, seen = _steady(system, group, mode, inversion, k2, expected)
    return Switching(
        mode=mode,
        inversion=inversion,
        equivalent=expected,
        steady=steady,
        decay=decay,
        attenuation_db=20.0 * log(max(zeta, 1e-9) / steady / (1.0 + k2) ** 0.5, 10) if steady > 0.0 else float("nan"),
        equivalent_db=20.0 * log(max(zeta, 1e-9) / expected, 10),
        swings=swings,
        extremes_seen=seen,
    )


def _decay(system: CoupledSystem, group: int, mode: int, inversion: float) -> tuple[float, tuple[float, ...]]:
    """Released from rest in the mode's shape, where the leads stood open since the part was straight."""
    run = _Run(system, group, mode)
    state = np.zeros(run.size)
    state[run.position] = run.omega
    volts = float(system.theta[mode, group] / system.opened(group).capacitance_f[group, group])
    state += (volts - float(run.volts @ state)) * run.push
    state = run.switched(state, inversion)
    places = [1.0]
    for _, before, _ in run.swings(state, inversion):
        places.append(float(before[run.position]) / run.omega)
        stopped = places[-1] * places[-2] >= 0.0
        if stopped or len(places) > 2 * CYCLES_OF_DECAY or abs(places[-1]) < FELL_TO:
            break
    sizes = [abs(at) for at, previous in zip(places, [-1.0, *places], strict=False) if at * previous < 0.0]
    if len(sizes) < SETTLED + 2:
        return float("nan"), tuple(sizes)
    decrement = log(sizes[-1 - SETTLED] / sizes[-1]) / SETTLED
    return decrement / (pi**2 + decrement**2) ** 0.5, tuple(sizes)


def _steady(
    system: CoupledSystem, group: int, mode: int, inversion: float, k2: float, expected: float
) -> tuple[float, float]:
    """Damping ratio from the force in a steady sine at the resonance of open leads, started near where it ends; and the
    extremes of the voltage in a period."""
    omega = float(system.omega_rad_s[mode]) * (1.0 + k2) ** 0.5
    run = _Run(system, group, mode, omega)
    force = 2.0 * expected * float(system.omega_rad_s[mode]) * omega
    state = np.zeros(run.size + 2)
    state[run.position] = run.omega
    # in phase with the velocity, which begins to fall
    state[run.size], state[run.size + 1] = 0.0, -force
    own = float(system.opened(group).capacitance_f[group, group])
    volts = 2.0 * float(system.theta[mode, group]) / own / (1.0 - inversion)
    state[: run.size] += (-inversion * volts - float(run.volts @ state[: run.size])) * run.push
    cycles = int(min(max(FEWEST_CYCLES, TIME_CONSTANTS / (2.0 * pi * expected)), MOST_CYCLES))
    sizes: list[float] = []
    last = state
    for _, before, after in run.swings(state, inversion):
        sizes.append(abs(float(before[run.position])) / run.omega)
        last = after
        if len(sizes) >= 2 * cycles:
            break
    if len(sizes) < 2 * cycles:
        return float("nan"), float("nan")
    size = float(np.mean(sizes[-8:]))
    following = run.next_extreme(last)
    seen = run.extremes_between(last, following[0]) + 1 if following else 0
    return force / (2.0 * float(system.omega_rad_s[mode]) * omega * size), 2.0 * seen
