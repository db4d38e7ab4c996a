"""What the active load does to every ceramic and group: strain, voltage, bond shear, power.

A swept sine: the largest amplitude in the band. Random base motion: three times the root mean
square. A release: the static bend it starts from, and the voltages of the decay. An impact:
the largest envelope of the decay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.piezo.package import CeramicPlate
from core.predict.arms import ceramic_arms
from core.predict.decay import Decay
from core.predict.fields import Fields
from core.predict.forcing import Forcing, amplitude, load_words, place
from core.predict.random_load import density, is_random
from core.predict.response import Sampled, Side
from core.predict.transient import is_transient, transient
from core.project.model import BaseLoad, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SIGMAS = 3.0
"""Peak of a random motion counted as so many times its root mean square."""
FREQUENCIES_USED = 160
TIMES_USED = 480
CYCLES_USED = 15.0


@dataclass(frozen=True)
class PlateState:
    """Largest values in one ceramic; x where the strain is largest and where the shear is."""

    strain_amplitude: float
    x_m: float | None
    voltage_amplitude: float
    shear_pa: float
    shear_x_m: float | None


@dataclass(frozen=True)
class Vibration:
    """The active load's effect: per ceramic, and per group voltage (V) and power (W)."""

    plates: tuple[PlateState, ...]
    group_voltage_v: Array
    group_power_w: Array
    words: str


@dataclass(frozen=True)
class _History:
    """Samples over frequency or time: modal amplitudes (F, N), group voltages (F, G), truncated
    load share (F,), and how samples combine into one amplitude."""

    q: ComplexArray
    voltage: ComplexArray
    truncated: Array
    weight: Array | None

    def amplitude(self, values: ComplexArray) -> Array:
        """Largest size over the samples, or 3 sigma; values (F, ...)."""
        if self.weight is None:
            return np.abs(values).max(axis=0)
        power = np.tensordot(self.weight, values.real**2 + values.imag**2, axes=1)
        return SIGMAS * np.sqrt(np.maximum(power, 0.0))


def vibrate(sampled: Fields, side: Side, response: Sampled) -> Vibration:
    """Evaluate the active load on every ceramic and group."""
    item = side.forcing
    history = _history(side, response)
    power = _power(side, response, history, item)
    words = load_sentence(item, sampled.beam.spec.span_m)
    voltage = history.amplitude(history.voltage) if history.voltage.shape[1] else np.zeros(0)
    plates = tuple(
        _plate_state(sampled, plate, j, item, history) for j, plate in enumerate(sampled.beam.plates)
    )
    return Vibration(plates, voltage, power, words)


def load_sentence(item: Forcing, span: float) -> str:
    """The load with its size and place, in words."""
    load = item.load
    where = "" if isinstance(load, BaseLoad) else f" at {place(item.load_x_m, span)}"
    kind = "3 sigma of " if is_random(load) else ""
    return f"{load.name}, {kind}{load_words(load)}{where}"


def _history(side: Side, response: Sampled) -> _History:
    load = side.forcing.load
    if is_transient(load):
        return _decaying(side)
    band = slice(0, response.points)
    driven = response.driven
    omega = driven.omega_rad_s[band]
    if is_random(load):
        step = np.zeros_like(omega)
        step[1:] += 0.5 * np.diff(omega)
        step[:-1] += 0.5 * np.diff(omega)
        level = density(load, omega) * step
        return _History(driven.after[band], driven.voltage[band], np.ones(len(omega)), level)
    use = _loudest(np.abs(response.after[band]), driven.voltage[band])
    scale = amplitude(load)
    return _History(
        driven.after[band][use] * scale, driven.voltage[band][use] * scale, np.full(len(use), scale), None
    )


def _loudest(size: Array, voltage: ComplexArray) -> NDArray[np.intp]:
    """The frequencies that can hold a maximum: every other one, and those near a peak."""
    if len(size) <= FREQUENCIES_USED:
        return np.arange(len(size))
    rank = size / max(float(size.max()), 1e-300)
    if voltage.shape[1]:
        level = np.abs(voltage).max(axis=1)
        rank = np.maximum(rank, level / max(float(level.max()), 1e-300))
    use = np.zeros(len(size), dtype=bool)
    use[:: max(1, 2 * len(size) // FREQUENCIES_USED)] = True
    use[np.argsort(rank)[-FREQUENCIES_USED // 2 :]] = True
    return np.flatnonzero(use)


def _decaying(side: Side) -> _History:
    """Envelopes over the first cycles of the lowest mode, in which a resonant circuit fills."""
    q, voltage = [], []
    for stretch in transient(side.system, side.forcing):
        length = min(stretch.length_s, CYCLES_USED * 2 * np.pi / float(side.system.omega_rad_s[0]))
        moved = stretch.whole
        step = length / TIMES_USED
        q.append(Decay(moved.rate, moved.q).analytic(0.0, step, TIMES_USED).T)
        voltage.append(Decay(moved.rate, moved.voltage).analytic(0.0, step, TIMES_USED).T)
    count = len(q) * TIMES_USED
    return _History(np.concatenate(q), np.concatenate(voltage), np.zeros(count), None)


def _plate_state(
    sampled: Fields, plate: CeramicPlate, j: int, item: Forcing, history: _History
) -> PlateState:
    elements = sampled.under(plate)
    voltage = _plate_voltage(sampled, j, history)
    if len(elements) == 0:
        return PlateState(0.0, None, float(history.amplitude(voltage)), 0.0, None)
    size, ends = _curvatures(sampled, elements, item, history)
    arms = ceramic_arms(sampled, plate, elements)
    strain = np.abs(arms).max(axis=0) * size
    worst = int(strain.argmax())
    shear, shear_x = _shear(sampled, plate, elements, ends, arms.mean(axis=0), voltage, history)
    return PlateState(
        float(strain.ravel()[worst]),
        float(sampled.x_m[elements].ravel()[worst]),
        float(history.amplitude(voltage)),
        shear,
        shear_x,
    )


def _curvatures(
    sampled: Fields, elements: NDArray[np.intp], item: Forcing, history: _History
) -> tuple[Array, ComplexArray]:
    """Curvature amplitude (e, s) under a ceramic, and its history (F, 2) at the two ends."""
    beam = sampled.beam
    modal = sampled.mode_curvature[:, elements]
    n_modes, shape = len(modal), modal.shape[1:]
    if isinstance(item.load, Release):
        vector = item.load_row * (item.load.deflection_m / max(float(item.load_row @ item.load_row), 1e-300))
        bend = sampled.curvature_of(vector[None])[0, elements]
        return np.abs(bend), np.array([[bend[0, 0], bend[-1, -1]]], dtype=complex)
    rest_rows = np.vstack([item.load_row[None], beam.group_theta_rows])
    rest = rest_rows - (rest_rows @ beam.units.T) @ beam.units
    static = sampled.curvature_of(rest)[:, elements].reshape(len(rest), -1)
    along = history.q @ modal.reshape(n_modes, -1)
    along = along + history.truncated[:, None] * static[0] - history.voltage @ static[1:]
    return history.amplitude(along).reshape(shape), along[:, [0, -1]]


def _plate_voltage(sampled: Fields, j: int, history: _History) -> ComplexArray:
    """(F,) voltage across one ceramic: its share of the group's, and what floats in a series."""
    terminals = sampled.beam.terminals
    voltage = history.voltage @ terminals.combine[j]
    half = terminals.stiffeners
    if half.shape[1]:
        inner = (half @ half.T)[j] @ sampled.beam.theta.T
        voltage = voltage + history.q @ inner
    return voltage


def _shear(
    sampled: Fields,
    plate: CeramicPlate,
    elements: NDArray[np.intp],
    ends: ComplexArray,
    arm: Array,
    voltage: ComplexArray,
    history: _History,
) -> tuple[float, float | None]:
    """E_p t_p Gamma |strain - free strain| at the worse end, Pa (Crawley & de Luis 1987)."""
    c = plate.coefficients
    free = c.e31_c_m2 / c.modulus_pa / plate.thickness_m * voltage
    if len(free) != len(ends):
        free = np.zeros(len(ends), dtype=complex)
    x = sampled.x_m[elements]
    best: tuple[float, float | None] = (0.0, None)
    for lag, k, height, at in (
        (plate.shear_lag_m[0], ends[:, 0], arm[0, 0], x[0, 0]),
        (plate.shear_lag_m[1], ends[:, 1], arm[-1, -1], x[-1, -1]),
    ):
        if lag <= 0:
            continue
        differ = -height * k - free
        size = float(np.abs(differ).max()) if len(ends) == 1 else float(history.amplitude(differ))
        stress = c.modulus_pa * plate.thickness_m / lag * size
        if stress > best[0]:
            best = (stress, float(at))
    return best


def _power(side: Side, response: Sampled, history: _History, item: Forcing) -> Array:
    """(G,) mean power into each circuit at the worst frequency; over the whole band if random.

    A transient has no mean: the power at its largest voltage, at the lowest mode's frequency."""
    connections = side.system.connections
    out = np.zeros(len(connections))
    load = item.load
    band = slice(0, response.points)
    omega = response.driven.omega_rad_s[band]
    for g, connection in enumerate(connections):
        if is_transient(load):
            at = side.system.omega_rad_s[:1]
            squared = np.array([float(history.amplitude(history.voltage[:, g])) ** 2])
        else:
            at = omega
            level = 1.0 if is_random(load) else amplitude(load)
            squared = np.abs(response.driven.voltage[band, g]) ** 2 * level**2
        conductance = connection.kind.admittance(connection.values, (1j * at).astype(complex)).real
        power = np.where(np.isfinite(conductance), conductance, 0.0) * squared
        if history.weight is not None:
            out[g] = float(history.weight @ power)
        else:
            out[g] = 0.5 * float(power.max())
    return out
