"""What a load does to every ceramic and group: strain, voltage, bond shear, current, power.

A swept sine: the largest amplitude in the band. Random base motion: three times the root mean square.
What happens once (release, impact, shock, step): the extremes of the ringing, searched in time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Forced, forced, inner_states
from core.predict.fields import Fields
from core.predict.forcing import Forcing, amplitude, load_words, place
from core.predict.group_result import PowerMeaning, VoltageMeaning
from core.predict.loads.extremes import Extremes, extremes_in_time, symmetric
from core.predict.loads.mean_square import density_points
from core.predict.loads.random_load import is_random
from core.predict.loads.readings import PlateReadings, Readings, group_voltages, plate_readings
from core.predict.loads.transient import Motion, Stretch, held_bend, is_transient
from core.predict.response import Sampled, Side
from core.project.service import BaseLoad, Release

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SIGMAS = 3.0
"""Peak of a random motion counted as so many times its root mean square."""
FREQUENCIES_USED = 160


@dataclass(frozen=True)
class PlateState:
    """Extremes in one ceramic: strain (at x), voltage, and the shear stress of its bond (at x)."""

    strain: tuple[float, float]
    """(lowest, highest)."""
    strain_x_m: tuple[float | None, float | None]
    voltage: tuple[float, float]
    shear_pa: float
    shear_x_m: float | None


@dataclass(frozen=True)
class Vibration:
    """A load's effect: per ceramic; per group and tuned mass (P,) voltage in V (force in N) and current into
    the circuit in A (velocity of the place in m/s); power into it in W, with what these are; energy in J of
    what happens once, nan otherwise; travel of a mass against the structure in m and the
    voltage behind the output of a loop's amplifier in V, nan for others."""

    plates: tuple[PlateState, ...]
    group_voltage_v: Array
    group_current_a: Array
    group_power_w: Array
    group_energy_j: Array
    inside: Array
    words: str
    meaning: VoltageMeaning = "peak"
    power_meaning: PowerMeaning = "mean at the worst frequency"


def vibrate(over_x: Fields, side: Side, response: Sampled, stretches: tuple[Stretch, ...]) -> Vibration:
    """Evaluate the active load on every ceramic and group.

    response : of the same side; stretches : its motion where the load happens once.
    """
    if is_transient(side.forcing.load):
        return once(over_x, side, stretches)
    if is_random(side.forcing.load):
        return shaken(over_x, side, response.resonances)
    return swept(over_x, side, response)


def once(over_x: Fields, side: Side, stretches: tuple[Stretch, ...]) -> Vibration:
    """A load that happens once."""
    return _evaluated(over_x, side, lambda rows: _in_time(rows, side, stretches), "peak", "peak")


def shaken(over_x: Fields, side: Side, resonances: tuple[Array, Array]) -> Vibration:
    """Random base motion; resonances as centres and half widths in rad/s."""
    return _evaluated(over_x, side, lambda rows: _random(rows, side, resonances), "3 sigma", "mean")


def swept(over_x: Fields, side: Side, response: Sampled) -> Vibration:
    """A sine swept over the band."""
    return _evaluated(
        over_x, side, lambda rows: _sine(rows, side, response), "peak", "mean at the worst frequency"
    )


@dataclass(frozen=True)
class _Rows:
    """All readings, the set each belongs to: strain, shear and voltage of every ceramic in turn, then
    the voltage of every group."""

    readings: Readings
    owner: NDArray[np.intp]
    sets: int


@dataclass(frozen=True)
class _Found:
    """Extremes of the sets; per group and tuned mass (P,) current in A, power in W, energy in J, travel in m."""

    extremes: Extremes
    current: Array
    power: Array
    energy: Array
    travel: Array


def _evaluated(
    over_x: Fields,
    side: Side,
    evaluate: Callable[[_Rows], _Found],
    meaning: VoltageMeaning,
    power_meaning: PowerMeaning,
) -> Vibration:
    plates = plate_readings(over_x, side.forcing)
    rows = _stack(plates, side.system)
    found = evaluate(rows)
    extremes = found.extremes
    return Vibration(
        tuple(_plate_state(extremes, j, plate, rows.owner) for j, plate in enumerate(plates)),
        np.maximum(extremes.high, -extremes.low)[3 * len(plates) :],
        found.current,
        found.power,
        found.energy,
        found.travel,
        load_sentence(side.forcing, over_x.beam.spec.span_m),
        meaning,
        power_meaning,
    )


def load_sentence(item: Forcing, span: float) -> str:
    """The load with its size and place, in words."""
    load = item.load
    where = "" if isinstance(load, BaseLoad) else f" at {place(item.load_x_m, span)}"
    kind = f"{SIGMAS:g} sigma of " if is_random(load) else ""
    return f"{load.name}, {kind}{load_words(load)}{where}"


def _stack(plates: tuple[PlateReadings, ...], system: CoupledSystem) -> _Rows:
    groups = system.n_ports
    parts = [part for plate in plates for part in (plate.strain, plate.shear, plate.voltage)]
    leads = group_voltages(groups, system.n_modes)
    owner = np.repeat(np.arange(len(parts) + groups), [*map(len, parts), *[1] * groups])
    return _Rows(Readings.stacked([*parts, leads]), owner, len(parts) + groups)


def _plate_state(
    found: Extremes, j: int, plate: PlateReadings, owner: NDArray[np.intp]
) -> PlateState:
    strain, shear, voltage = 3 * j, 3 * j + 1, 3 * j + 2
    first = int(np.searchsorted(owner, strain))
    # a side that is never reached has no place
    x = tuple(
        float(plate.x_m[row[strain] - first]) if value[strain] != 0 else None
        for value, row in ((found.low, found.low_row), (found.high, found.high_row))
    )
    size = max(found.high[shear], -found.low[shear])
    row = found.high_row[shear] if found.high[shear] >= -found.low[shear] else found.low_row[shear]
    return PlateState(
        strain=(float(found.low[strain]), float(found.high[strain])),
        strain_x_m=(x[0], x[1]),
        voltage=(float(found.low[voltage]), float(found.high[voltage])),
        shear_pa=float(size),
        shear_x_m=float(plate.shear_x_m[row - first - len(plate.strain)]) if size > 0 else None,
    )


# -- swept sine -------------------------------------------------------------------------------------


def _sine(rows: _Rows, side: Side, response: Sampled) -> _Found:
    band = slice(0, response.points)
    driven, scale = response.driven, amplitude(side.forcing.load)
    use = _loudest(np.abs(response.after[band]), driven.voltage[band])
    values = rows.readings.of(driven.after[use].T, np.ones(len(use)), driven.voltage[use].T)
    found = symmetric(np.abs(values).max(axis=1, initial=0.0) * scale, rows.owner, rows.sets)
    # each group's own worst frequency is among all of them
    voltage, whole = np.abs(driven.voltage[band]).max(axis=0, initial=0.0) * scale, found.high.copy()
    whole[rows.sets - len(voltage) :] = voltage
    current = np.abs(_currents(side, driven)[band]).max(axis=0, initial=0.0) * scale
    power = _into(side, driven)[band] * scale**2
    return _Found(
        Extremes(whole, -whole, found.high_row, found.low_row),
        current,
        power.max(axis=0, initial=0.0),
        np.full(len(side.system.connections), np.nan),
        np.abs(_travels(side, driven)[band]).max(axis=0, initial=0.0) * scale,
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


def _currents(side: Side, driven: Forced) -> ComplexArray:
    """(F, G) current into each circuit and instrument: the rate of the charge
    theta^T q + e F - C (1 - j tan delta) V."""
    system = side.system
    charge = driven.after @ system.theta + side.forcing.aim.load.electric
    charge = charge - driven.voltage @ (system.capacitance_f - 1j * system.loss_f)
    return 1j * driven.omega_rad_s[:, None] * charge


def _into(side: Side, driven: Forced) -> Array:
    """(F, c) mean power turned into heat in each connection per unit of the load squared."""
    system, base = side.system, side.forcing.aim.load.base
    s = (1j * driven.omega_rad_s).astype(complex)
    out = np.zeros((len(s), len(system.connections)))
    for i, connection in enumerate(system.connections):
        heat = _heat(connection)
        if not heat.any():
            continue
        voltage = driven.voltage[:, list(system.leads(i))]
        inner = inner_states(connection.port(), s, voltage, base)
        terms = np.concatenate([voltage, inner], axis=1)
        out[:, i] = 0.5 * ((terms.conj() @ heat) * terms).real.sum(axis=1)
    return out


def _travels(side: Side, driven: Forced) -> ComplexArray:
    """(F, c) motion inside each connection that has its limit, nan where there is none."""
    system, s = side.system, (1j * driven.omega_rad_s).astype(complex)
    out = np.full((len(s), len(system.connections)), np.nan, dtype=complex)
    for i, connection in enumerate(system.connections):
        port = connection.port()
        if port.travel is not None:
            voltage = driven.voltage[:, list(system.leads(i))]
            inner = inner_states(port, s, voltage, side.forcing.aim.load.base)
            out[:, i] = np.concatenate([voltage, inner], axis=1) @ port.travel
    return out


# -- random -----------------------------------------------------------------------------------------


def _random(rows: _Rows, side: Side, resonances: tuple[Array, Array]) -> _Found:
    points, weights = density_points(side.forcing.load, *resonances)
    driven = forced(side.system, side.forcing.aim.load, points)
    values = rows.readings.of(driven.after.T, np.ones(len(points)), driven.voltage.T)
    size = SIGMAS * np.sqrt((values.real**2 + values.imag**2) @ weights)
    power = 2.0 * (weights @ _into(side, driven))
    return _Found(
        symmetric(size, rows.owner, rows.sets),
        SIGMAS * np.sqrt(weights @ np.abs(_currents(side, driven)) ** 2),
        power,
        np.full(len(power), np.nan),
        SIGMAS * np.sqrt(weights @ np.abs(_travels(side, driven)) ** 2),
    )


# -- what happens once ------------------------------------------------------------------------------


def _in_time(rows: _Rows, side: Side, stretches: tuple[Stretch, ...]) -> _Found:
    """Extremes over all stretches, with the currents and the circuits' own states searched along."""
    system, item = side.system, side.forcing
    groups, sets, readings = system.n_ports, rows.sets, rows.readings
    inside = np.array([len(part) for part in stretches[0].free.inner], dtype=np.intp)
    ports = [c.port() for c in system.connections]
    moving, warming = ([i for i, p in enumerate(ports) if getattr(p, rows) is not None] for rows in ("travel", "heating"))
    extra = np.arange(sets, sets + groups + int(inside.sum()) + len(moving) + len(warming))
    owner, count = np.concatenate([rows.owner, extra]), sets + len(extra)
    found: Extremes | None = None
    for stretch in stretches:
        moved = stretch.whole
        seen = readings.of(moved.q, moved.load, moved.voltage)
        values = np.concatenate([seen, _current_terms(system, item, moved), *moved.inner, *_inside_terms(system, moved)])
        here = extremes_in_time(moved.rate, values, owner, count, stretch.length_s)
        found = here if found is None else found.with_(here)
    assert found is not None
    if isinstance(item.load, Release):
        still = np.zeros((len(owner), 1), dtype=complex)
        still[: len(readings), 0] = _held(readings, system, item, item.load)
        found = found.with_(extremes_in_time(np.zeros(1, dtype=complex), still, owner, count, 0.0))
    size = np.maximum(found.high, -found.low)
    power = np.zeros(len(system.connections))
    ends = sets + groups + np.cumsum(inside)
    for i, (connection, end) in enumerate(zip(system.connections, ends.tolist(), strict=True)):
        leads = [sets - groups + p for p in system.leads(i)]
        terms = np.concatenate([size[leads], size[end - inside[i] : end]])
        heat = _heat(connection)
        # exact for one resistor; the sum of their largest where a circuit holds several
        power[i] = terms[: len(heat)] @ np.abs(heat) @ terms[: len(heat)]
    travel, last = np.full(len(system.connections), np.nan), len(size) - len(warming)
    travel[moving], power[warming] = size[last - len(moving) : last], size[last:] ** 2
    cut = Extremes(found.high[:sets], found.low[:sets], found.high_row[:sets], found.low_row[:sets])
    return _Found(cut, size[sets : sets + groups], power, _energy(system, stretches), travel)


def _held(rows: Readings, system: CoupledSystem, item: Forcing, load: Release) -> Array:
    """(R,) readings of the static bend before the release."""
    voltage, force = held_bend(system, item, load.deflection_m)
    q = (item.aim.load.modal * force - system.theta @ voltage) / system.omega_rad_s**2
    return rows.table @ np.concatenate([q, [force], voltage])


def _current_terms(system: CoupledSystem, item: Forcing, moved: Motion) -> ComplexArray:
    """(G, k) amplitudes of the current into each circuit and instrument. The dielectric's own leak is
    that of mode 1, which rules how long the voltage lasts."""
    charge = system.theta.T @ moved.q + np.multiply.outer(item.aim.load.electric, moved.load)
    charge = charge - system.capacitance_f @ moved.voltage
    return charge * moved.rate - float(system.omega_rad_s[0]) * (system.loss_f @ moved.voltage)


def _inside_terms(system: CoupledSystem, moved: Motion) -> list[ComplexArray]:
    """(1, k) amplitudes of everything inside a connection that has its limit, then of the root of the heat of what feeds."""
    travels: list[ComplexArray] = []
    heats: list[ComplexArray] = []
    for i, connection in enumerate(system.connections):
        port = connection.port()
        for rows, out in ((port.travel, travels), (port.heating, heats)):
            if rows is not None:
                terms = np.vstack([moved.voltage[list(system.leads(i))], moved.inner[i]])
                out.append((np.reshape(rows, (1, -1)) @ terms).astype(complex))
    return travels + heats


def _heat(connection: Connection) -> Array:
    """(1 + m, 1 + m) power turned into heat as a form on voltage and the circuit's own states."""
    port = connection.port()
    if port.short:
        return np.zeros((1, 1))
    if port.heating is not None:
        return np.asarray(port.heating.T @ port.heating)
    return np.asarray(0.5 * (port.flow + port.flow.T))


def _energy(system: CoupledSystem, stretches: tuple[Stretch, ...]) -> Array:
    energy = np.zeros(len(system.connections))
    for i, connection in enumerate(system.connections):
        heat = _heat(connection)
        if not heat.any():
            continue
        for stretch in stretches:
            moved = stretch.whole
            terms = np.vstack([moved.voltage[list(system.leads(i))], moved.inner[i]])
            energy[i] += float((heat * squares(moved.rate, terms, stretch.length_s)).sum())
    return energy


def squares(rate: ComplexArray, amplitude: ComplexArray, length_s: float) -> Array:
    """(m, m) integrals from 0 to `length_s` of y_i y_j, y = Re sum over k of amplitude (m, k) exp(rate t).

    A product that would never end (a constant, or no damping, for ever) counts as nothing: such a term
    stands on leads that carry no current."""
    out = np.zeros((len(amplitude), len(amplitude)))
    for other, factor in ((rate, amplitude), (rate.conj(), amplitude.conj())):
        total = rate[:, None] + other[None, :]
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if np.isfinite(length_s):
                grown = np.where(np.abs(total) * length_s < 1e-12, length_s, np.expm1(total * length_s) / total)
            else:
                grown = np.where(total.real < 0, -1.0 / total, 0.0)
        out += 0.5 * (amplitude @ grown @ factor.T).real
    return out
