"""Values of a law: closed forms on one mode each, and the optimum of the whole loop under margins.

On a mode the loop's pull is u theta_d, what it reads theta_s q/C_n; a = theta_s theta_d/(C_n omega^2) is then the
share of the mode's stiffness that a gain of 1 V/V makes.

    velocity feedback   zeta = zeta_0 + g a omega/2, from a wanted zeta
    position feedback   gain g a = share: w_f = w/sqrt(1 - share), z_f = sqrt(share) make a double pole of damping
                        sqrt(share/(1 - share))/2 (Fanson & Caughey 1990)
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.loop.law import Control, Filter, PositionFeedback, VelocityFeedback
from core.circuit.loop.loop import Loop
from core.circuit.loop.margins import margins
from core.circuit.loop.result import changes
from core.circuit.loop.wait import GoesOn, Stopped
from core.project.fields import FIELDS

Array = NDArray[np.float64]

USUAL_SHARE = 0.1
"""Of a mode's stiffness that a position filter takes by the closed form: 17 % of damping on a double pole."""
LEAST_GAIN_DB, LEAST_PHASE_RAD = 6.0, float(np.deg2rad(30.0))
ROUNDS, FIRST_STEP, LAST_STEP = 60, 0.35, 0.02


def stiffness_share(loop: Loop, mode: int) -> float:
    """a of a mode (from 1): negative where sensor and driver see it with different signs."""
    system, n = loop.system, mode - 1
    stiff = system.seen_f(loop.sensing, n) * system.omega_rad_s[n] ** 2
    return float(system.theta[n, loop.sensing] * system.theta[n, loop.driven] / stiff)


def closed_form_velocity(loop: Loop, mode: int, zeta: float) -> VelocityFeedback:
    """The gain that brings a mode to a damping ratio, were it alone and nothing late; 0 where the loop does not reach it."""
    omega = float(loop.system.omega_rad_s[mode - 1])
    more = zeta - float(loop.system.zeta[mode - 1])
    return VelocityFeedback(_gain(loop, mode, 2 * more / omega, FIELDS["loop.velocity_gain_s"].range.high))


def closed_form_position(loop: Loop, modes: tuple[int, ...], share: float = USUAL_SHARE) -> PositionFeedback:
    """One filter a mode, each as if its mode were alone; its gain 0 where the loop does not reach the mode."""
    filters = []
    for mode in modes:
        f = float(loop.system.omega_rad_s[mode - 1]) / (2 * np.pi)
        gain = _gain(loop, mode, share, FIELDS["loop.filters.gain"].range.high)
        filters.append(Filter(f / float(np.sqrt(1 - share)), float(np.sqrt(share)), gain))
    return PositionFeedback(tuple(filters))


def _gain(loop: Loop, mode: int, wanted: float, most: float) -> float:
    """The gain of the law that takes a share of a mode's stiffness (or that over its frequency); none where the mode is out
    of the loop's reach, so that more than any law may have were needed: at a node of sensor or driver no gain moves it."""
    each = stiffness_share(loop, mode) * loop.control.amplifier.gain
    return wanted / each if abs(wanted) < most * abs(each) else 0.0


def optimum(
    loop: Loop,
    modes: tuple[int, ...],
    *,
    gain_db: float = LEAST_GAIN_DB,
    phase_rad: float = LEAST_PHASE_RAD,
    goes_on: GoesOn = lambda share: True,
) -> Control:
    """The law of the loop with its values moved to the largest least damping of the modes, no mode growing and the
    margins at least so large. Starts from the values as they are; a search by coordinates in their logarithms. `goes_on` is
    told the share done, and ends it with Stopped where it says no."""
    law = loop.control.law
    if not isinstance(law, VelocityFeedback | PositionFeedback):
        return loop.control
    x = _numbers(law)

    def worth(values: Array) -> float:
        tried = loop.with_control(replace(loop.control, law=_law(law, values)))
        found = margins(tried)
        lacks = max(gain_db - found.gain_db, 0.0) / 6.0 + max(phase_rad - found.phase_rad, 0.0)
        if lacks > 0.0:
            return -lacks
        told = changes(tried, modes)
        on = [c.on for c in told if c.controlled]
        # what grows has no damping; the gain margin above watches the modes outside the band
        return -1.0 if any(np.isnan(c.on) for c in told) else min(on, default=0.0)

    best, step = worth(x), FIRST_STEP
    for _ in range(ROUNDS):
        moved = False
        for i in range(len(x)):
            if not goes_on(float(np.log(FIRST_STEP / step) / np.log(FIRST_STEP / LAST_STEP))):
                raise Stopped
            for way in (1.0, -1.0):
                tried = x.copy()
                tried[i] *= np.exp(way * step)
                value = worth(tried)
                if value > best:
                    x, best, moved = tried, value, True
                    break
        if not moved:
            step *= 0.5
            if step < LAST_STEP:
                break
    return replace(loop.control, law=_law(law, x))


def _numbers(law: VelocityFeedback | PositionFeedback) -> Array:
    if isinstance(law, VelocityFeedback):
        return np.array([law.gain_s])
    return np.array([v for f in law.filters for v in (f.frequency_hz, f.damping_ratio, f.gain)])


def _law(law: VelocityFeedback | PositionFeedback, values: Array) -> VelocityFeedback | PositionFeedback:
    if isinstance(law, VelocityFeedback):
        return VelocityFeedback(float(values[0]))
    return PositionFeedback(tuple(Filter(*map(float, row)) for row in values.reshape(-1, 3)))
