"""What a circuit meets at the leads of its group: the admittance of structure, dielectric and the rest.

    Y(s) = s (C + sum theta_n^2/d_n(s)) + omega C tan(delta) + the instrument's conductance

with the other groups' circuits in place, and its first two derivatives along s. Leading axes are layouts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuit.states import live_ports
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEP = 1e-3
"""Relative step of differences of a circuit's immittance, a polynomial."""


class Source:
    """What the circuit of one group meets, prepared for many s.

    The pair (a, b) of a circuit of one branch on one lead is at most quadratic in s, so that three values tell it once and for all.
    """

    def __init__(self, system: CoupledSystem, group: int) -> None:
        # The group's own port first, then what else is not shorted.
        ports = np.array([group, *(p for p in live_ports(system) if p != group)])
        self._take(system, ports)
        self._joined: list[tuple[NDArray[np.intp], Connection]] = []
        place = {int(p): k for k, p in enumerate(ports)}
        single: list[tuple[int, ComplexArray]] = []
        for i, connection in enumerate(system.connections):
            leads = [place[p] for p in system.leads(i) if p in place]
            if not leads:
                continue
            self._leak[leads[0]] += connection.instrument_s
            # what is joined to the group besides its own circuit is met, too
            if connection.port().short or (0 in leads and (i == group or len(leads) == 1)):
                continue
            if len(leads) > 1 or connection.kind.branches > 1:
                self._joined.append((np.array(leads), connection))
            else:
                single.append((leads[0], connection.polynomials))
        self._at = np.array([k for k, _ in single], dtype=np.intp)
        # (3, 2, ..., m): coefficients of 1, s, s^2 of a and b of the circuits on one lead.
        self._pairs = np.stack(_alike([c for _, c in single]), axis=-1) if single else None

    def _take(self, system: CoupledSystem, ports: NDArray[np.intp]) -> None:
        """What does not depend on the circuits, at the ports (m,), or at others in every row (rows, m)."""
        omega = system.omega_rad_s
        self._damped, self._square = 2.0 * system.zeta * omega, omega**2
        block: tuple[Any, ...] = (ports[..., :, None], ports[..., None, :])
        if ports.ndim > 1:
            row = np.arange(len(ports))[:, None]
            theta = np.take_along_axis(system.theta, ports[:, None, :], axis=-1)
            block = (row[..., None], *block)
        else:
            theta = system.theta[..., ports]
            block = (..., *block)
        self._theta, self._capacitance, self._loss = theta, system.capacitance_f[block], system.loss_f[block]
        self._products = (theta[..., :, None] * theta[..., None, :]).reshape(*theta.shape[:-1], -1)
        self._leak: Array = np.zeros(ports.shape)

    @np.errstate(divide="ignore", invalid="ignore")
    def __call__(self, s: ComplexArray, loss_omega_rad_s: Array) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Y, Y' and Y'' at s (...), one per layout; the dielectric loss taken at a frequency of its own."""
        z = s[..., None]
        d1 = 2.0 * z + self._damped
        inverse = 1.0 / (z * (z + self._damped) + self._square)
        slope = d1 * inverse
        # 1/d, (1/d)', (1/d)'' of every mode
        weight: ComplexArray = np.empty((*s.shape, 3, inverse.shape[-1]), dtype=complex)
        weight[..., 0, :], weight[..., 1, :], weight[..., 2, :] = inverse, -slope * inverse, 2.0 * (slope * slope - inverse) * inverse
        a = (weight @ self._products).reshape(*s.shape, 3, *self._capacitance.shape[-2:])
        z, loss = s[..., None, None], np.asarray(loss_omega_rad_s)[..., None, None] * self._loss
        whole = self._capacitance + a[..., 0, :, :]
        each = [z * whole + loss, whole + z * a[..., 1, :, :], 2.0 * a[..., 1, :, :] + z * a[..., 2, :, :]]
        if self._leak.shape[-1] == 1:
            return each[0][..., 0, 0] + self._leak[..., 0], each[1][..., 0, 0], each[2][..., 0, 0]
        for matrix, own in zip(each, self._single(s), strict=True):
            matrix[..., self._at, self._at] += own
        for at, connection in self._joined:
            for matrix, own in zip(each, _circuit(connection, s), strict=True):
                matrix[..., at[:, None], at] += own
        every = np.arange(self._leak.shape[-1])
        each[0][..., every, every] += self._leak
        return _eliminated(each)

    def _single(self, s: ComplexArray) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """(..., m) admittance of the circuits on one lead, and its first two derivatives."""
        if self._pairs is None:
            none = np.zeros((*s.shape, 0), dtype=complex)
            return none, none, none
        z, pairs = s[..., None], self._pairs
        # circuits of one value serve every layout
        c0, c1, c2 = pairs.reshape(3, 2, *(1,) * (z.ndim + 2 - pairs.ndim), *pairs.shape[2:])
        (a0, b0), (a1, b1), (a2, b2) = c0 + z * (c1 + z * c2), c1 + 2.0 * z * c2, 2.0 * c2
        y = b0 / a0
        y1 = (b1 - a1 * y) / a0
        return y, y1, (b2 - 2.0 * a1 * y1 - a2 * y) / a0

    @np.errstate(divide="ignore", invalid="ignore")
    def pole_among_others(self, omega: Array, zeta: Array, mode: tuple[Any, ...]) -> ComplexArray:
        """(P,) where a mode's pole lies with the other groups' circuits alone, to first order.

        omega, zeta : (P,) of the mode; mode : index of the mode of every layout.
        """
        s = omega * (1j * np.sqrt(np.maximum(1.0 - zeta**2, 0.0)) - zeta)
        moved, theta, at = s, self._theta[mode], self._at
        if len(at):
            own = s[..., None] * self._capacitance[..., at, at] + omega[..., None] * self._loss[..., at, at]
            y = own + self._leak[..., at] + self._single(s)[0]
            moved = moved - 0.5 * (theta[..., at] ** 2 / y).sum(axis=-1)
        for joined, connection in self._joined:
            block = joined[:, None], joined
            y = s[..., None, None] * self._capacitance[..., *block] + omega[..., None, None] * self._loss[..., *block]
            y = y + np.diag(self._leak[..., joined]) + _circuit(connection, s)[0]
            push = theta[..., joined]
            moved = moved - 0.5 * (push * _over(y, push[..., None].astype(complex))[..., 0]).sum(axis=-1)
        return np.asarray(moved)


class SeveralSources(Source):
    """What the circuits of several groups meet, one row for each group and layout, (K P) rows with the groups first:
    the circuits they meet are told anew as they change."""

    def __init__(self, system: CoupledSystem, groups: list[int]) -> None:
        live, count = live_ports(system), system.lead[0]
        order = np.array([[g, *(p for p in live if p != g)] for g in groups])
        self._others, self._joined = order[:, 1:], []
        self._take(repeated(system, len(groups)), np.repeat(order, count, axis=0))
        self._leak += np.repeat(_instruments(system)[order], count, axis=0)
        self._at = np.arange(1, order.shape[1])
        self._pairs = None

    def meet(self, polynomials: ComplexArray) -> None:
        """Take these circuits, (3, 2, P, ports) coefficients of 1, s, s^2 of their a and b."""
        if len(self._at):
            met = np.moveaxis(polynomials[..., self._others], -2, 2)
            self._pairs = met.reshape(3, 2, -1, met.shape[-1])


def repeated(system: CoupledSystem, times: int) -> CoupledSystem:
    """The layouts of a system with a leading axis so many times, without circuits."""
    count = system.lead[0]

    def rows(a: Array, own: int) -> Array:
        every = np.broadcast_to(a, (count, *a.shape[a.ndim - own :]))
        return np.concatenate([every] * times)

    omega, zeta, theta = rows(system.omega_rad_s, 1), rows(system.zeta, 1), rows(system.theta, 2)
    return CoupledSystem(omega, zeta, theta, rows(system.capacitance_f, 2), rows(system.loss_f, 2), ())


def _instruments(system: CoupledSystem) -> Array:
    """(ports,) conductance of what is connected beside the circuits."""
    out = np.zeros(system.n_ports)
    for i, connection in enumerate(system.connections):
        out[system.leads(i)[0]] += connection.instrument_s
    return out


def _alike(arrays: list[ComplexArray]) -> list[ComplexArray]:
    """Arrays (3, 2) of one layout's circuit and (3, 2, P) of many, as of one shape."""
    if len({a.shape for a in arrays}) == 1:
        return arrays
    most = max(a.ndim for a in arrays)
    return list(np.broadcast_arrays(*(a.reshape(a.shape + (1,) * (most - a.ndim)) for a in arrays)))


def _eliminated(each: list[ComplexArray]) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Of admittances [[A, c^T], [b, D]] and their first two derivatives, with the other groups' voltages x = D^-1 b
    eliminated: Y = A - c^T x and, with y = D^-T c, r = b' - D' x, t = c' - D'^T y,

        Y' = A' - c'^T x - y^T r,   Y'' = A'' - c''^T x - y^T b'' + y^T D'' x - 2 t^T D^-1 r.

    Symmetric where nothing feeds from one group to another: then b = c.
    """
    (a0, b0, _), (a1, b1, d1), (a2, b2, d2) = ((m[..., 0, 0], m[..., 1:, 0], m[..., 1:, 1:]) for m in each)
    c0, c1, c2 = (m[..., 0, 1:] for m in each)
    inverse = np.linalg.inv(each[0][..., 1:, 1:])
    x, y = (inverse @ b0[..., None])[..., 0], (c0[..., None, :] @ inverse)[..., 0, :]
    turned1, turned2 = (d1 @ x[..., None])[..., 0], (d2 @ x[..., None])[..., 0]
    r, t = b1 - turned1, c1 - (y[..., None, :] @ d1)[..., 0, :]
    bent = (inverse @ r[..., None])[..., 0]
    return (
        a0 - (c0 * x).sum(axis=-1),
        a1 - (c1 * x).sum(axis=-1) - (y * r).sum(axis=-1),
        a2 - (c2 * x).sum(axis=-1) + (y * (turned2 - b2) - 2.0 * t * bent).sum(axis=-1),
    )


def _circuit(connection: Connection, s: ComplexArray) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """(..., n, n) admittance of a circuit and its first two derivatives."""
    h = STEP * np.abs(s)
    a, b = connection.pair(np.stack([s - h, s, s + h], axis=-1))
    h = h[..., None, None]

    def along(v: ComplexArray) -> tuple[ComplexArray, ...]:
        before, here, after = v[..., 0, :, :], v[..., 1, :, :], v[..., 2, :, :]
        return here, (after - before) / (2 * h), (after - 2 * here + before) / h**2

    (a0, a1, a2), (b0, b1, b2) = along(a), along(b)
    y = _over(a0, b0)
    y1 = _over(a0, b1 - a1 @ y)
    return y, y1, _over(a0, b2 - 2 * a1 @ y1 - a2 @ y)


def _over(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """a^-1 b of (..., n, n)."""
    return np.asarray(b / a) if a.shape[-1] == 1 else np.linalg.solve(a, b).astype(complex)
