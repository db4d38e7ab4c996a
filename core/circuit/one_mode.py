"""Several circuits or tuned masses of two values each on one mode: all poles that they have with it in one.

One of them damps a mode most where its two poles with it fall together; two have three poles with it, n have n + 1, and what is
damped least is damped most where all of these are one. With G(s) the mode's own d(s) times the determinant of
diag(b) + diag(a) Y over the leads (a I = b V of what hangs there, Y the admittance of structure and dielectric), which is
smooth about the mode, that is

    G = G' = ... = G^(n) = 0,

n + 1 complex equations for the pole and 2 n values, solved by Newton steps. The derivatives are the Taylor coefficients of G
on a circle about the pole (Lyness & Moler 1967, SIAM J. Numer. Anal. 4, 202). One after the other, each at its own two poles, they
stop where neither can gain alone: two shunts on one mode with a quarter less damping.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.source import repeated
from core.circuit.states import live_ports
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

STEPS = 40
SETTLED = 1e-7
POINTS = 16
"""On the circle; what the coefficients lose is the share of the radius to the next singularity to this power."""
TURNED = 0.3
"""Angle of the first: none comes to lie on the pole of a mode without damping."""
RADIUS = 0.5
"""Of the circle over frequency and coupling."""
LOG_STEP = 1e-4
LONGEST_LOG, LONGEST = 0.3, 0.4
"""A step of a logarithm, and of the pole over frequency and coupling, at most."""
APART = 0.6
"""Logarithms over the coupling by which sharp values start apart: those of circuits that are alike would stay so, and there
all poles cannot meet."""


@dataclass(frozen=True)
class OnOneMode:
    """What hangs on connections `index` of many layouts (P,), a port each, tuned on a mode (from 0): `names` of the two values of
    each, `coupling` (P,) the root of their K^2 and mass ratios together."""

    system: CoupledSystem
    index: tuple[int, ...]
    names: tuple[tuple[str, ...], ...]
    mode: int
    coupling: Array

    def tuned(self, start: ComplexArray | None = None) -> tuple[CoupledSystem, Array, ComplexArray, NDArray[np.bool_]]:
        """The layouts with these values where all poles of the mode are one, how far their logarithms went (P, 2 n), the pole (P,),
        and where that was found; elsewhere they stay as they are. From a start (P,) of the pole and the values as they are, or,
        whichever of two circuits is the higher: both ways are gone, and the better one kept."""
        if start is not None:
            s, x, found = self.stepped(start, np.zeros((len(start), 2 * len(self.index))))
        else:
            count = self.system.lead[0]
            twice = replace(repeated(self.system, 2), connections=tuple(_twice(c, count) for c in self.system.connections))
            both = replace(self, system=twice, coupling=np.tile(self.coupling, 2))
            s, x, found = both.stepped(*both._apart(np.repeat([1.0, -1.0], count)))
            ratio = np.where(found, -s.real / np.abs(s), -np.inf).reshape(2, count)
            best = np.arange(count) + count * (ratio[1] > ratio[0])
            s, x, found = s[best], x[best], found[best]
        x = np.where(found[:, None], x, 0.0)
        return self._at(x), x, s, found

    def _at(self, x: Array) -> CoupledSystem:
        system, logs = self.system, x.reshape(len(x), len(self.index), -1)
        for k, i in enumerate(self.index):
            own = system.connections[i].values
            system = system.with_values(i, {n: own[n] * np.exp(logs[:, k, j]) for j, n in enumerate(self.names[k])})
        return system

    @property
    def _omega(self) -> Array:
        return np.broadcast_to(self.system.omega_rad_s, (*self.system.lead, self.system.n_modes))[:, self.mode]

    def _apart(self, sign: Array) -> tuple[ComplexArray, Array]:
        """Pole (P,) and logarithms (P, 2 n) to start from, sharp values apart the way sign (P,) says."""
        n = len(self.index)
        kinds = [self.system.connections[i].kind for i in self.index]
        sharp = np.array([[p.sharp for name in own for p in kind.parameters if p.name == name] for kind, own in zip(kinds, self.names, strict=True)])
        spread = np.linspace(-1.0, 1.0, n)[:, None] * sharp
        return self._omega * (1j - 0.5 * self.coupling), (APART * sign * self.coupling)[:, None] * spread.ravel()

    @np.errstate(all="ignore")
    def stepped(self, s: ComplexArray, x: Array) -> tuple[ComplexArray, Array, NDArray[np.bool_]]:
        """Pole (P,) and logarithms (P, 2 n) where the steps end, and whether they settled."""
        omega, coupling = self._omega, self.coupling
        reach = coupling * omega
        settled = np.zeros(len(omega), dtype=bool)
        for _ in range(STEPS):
            move_s, move_x = self._step(s, x, RADIUS * reach)
            shorten = np.minimum(1.0, LONGEST_LOG / np.maximum(np.abs(move_x).max(axis=1), 1e-300))
            shorten = np.minimum(shorten, LONGEST * reach / np.maximum(np.abs(move_s), 1e-300))
            going = ~settled
            s, x = np.where(going, s + shorten * move_s, s), np.where(going[:, None], x + shorten[:, None] * move_x, x)
            settled |= (np.abs(move_x).max(axis=1) < SETTLED) & (np.abs(move_s) < SETTLED * omega)
            if settled.all():
                break
        near = np.abs(np.abs(s) / omega - 1.0) < np.maximum(2.0 * coupling, 1e-3)
        return s, x, settled & (s.real < 0.0) & near & np.isfinite(x).all(axis=1)

    def _step(self, s: ComplexArray, x: Array, radius: Array) -> tuple[ComplexArray, Array]:
        """Newton step of the pole (P,) and the logarithms (P, 2 n)."""
        n = len(self.index)
        z = s[:, None] + radius[:, None] * np.exp(1j * (TURNED + 2.0 * np.pi * np.arange(POINTS) / POINTS))
        # none of the logarithms moved, each up, each down
        one = LOG_STEP * np.eye(x.shape[1])
        every = self._coefficients(z, x[:, None] + np.concatenate([0.0 * one[:1], one, -one]))
        coefficient, up, down = every[:, 0], every[:, 1 : 1 + x.shape[1]], every[:, 1 + x.shape[1] :]
        scale = np.abs(coefficient[:, n + 1, None])
        value = coefficient[:, : n + 1] / scale
        along = np.arange(1, n + 2) * coefficient[:, 1 : n + 2] / scale
        by_x = np.swapaxes((up - down)[..., : n + 1], 1, 2) / (2.0 * LOG_STEP) / scale[..., None]
        # The pole in units of the radius, so that all columns are of one size.
        columns = np.concatenate([along[..., None], 1j * along[..., None], by_x], axis=-1)
        matrix = np.concatenate([columns.real, columns.imag], axis=1)
        right = np.concatenate([value.real, value.imag], axis=1)
        sound = np.isfinite(matrix).all(axis=(1, 2)) & np.isfinite(right).all(axis=1)
        matrix = np.where(sound[:, None, None], matrix, np.eye(matrix.shape[-1]))
        try:
            move = -np.linalg.solve(matrix, np.where(sound[:, None], right, np.nan)[..., None])[..., 0]
        except np.linalg.LinAlgError:
            move = -(np.linalg.pinv(matrix) @ np.where(sound[:, None], right, np.nan)[..., None])[..., 0]
        return (move[:, 0] + 1j * move[:, 1]) * radius, move[:, 2:]

    def _leads(self, z: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Admittance (P, m, n, n) at the leads of these, everything else in place, and (P, m) what the rest of the determinant is,
        the mode's own d among it."""
        system, live = self.system, live_ports(self.system)
        others = [p for p in live if p not in self.index]
        order = [*self.index, *others]
        omega, zeta = system.omega_rad_s[..., None, :], system.zeta[..., None, :]
        d = z[..., None] * (z[..., None] + 2.0 * zeta * omega) + omega * omega
        theta = system.theta[..., order]
        products = (theta[..., :, None] * theta[..., None, :]).reshape(*theta.shape[:-1], -1)
        sums = ((1.0 / d) @ products).reshape(*z.shape, len(order), len(order))
        stored, lost = (v[:, order][:, :, order][:, None] for v in (system.capacitance_f, system.loss_f))
        y = z[..., None, None] * (stored + sums) + self._omega[:, None, None, None] * lost
        n, rest = len(self.index), d[..., self.mode]
        for k, port in enumerate(order):
            connection = system.connections[port]
            y[..., k, k] += connection.instrument_s
            if k >= n:
                a, b = connection.immittance(z)
                y[..., k, k] += b / a
        if len(order) == n:
            return y, rest
        beyond = y[..., n:, n:]
        inner = y[..., :n, :n] - y[..., :n, n:] @ np.linalg.solve(beyond, y[..., n:, :n])
        return inner, rest * np.linalg.det(beyond)

    def _coefficients(self, z: ComplexArray, x: Array) -> ComplexArray:
        """(P, V, POINTS) Taylor coefficients of G about the circle's middle, in units of its radius, of logarithms (P, V, 2 n)."""
        inner, rest = self._leads(z)
        z, inner = z[:, None], np.broadcast_to(inner[:, None], (*x.shape[:-1], *inner.shape[1:]))
        matrix, logs = np.empty_like(inner), x.reshape(*x.shape[:-1], len(self.index), -1)
        for k, i in enumerate(self.index):
            connection = self.system.connections[i]
            own = {name: np.asarray(v)[..., None, None] for name, v in connection.values.items()}
            own |= {name: own[name] * np.exp(logs[..., k, j, None]) for j, name in enumerate(self.names[k])}
            a, b = connection.kind.immittance(own, z)
            matrix[..., k, :] = np.asarray(a)[..., None] * inner[..., k, :]
            matrix[..., k, k] += b
        found = np.fft.fft(rest[:, None] * np.linalg.det(matrix), axis=-1) / POINTS
        return np.asarray(found * np.exp(-1j * TURNED * np.arange(POINTS)))


def _twice(connection: Connection, count: int) -> Connection:
    """Of many layouts, each twice."""
    values = {n: np.tile(np.broadcast_to(v, (count,)), 2) for n, v in connection.values.items()}
    return replace(connection, values=values)
