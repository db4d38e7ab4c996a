"""Poles of many layouts with one live group, by Newton steps on the secular equation.

With one group everything electrical meets the modes through one voltage:

    G(s) = s C + g + Y(s) + s sum_n theta_n^2/(s^2 + 2 zeta_n omega_n s + omega_n^2) = 0,
    Y = g_0 + c^2/(s + F)

(the port of a circuit with at most one state of its own). Every mode has a root next to its own pole;
a circuit with a state adds one. Newton steps on the characteristic polynomial prod d_n (s + F) G, with
the circuit's own root kept apart from those of the modes (Aberth 1973), settle all of them together.
The dielectric's conductance g is taken at the frequency of the mode a pole belongs to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEPS = 30
SETTLED = 1e-13


@dataclass(frozen=True)
class Roots:
    """Poles (P, R) with positive imaginary part: their mode (from 0), mechanical share, and whether
    they settled where they should."""

    value_rad_s: ComplexArray
    dominant: NDArray[np.intp]
    mechanical_share: Array
    settled: NDArray[np.bool_]
    """(P,)"""


@dataclass(frozen=True)
class Secular:
    """The equation of P layouts; numbers (P, 1), modes (P, 1, N)."""

    omega: Array
    twice_zeta_omega: Array
    theta2: Array
    capacitance: Array
    leak: Array
    loss: Array
    rate: Array
    """F and c^2 of the circuit's own state; both 0 without."""
    coupling2: Array
    has_state: bool

    def terms(self, s: ComplexArray, g: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """d_n (P, R, N), G and G' (P, R)."""
        z = s[..., None]
        d = z * (z + self.twice_zeta_omega) + self.omega**2
        d = np.where(d == 0.0, 1e-300, d)
        share = self.theta2 / d
        slope = share * (2.0 * z + self.twice_zeta_omega) / d
        total, falling = share.sum(axis=-1), slope.sum(axis=-1)
        value = s * (self.capacitance + total) + g + self.leak
        rise = self.capacitance + total - s * falling
        if self.has_state:
            y = self.coupling2 / (s + self.rate)
            value, rise = value + y, rise - y / (s + self.rate)
        return d, value, rise


def secular_connection(system: CoupledSystem, live: int) -> int | None:
    """The connection on the one live port where it is of the form above."""
    for i, connection in enumerate(system.connections):
        if system.leads(i) == (live,):
            port = connection.port()
            form = port.dampers is None and (port.states == 0 or (port.states == 1 and np.array_equal(port.back, port.coupling)))
            return i if form else None
    return None


def secular_of(system: CoupledSystem, index: int) -> Secular:
    """The equation of a system with leading axis P whose only live port is that of this connection."""
    connection, (group,) = system.connections[index], system.leads(index)
    port = connection.port()
    count = system.lead[0]

    def column(v: object) -> Array:
        return np.broadcast_to(np.asarray(v, dtype=float), (count,))[:, None]

    has_state = port.states == 1
    return Secular(
        omega=np.broadcast_to(system.omega_rad_s, (count, system.n_modes))[:, None],
        twice_zeta_omega=np.broadcast_to(2.0 * system.zeta * system.omega_rad_s, (count, system.n_modes))[:, None],
        theta2=np.broadcast_to(system.theta[..., group] ** 2, (count, system.n_modes))[:, None],
        capacitance=column(system.capacitance_f[..., group, group]),
        leak=column(port.conductance_s[..., 0, 0] + connection.instrument_s),
        loss=column(system.loss_f[..., group, group]),
        rate=column(port.damping[..., 0, 0] if has_state else 0.0),
        coupling2=column(port.coupling[..., 0, 0] ** 2 if has_state else 0.0),
        has_state=has_state,
    )


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def roots(equation: Secular) -> Roots:
    """All poles with positive imaginary part."""
    omega = equation.omega[:, 0]
    s, loss_at = _start(equation)
    s, good = _newton(equation, s, equation.loss * loss_at)
    dominant, share = _participation(equation, s)
    own = np.take_along_axis(omega, dominant, axis=1)
    if equation.loss.any() and not np.array_equal(own, loss_at):
        s, good = _newton(equation, s, equation.loss * own)
    good &= (s.imag > -1e-9 * np.abs(s)) | ~np.isfinite(s)
    return Roots(s, dominant, share, np.asarray(good.all(axis=1)))


def _start(equation: Secular) -> tuple[ComplexArray, Array]:
    """Where to begin, and the frequency each pole's dielectric loss is taken at: the mode's own pole
    moved by what the circuit's admittance there does to first order, and the circuit's."""
    omega, theta2 = equation.omega[:, 0], equation.theta2[:, 0]
    s = omega * (-0.5 * equation.twice_zeta_omega[:, 0] / omega + 1j)
    y = s * equation.capacitance + equation.leak + equation.loss * omega
    if equation.has_state:
        y = y + equation.coupling2 / (s + equation.rate)
    k = np.sqrt(theta2 / equation.capacitance) / omega
    shift = -0.5 * theta2 / y
    limit = 0.4 * k * omega
    size = np.abs(shift)
    s = s + shift * np.minimum(1.0, limit / np.maximum(size, 1e-300)) + 1e-12j * omega
    if not equation.has_state:
        return s.astype(complex), omega
    c = equation.capacitance
    electrical = np.sqrt(equation.coupling2 / c)
    total = equation.rate + (equation.leak + equation.loss * electrical) / c
    damped = np.minimum(0.5 * total, 0.95 * electrical)
    e = -damped + 1j * np.sqrt(electrical**2 - damped**2)
    nearest = np.abs(np.log(omega / electrical)).argmin(axis=1)[:, None]
    # Next to a mode the two start on either side of where they would meet.
    own, strength = (np.take_along_axis(v, nearest, axis=1) for v in (omega, k))
    near = np.abs(electrical / own - 1.0) < strength
    middle = own * (1j - 0.25 * strength)
    is_own = np.arange(omega.shape[1]) == nearest
    s = np.where(near & is_own, middle + 0.2 * strength * own * (1.0 - 0.3j), s)
    e = np.where(near, middle - 0.2 * strength * own * (1.0 - 0.3j), e)
    return np.concatenate([s, e], axis=1).astype(complex), np.concatenate([omega, own], axis=1)


def _newton(equation: Secular, s: ComplexArray, g: Array) -> tuple[ComplexArray, NDArray[np.bool_]]:
    """Roots from a start; (P, R) which settled."""
    n = equation.omega.shape[-1]
    good = np.zeros(s.shape, dtype=bool)
    rows = np.arange(len(s))
    for _ in range(STEPS):
        part = equation if len(rows) == len(s) else _rows(equation, rows)
        here, gain = s[rows], g[rows]
        d, value, rise = part.terms(here, gain)
        pull = ((2.0 * here[..., None] + part.twice_zeta_omega) / d).sum(axis=-1) + rise / value
        if part.has_state:
            pull = pull + 1.0 / (here + part.rate)
            apart = 1.0 / (here[:, :n] - here[:, n:])
            pull[:, :n] -= apart
            pull[:, n:] += apart.sum(axis=1, keepdims=True)
        step = 1.0 / pull
        step = np.where(np.isfinite(step), step, 0.0)
        size = np.abs(here)
        step = step * np.minimum(1.0, 0.3 * size / np.maximum(np.abs(step), 1e-300))
        s[rows] = here - step
        good[rows] = np.abs(step) <= SETTLED * size
        rows = rows[~good[rows].all(axis=1)]
        if not len(rows):
            break
    # Poles that all but meet settle to the square root of rounding.
    d, value, rise = equation.terms(s, g)
    return s, good | (np.abs(value) <= 1e-12 * np.abs(s) * equation.capacitance * (1.0 + (equation.theta2 / np.abs(d)).sum(axis=-1) / equation.capacitance))


def _rows(e: Secular, rows: NDArray[np.intp]) -> Secular:
    return Secular(
        e.omega[rows],
        e.twice_zeta_omega[rows],
        e.theta2[rows],
        e.capacitance[rows],
        e.leak[rows],
        e.loss[rows],
        e.rate[rows],
        e.coupling2[rows],
        e.has_state,
    )


def _participation(equation: Secular, s: ComplexArray) -> tuple[NDArray[np.intp], Array]:
    """The mode that holds most of each pole's mechanical energy, and the share that is mechanical."""
    z = s[..., None]
    d = z * (z + equation.twice_zeta_omega) + equation.omega**2
    floor = 1e-26 * equation.capacitance[..., None] * equation.omega**2
    size2 = np.maximum(d.real**2 + d.imag**2, 1e-300)
    energy = (np.abs(z) ** 2 + equation.omega**2) * (equation.theta2 + floor) / size2
    electric = equation.capacitance + 0.0 * s.real
    if equation.has_state:
        electric = electric + equation.coupling2 / np.abs(s + equation.rate) ** 2
    total = energy.sum(axis=-1)
    return energy.argmax(axis=-1), total / (total + electric)
