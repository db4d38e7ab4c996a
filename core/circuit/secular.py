"""Poles of many layouts by Newton steps on the secular equation of their ports.

Everything electrical meets the modes through the voltages of the live ports, M(s) V = 0 with

    M(s) = s C + omega C tan(delta) + diag(g + c^2/(s + F)) + s sum_n theta_n theta_n^T/d_n,
    d_n = s^2 + 2 zeta_n omega_n s + omega_n^2

(circuits on one lead each with at most one state of their own). Every mode has a root next to its own pole; a
circuit with a state adds one. Newton steps on the characteristic polynomial prod d_n prod (s + F) det M, whose
logarithm grows by sum d_n'/d_n + sum 1/(s + F) + tr(M^-1 M'), with the circuits' own roots kept apart from the
others (Aberth 1973), settle all of them together. The dielectric's conductance is taken at the frequency of the
mode a pole belongs to.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from core.circuit.states import live_ports
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEPS = 30
SETTLED = 1e-13
HAIR = 1e-15


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
    """The equation of P layouts, G live ports, K states of circuits (modes first in the order of the roots).

    omega, twice_zeta_omega : (P, 1, N); theta : (P, N, G); products : (P, N, G G); capacitance, loss : (P, 1, G, G);
    leak : (P, 1, G); rate, coupling2 : (P, 1, K) F and c^2; port : (K,) on which each state hangs.
    """

    omega: Array
    twice_zeta_omega: Array
    theta: Array
    products: Array
    capacitance: Array
    loss: Array
    leak: Array
    rate: Array
    coupling2: Array
    port: NDArray[np.intp]

    @property
    def ports(self) -> int:
        return self.theta.shape[-1]

    def of_modes(self, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """d_n and its derivative (P, R, N)."""
        z = s[..., None]
        d = z * (z + self.twice_zeta_omega) + self.omega**2
        return np.where(d == 0.0, 1e-300, d), 2.0 * z + self.twice_zeta_omega

    def of_circuits(self, s: ComplexArray, loss_rad_s: Array) -> tuple[ComplexArray, ComplexArray]:
        """(P, R, G, G) M and M' without the modes."""
        z = s[..., None, None]
        value = z * self.capacitance + loss_rad_s[..., None, None] * self.loss
        rise = self.capacitance + 0.0 * z
        every = np.arange(self.ports)
        value[..., every, every] += self.leak
        inverse = 1.0 / (s[..., None] + self.rate)
        y = self.coupling2 * inverse
        for k, port in enumerate(self.port.tolist()):
            value[..., port, port] += y[..., k]
            rise[..., port, port] -= y[..., k] * inverse[..., k]
        return value, rise

    def terms(self, s: ComplexArray, loss_rad_s: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """M (P, R, G, G), d_n (P, R, N) and the growth of the polynomial's logarithm (P, R)."""
        d, slope = self.of_modes(s)
        inverse = 1.0 / d
        turned = slope * inverse
        count = s.shape[-1]
        sums = np.concatenate([inverse, turned * inverse], axis=-2) @ self.products
        sums = sums.reshape(*sums.shape[:-1], self.ports, self.ports)
        total, falling, z = sums[..., :count, :, :], sums[..., count:, :, :], s[..., None, None]
        value, rise = self.of_circuits(s, loss_rad_s)
        value += z * total
        rise += total - z * falling
        growth = turned.sum(axis=-1) + (1.0 / (s[..., None] + self.rate)).sum(axis=-1) + _trace(value, rise)
        return value, d, growth

    def only(self, rows: NDArray[np.intp]) -> Secular:
        """Some of the layouts."""
        arrays = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "port"}
        return Secular(**{name: a[rows] for name, a in arrays.items()}, port=self.port)


def _trace(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """tr(a^-1 b)."""
    if a.shape[-1] == 1:
        return np.asarray(b[..., 0, 0] / a[..., 0, 0])
    if a.shape[-1] == 2:
        (p, q), (r, t) = ((a[..., i, 0], a[..., i, 1]) for i in range(2))
        crossed = p * b[..., 1, 1] + t * b[..., 0, 0] - q * b[..., 1, 0] - r * b[..., 0, 1]
        return np.asarray(crossed / (p * t - q * r))
    return np.asarray(np.trace(_over(a, b), axis1=-2, axis2=-1))


def _over(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """a^-1 b of (..., G, G). A step may come to rest exactly on a root, where a is singular: a hair beside it the answer
    is as large as it must be."""
    try:
        return np.linalg.solve(a, b).astype(complex, copy=False)
    except np.linalg.LinAlgError:
        hair = HAIR * np.maximum(np.abs(a).max(axis=(-1, -2), keepdims=True), 1e-300)
        return np.linalg.solve(a + hair * np.eye(a.shape[-1]), b).astype(complex, copy=False)


def _without_force(a: ComplexArray) -> ComplexArray:
    """(..., G) voltages V with a V = 0 of symmetric matrices that are all but singular."""
    if a.shape[-1] == 1:
        return np.ones(a.shape[:-1], dtype=complex)
    if a.shape[-1] == 2:
        first = np.stack([a[..., 1, 1], -a[..., 1, 0]], axis=-1)
        second = np.stack([-a[..., 0, 1], a[..., 0, 0]], axis=-1)
        larger = np.abs(first).max(axis=-1) >= np.abs(second).max(axis=-1)
        return np.where(larger[..., None], first, second)
    return np.asarray(np.linalg.eigh(np.conj(np.swapaxes(a, -1, -2)) @ a)[1][..., 0])


def secular_of(system: CoupledSystem) -> Secular | None:
    """The equation of a system with leading axis P; None where its circuits are not of the form above."""
    live, count, n = live_ports(system), system.lead[0], system.n_modes
    if not live:
        return None
    leak = np.zeros((count, 1, len(live)))
    states: list[tuple[int, Array, Array]] = []
    for i, connection in enumerate(system.connections):
        port, leads = connection.port(), system.leads(i)
        if port.short:
            continue
        skew = not port.states or np.array_equal(port.back, np.swapaxes(port.coupling, -1, -2))
        if len(leads) > 1 or port.dampers is not None or port.states > 1 or not skew:
            return None
        at = live.index(leads[0])
        leak[:, 0, at] += port.conductance_s[..., 0, 0] + connection.instrument_s
        if port.states:
            states.append((at, port.damping[..., 0, 0], port.coupling[..., 0, 0] ** 2))

    def stacked(a: Array, *own: int) -> Array:
        return np.broadcast_to(a, (count, *own))

    theta = stacked(system.theta[..., live], n, len(live))
    block = np.array(live)[:, None], live
    square = (len(live), len(live))
    rate, coupling2 = np.zeros((count, 1, len(states))), np.zeros((count, 1, len(states)))
    for k, (_, damping, strength) in enumerate(states):
        rate[:, 0, k], coupling2[:, 0, k] = damping, strength
    return Secular(
        omega=stacked(system.omega_rad_s, n)[:, None],
        twice_zeta_omega=stacked(2.0 * system.zeta * system.omega_rad_s, n)[:, None],
        theta=theta,
        products=(theta[..., :, None] * theta[..., None, :]).reshape(count, n, -1),
        capacitance=stacked(system.capacitance_f[..., *block], *square)[:, None],
        loss=stacked(system.loss_f[..., *block], *square)[:, None],
        leak=leak,
        rate=rate,
        coupling2=coupling2,
        port=np.array([k for k, _, _ in states], dtype=np.intp),
    )


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def roots_of(system: CoupledSystem) -> Roots | None:
    """Of many layouts, kept with them; None where their circuits are not of the form of the equation."""
    if "roots" not in system.kept:
        equation = secular_of(system)
        system.kept["roots"] = None if equation is None else roots(equation)
    found: Roots | None = system.kept["roots"]
    return found


def roots(equation: Secular) -> Roots:
    """All poles with positive imaginary part."""
    omega = equation.omega[:, 0]
    s, loss_at = _start(equation)
    s, good = _newton(equation, s, loss_at)
    dominant, share = _participation(equation, s, loss_at)
    own = np.take_along_axis(omega, dominant, axis=1)
    if equation.loss.any() and not np.array_equal(own, loss_at):
        s, good = _newton(equation, s, own)
    good &= (s.imag > -1e-9 * np.abs(s)) | ~np.isfinite(s)
    if equation.ports > 1:
        # Several circuits have real poles of their own: one found may stand in the place of a pair that swings.
        good &= s.imag > 1e-7 * np.abs(s)
    n = omega.shape[1]
    order = np.sort(s[:, :n].imag, axis=1)
    good[:, :n] &= (np.diff(order, axis=1).min(axis=1, initial=np.inf) > 1e-9 * order[:, -1])[:, None]
    return Roots(s, dominant, share, np.asarray(good.all(axis=1)))


def _start(equation: Secular) -> tuple[ComplexArray, Array]:
    """Where to begin, and the frequency each pole's dielectric loss is taken at: the mode's own pole
    moved by what the circuits' admittance there does to first order, and the circuits'."""
    omega, theta = equation.omega[:, 0], equation.theta
    s = omega * (-0.5 * equation.twice_zeta_omega[:, 0] / omega + 1j)
    own = np.diagonal(equation.capacitance[:, 0], axis1=-2, axis2=-1)
    strength = np.abs(theta) / np.sqrt(np.abs(own))[:, None] / omega[..., None]
    if equation.ports == 1:
        shift = -0.5 * theta[..., 0] ** 2 / equation.of_circuits(s, omega)[0][..., 0, 0]
    else:
        answer = _over(equation.of_circuits(s, omega)[0], theta[..., None].astype(complex))[..., 0]
        shift = -0.5 * (theta * answer).sum(axis=-1)
    limit = 0.4 * np.sqrt((strength**2).sum(axis=-1)) * omega
    s = s + shift * np.minimum(1.0, limit / np.maximum(np.abs(shift), 1e-300)) + 1e-12j * omega
    starts, losses = [s], [omega]
    for k, port in enumerate(equation.port.tolist()):
        c, rate = own[:, port, None], equation.rate[..., k]
        electrical = np.sqrt(equation.coupling2[..., k] / c)
        leak = equation.leak[..., port] + equation.loss[:, 0, port, port, None] * electrical
        damped = np.minimum(0.5 * (rate + leak / c), 0.95 * electrical)
        e = -damped + 1j * np.sqrt(electrical**2 - damped**2)
        nearest = np.abs(np.log(omega / electrical)).argmin(axis=1)[:, None]
        # Next to a mode the two start on either side of where they would meet, a second circuit further out.
        mode, near_by = (np.take_along_axis(v, nearest, axis=1) for v in (omega, strength[..., port]))
        near = np.abs(electrical / mode - 1.0) < near_by
        middle, aside = mode * (1j - 0.25 * near_by), 0.2 * (1.0 + 0.7 * k) * near_by * mode * (1.0 - 0.3j)
        starts[0] = np.where(near & (np.arange(omega.shape[1]) == nearest), middle + aside, starts[0])
        starts.append(np.where(near, middle - aside, e))
        losses.append(mode)
    return np.concatenate(starts, axis=1).astype(complex), np.concatenate(losses, axis=1)


def _newton(equation: Secular, s: ComplexArray, loss_rad_s: Array) -> tuple[ComplexArray, NDArray[np.bool_]]:
    """Roots from a start; (P, R) which settled."""
    n = equation.omega.shape[-1]
    good = np.zeros(s.shape, dtype=bool)
    rows = np.arange(len(s))
    for _ in range(STEPS):
        part = equation if len(rows) == len(s) else equation.only(rows)
        here = s[rows]
        pull = part.terms(here, loss_rad_s[rows])[2]
        for e in range(n, here.shape[1]):
            apart = 1.0 / (here[:, :e] - here[:, e, None])
            pull[:, :e] -= apart
            pull[:, e] += apart.sum(axis=1)
        step = 1.0 / pull
        step = np.where(np.isfinite(step), step, 0.0)
        size = np.abs(here)
        step = step * np.minimum(1.0, 0.3 * size / np.maximum(np.abs(step), 1e-300))
        s[rows] = here - step
        good[rows] = np.abs(step) <= SETTLED * size
        rows = rows[~good[rows].all(axis=1)]
        if not len(rows):
            break
    if good.all():
        return s, good
    # Poles that all but meet settle to the square root of rounding.
    value, d, _ = equation.terms(s, loss_rad_s)
    own = np.diagonal(equation.capacitance, axis1=-2, axis2=-1)
    most = np.abs(s)[..., None] * (own + (1.0 / np.abs(d)) @ equation.theta**2)
    return s, good | (np.abs(np.linalg.det(value)) <= 1e-12 * most.prod(axis=-1))


def _participation(equation: Secular, s: ComplexArray, loss_rad_s: Array) -> tuple[NDArray[np.intp], Array]:
    """The mode that holds most of each pole's mechanical energy, and the share that is mechanical."""
    value, d, _ = equation.terms(s, loss_rad_s)
    voltage = _without_force(value)
    stored = (np.conj(voltage) * (equation.capacitance @ voltage[..., None])[..., 0]).sum(axis=-1).real
    push = voltage @ np.swapaxes(equation.theta, -1, -2)
    floor = 1e-26 * np.abs(stored)[..., None] * equation.omega**2
    size2 = np.maximum(d.real**2 + d.imag**2, 1e-300)
    energy = (np.abs(s[..., None]) ** 2 + equation.omega**2) * (push.real**2 + push.imag**2 + floor) / size2
    current = voltage[..., equation.port] / (s[..., None] + equation.rate)
    electric = stored + (equation.coupling2 * (current.real**2 + current.imag**2)).sum(axis=-1)
    total = energy.sum(axis=-1)
    return energy.argmax(axis=-1), total / (total + electric)
