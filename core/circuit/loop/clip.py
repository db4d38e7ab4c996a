"""A loop whose amplifier clips: motion in time after a mode is let go, and the damping that is left.

Everything but the amplifier is linear and is carried exactly from step to step (matrix exponential), the driven
voltage held over a step; the amplifier gives no more than its voltage to either side and changes it no faster than
its current charges the driven group.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from core.circuit.loop.loop import Loop
from core.circuit.loop.wait import GoesOn, Stopped
from core.circuit.states import full_matrices, live_ports, state_slices

Array = NDArray[np.float64]

STEPS_A_PERIOD = 24
"""Of the highest mode kept."""
MOST_STEPS = 150_000
LOOKED_UP = 512
"""Steps between two looks at whether anybody still waits."""
FITTED_CYCLES = 4


@dataclass(frozen=True)
class Ringing:
    """After the mode was let go: s (T,), its coordinate (T,), in units of what it was let go by, the driven volts (T,)."""

    time_s: Array
    coordinate: Array
    driven_v: Array

    def damping(self, omega_rad_s: float, cycles: int = FITTED_CYCLES) -> float:
        """From the peaks to either side over so many cycles: the slope of their logarithm over the cycle's phase."""
        x = self.coordinate
        peaks = np.flatnonzero((np.abs(x[1:-1]) >= np.abs(x[:-2])) & (np.abs(x[1:-1]) > np.abs(x[2:]))) + 1
        half = np.pi / omega_rad_s
        apart = [0]
        for peak in peaks:
            if self.time_s[peak] - self.time_s[apart[-1]] > 0.7 * half:
                apart.append(int(peak))
        apart = apart[: 2 * cycles + 1]
        if len(apart) < 3:
            return 1.0
        level = np.log(np.maximum(np.abs(x[apart]), 1e-300))
        slope = float(np.polyfit(self.time_s[apart], level, 1)[0])
        return -slope / float(np.hypot(slope, omega_rad_s))


@dataclass(frozen=True)
class Clipping:
    """`coordinate` is how far the mode is let go (modal, m sqrt(kg)) when the amplifier just reaches its limit;
    damping ratio below that, and at twice it."""

    coordinate: float
    damping: float
    damping_at_twice: float


def ring(
    loop: Loop,
    mode: int,
    coordinate: float,
    length_s: float,
    *,
    clipped: bool = True,
    goes_on: GoesOn = lambda share: True,
) -> Ringing:
    """Mode (from 1) let go by so much, leads without charge, the amplifier on. `goes_on` is told the share done, and
    ends it with Stopped where it says no."""
    from scipy.linalg import expm  # late: it takes long to load, and few look at a loop in time

    system = loop.closed(0.0)
    omega = system.omega_rad_s
    loss_at = np.array(float(omega[mode - 1]))
    matrix, voltage = full_matrices(system, loss_at)
    n = system.n_modes
    amplifier = loop.control.amplifier
    live = live_ports(system)
    volts = slice(2 * n, 2 * n + len(live))
    push = np.zeros(len(matrix))
    push[volts] = voltage[loop.driven, volts] / amplifier.output_ohm
    inside = state_slices(system)[loop.driven]
    command = loop.states.d * voltage[loop.sensing]
    command[inside] += loop.states.c
    step = max(2 * np.pi / (STEPS_A_PERIOD * float(omega[-1])), length_s / MOST_STEPS)
    count = int(length_s / step) + 1
    whole = np.zeros((len(matrix) + 1,) * 2)
    whole[:-1, :-1], whole[:-1, -1] = matrix, push
    grown = expm(whole * step)
    turn, add = grown[:-1, :-1], grown[:-1, -1]
    most = amplifier.voltage_v if clipped else inf
    stored = float(system.capacitance_f[loop.driven, loop.driven])
    quickest = amplifier.current_a / stored * step if clipped else inf
    state = np.zeros(len(matrix))
    state[mode - 1] = float(omega[mode - 1]) * coordinate
    out, driven, before = np.empty(count), np.empty(count), 0.0
    for k in range(count):
        if k % LOOKED_UP == 0 and not goes_on(k / count):
            raise Stopped
        wanted = float(command @ state)
        given = min(max(wanted, -most, before - quickest), most, before + quickest)
        out[k], driven[k] = state[mode - 1], given
        state = turn @ state + add * given
        before = given
    return Ringing(step * np.arange(count, dtype=float), out / (float(omega[mode - 1]) * coordinate), driven)


def clipping(
    loop: Loop, mode: int, cycles: int = 2 * FITTED_CYCLES, goes_on: GoesOn = lambda share: True
) -> Clipping | None:
    """Where the amplifier clips as mode `mode` (from 1) is let go, and what that leaves; None without a limit. `goes_on`
    as of `ring`, for both motions together."""
    amplifier = loop.control.amplifier
    if amplifier.voltage_v == inf and amplifier.current_a == inf:
        return None
    omega = float(loop.system.omega_rad_s[mode - 1])
    length = cycles * 2 * np.pi / omega
    linear = ring(loop, mode, 1.0, length, clipped=False, goes_on=lambda share: goes_on(0.5 * share))
    step = float(linear.time_s[1])
    stored = float(loop.system.capacitance_f[loop.driven, loop.driven])
    volts = float(np.abs(linear.driven_v).max())
    amperes = stored * float(np.abs(np.diff(linear.driven_v)).max()) / step
    most = min(amplifier.voltage_v / max(volts, 1e-300), amplifier.current_a / max(amperes, 1e-300))
    beyond = ring(loop, mode, 2 * most, length, goes_on=lambda share: goes_on(0.5 + 0.5 * share))
    return Clipping(most, linear.damping(omega), beyond.damping(omega))
