"""Free decay after a release, an impact, a shock or step of the base, or a release of the mode that
a harmonic or random load drives most at the output.

It is shown from the moment from which nothing changes any more: the release, the end of a pulse, the
jump of a step, whose decay is about the new position of rest.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem
from core.predict.decay import Decay, settling_times
from core.predict.forcing import Forcing
from core.predict.loads.transient import Motion, Stretch, driven_mode, is_transient, shorted, transient
from core.predict.prediction import RingDown
from core.predict.response import Side

Array = NDArray[np.float64]

CYCLES_SHOWN = (12.0, 60.0)
POINTS_A_CYCLE = 24


def ring_down(side: Side, bare: Side | None, moved: tuple[Stretch, ...] | None, settle_to: float) -> RingDown:
    """Decay at the output before and after; `moved` is the motion with the circuits, None where a pole grows:
    there is no curve after then, and it never settles."""
    reference = side if bare is None else bare
    before = output_decay(
        transient(shorted(reference.system), reference.forcing)[-1].free, reference.forcing
    )
    settle_before, half_before = settling_times(before, (settle_to, 0.5), _largest(before))
    after = None if moved is None else output_decay(moved[-1].free, side.forcing)
    settle_after = half_after = np.inf
    if after is not None:
        settle_after, half_after = settling_times(after, (settle_to, 0.5), _largest(after))
    load = side.forcing.load
    mode = 0 if is_transient(load) else driven_mode(side.system, side.forcing)
    step, count = _time_grid(side.system, mode, settle_after)
    return RingDown(
        time_s=step * np.arange(count, dtype=float),
        before=before.analytic(0.0, step, count).real,
        after=np.full(count, np.nan) if after is None else after.analytic(0.0, step, count).real,
        unit="m" if is_transient(load) else "of the start",
        settle_to=settle_to,
        settle_before_s=settle_before,
        settle_after_s=settle_after,
        half_life_before_s=half_before,
        half_life_after_s=half_after,
        start=f"after {load.name}" if is_transient(load) else f"mode {mode + 1} let go",
    )


def output_decay(motion: Motion, item: Forcing) -> Decay:
    """Deflection at the output from modal amplitudes and voltages, about where it comes to rest."""
    total = item.aim.output.modal @ motion.q
    ports = len(motion.voltage)
    if ports:
        total = total - item.aim.output.electric[:ports] @ motion.voltage
    return Decay(motion.rate, total).about_rest()


def _largest(decay: Decay) -> float:
    """Largest envelope within the first cycles of the strongest term."""
    if len(decay.rate) == 0:
        return 0.0
    speed = float(np.abs(decay.rate[np.argmax(np.abs(decay.amplitude))]))
    return float(np.abs(decay.analytic(0.0, 2 * np.pi / max(speed, 1e-9) / 40, 80)).max())


def _time_grid(system: CoupledSystem, mode: int, settle_s: float) -> tuple[float, int]:
    period = 2 * np.pi / float(system.omega_rad_s[mode])
    cycles = 1.3 * settle_s / period if np.isfinite(settle_s) else CYCLES_SHOWN[1]
    cycles = min(max(cycles, CYCLES_SHOWN[0]), CYCLES_SHOWN[1])
    return period / POINTS_A_CYCLE, int(cycles * POINTS_A_CYCLE) + 1
