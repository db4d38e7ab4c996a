"""What an oscilloscope draws when a pick-up's part is plucked, struck or under the active load.

A pluck is pressed down at `PRESSED_S` before the release, fast against the corner and slow against the modes: the
voltage jumps to what the bend makes on open leads and fades until the part is let go. What happens once is the
engine's own motion (`core.predict.loads.transient`); a load that goes on is drawn as the sine of the mode it drives most.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem
from core.circuit.transfer import forced
from core.predict.forcing import Forcing, amplitude, forcing, load_words
from core.predict.loads.transient import driven_mode, free_motion, held_bend, is_transient, let_go, transient
from core.predict.use.sense import Sensing
from core.project.model import View
from core.project.service import Impact, Load, Release

Array = NDArray[np.float64]
Shown = Literal["pluck", "impact", "active load"]

DIVISIONS, DIVISIONS_ACROSS = 8, 10
"""Of an oscilloscope's screen, up and across."""
SAMPLES = 3000
PLUCK_M, KNOCK_N_S, KNOCK_S = 1e-3, 1e-2, 1e-3
"""Of a pluck and a knock that no load says otherwise."""
CYCLES = 24
"""Of mode 1 on the screen."""
PRESSED = 0.2
"""Part of the screen before the part is let go."""


@dataclass(frozen=True)
class Trace:
    """Seconds (T,), volts (T,), the settings of the screen, and what it shows in words."""

    time_s: Array
    volts: Array
    v_per_division: float
    s_per_division: float
    told: str

    @property
    def peak_v(self) -> float:
        return float(np.abs(self.volts).max())


def division(span: float, count: int) -> float:
    """The smallest of 1, 2, 5 and their tens with which `span` fits into so many divisions."""
    least = span / count
    if not least > 0.0 or not np.isfinite(least):
        return 1.0
    tens = 10.0 ** np.floor(np.log10(least))
    return float(next(step * tens for step in (1.0, 2.0, 5.0, 10.0) if step * tens >= least * (1 - 1e-9)))


def trace(sensing: Sensing, shown: Shown) -> Trace:
    """The screen after a pluck, an impact or under the active load."""
    solved = sensing.solved
    load, active = _load(sensing, shown), solved.side.forcing.load
    item = forcing(solved.beam, load, View(output_x_m=sensing.point_m)) if load is not active else solved.side.forcing
    system = sensing.system
    seconds = division(CYCLES * 2 * np.pi / float(system.omega_rad_s[0]), DIVISIONS_ACROSS)
    length = seconds * DIVISIONS_ACROSS
    if isinstance(load, Release):
        time, volts = _plucked(sensing, system, item, load, length)
    elif is_transient(load):
        time, volts = _once(sensing, system, item, length)
    else:
        time, volts, length = _sine(sensing, system, item)
        seconds = length / DIVISIONS_ACROSS
    volts = sensing.gain * volts
    peak = float(np.abs(volts).max())
    told = f"{shown if shown != 'active load' else load.name}, {load_words(load)}"
    return Trace(time, volts, division(2 * peak, DIVISIONS), seconds, told)


def _load(sensing: Sensing, shown: Shown) -> Load:
    """The load of the service that is of the kind wanted, the active one first; else a usual one at the point."""
    service, active = sensing.solved.project.service, sensing.solved.side.forcing.load
    if shown == "active load":
        return active
    kind = Release if shown == "pluck" else Impact
    found = [load for load in (active, *service.loads) if isinstance(load, kind)]
    if found:
        return found[0]
    if shown == "pluck":
        return Release("pluck", PLUCK_M, active.band_hz, sensing.point_m)
    return Impact("knock", KNOCK_N_S, KNOCK_S, active.band_hz, sensing.point_m)


def _plucked(
    sensing: Sensing, system: CoupledSystem, item: Forcing, load: Release, length: float
) -> tuple[Array, Array]:
    """Pressed, held while the voltage fades, let go."""
    g, held_s = sensing.index, PRESSED * length
    open_ = _open(sensing, system)
    at_once, force = held_bend(open_, item, load.deflection_m)
    time = np.linspace(-held_s * 1.2, length - held_s * 1.2, SAMPLES)
    volts = np.zeros(SAMPLES)
    held = (time >= -held_s) & (time < 0.0)
    volts[held] = at_once[g] * np.exp(-(time[held] + held_s) / sensing.fade_s)
    left = np.zeros_like(at_once)
    left[g] = at_once[g] * np.exp(-held_s / sensing.fade_s)
    for stretch in free_motion(system, *let_go(system, item, left, force)):
        after = time >= 0.0
        volts[after] = _at(stretch.whole.rate, stretch.whole.voltage[g], time[after])
    return time - time[0], volts


def _open(sensing: Sensing, system: CoupledSystem) -> CoupledSystem:
    """The same without what drains the leads."""
    return system.with_connection(sensing.index, replace(system.connections[sensing.index], instrument_s=0.0))


def _once(sensing: Sensing, system: CoupledSystem, item: Forcing, length: float) -> tuple[Array, Array]:
    time, volts, start = np.linspace(0.0, length, SAMPLES), np.zeros(SAMPLES), 0.05 * length
    begins = start
    for stretch in transient(system, item):
        here = (time >= begins) & (time < begins + stretch.length_s)
        volts[here] = _at(stretch.whole.rate, stretch.whole.voltage[sensing.index], time[here] - begins)
        begins += stretch.length_s
    return time, volts


def _sine(sensing: Sensing, system: CoupledSystem, item: Forcing) -> tuple[Array, Array, float]:
    omega = float(sensing.omega_rad_s[driven_mode(system, item)])
    size = float(np.abs(forced(system, item.aim.load, np.array([omega])).voltage[0, sensing.index])) * amplitude(item.load)
    length = DIVISIONS_ACROSS * division(2 * np.pi * 5 / omega, DIVISIONS_ACROSS)
    time = np.linspace(0.0, length, SAMPLES)
    return time, size * np.sin(omega * time), length


def _at(rate: NDArray[np.complex128], amplitudes: NDArray[np.complex128], time: Array) -> Array:
    return np.asarray((amplitudes @ np.exp(np.multiply.outer(rate, time))).real)

