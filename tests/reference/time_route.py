"""Strain of the ceramics and voltage of one group over time, by finite elements and time steps.

The section is written anew (`lamination`), cubic Hermite elements give the modes, and an
explicit Runge-Kutta method of order 8 with error control integrates modes, capacitance and circuit
together. Curvature is taken at the elements' Gauss points, where cubic elements are best, and
continued to the ends. Knows the saved values and nothing else of the core.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import eigh

from core.project.candidate import Candidate
from core.project.model import Project
from tests.reference import hermite_route
from tests.reference.lamination import Lamination

ELEMENTS, MODES = 60, 12


@dataclass(frozen=True)
class Pulse:
    """F(t) = height sin(pi t/duration) while it lasts; or a step of `height` (duration None)."""

    height: float
    duration_s: float | None


@dataclass(frozen=True)
class Found:
    """Lowest and highest strain of every ceramic (on any side, anywhere along it) and voltage of the
    group, and the energy [J] the resistor took."""

    strain: list[tuple[float, float]]
    voltage: tuple[float, float]
    energy_j: float


def integrate(
    project: Project,
    candidate: Candidate,
    *,
    release: tuple[float, float] | None = None,
    pulse: Pulse | None = None,
    at_m: float | None = None,
    resistance_ohm: float = np.inf,
    inductance_h: float = 0.0,
    zeta: float = 0.003,
    cycles: float = 2.2,
) -> Found:
    """`release` = (deflection, x): let go from a static bend; `pulse` at `at_m`, or of the base (None).

    resistance_ohm inf: open leads, 0: shorted; with an inductance the two are in series.
    """
    model = _Model(project, candidate, release[1] if release else at_m)
    omega, theta, push, charge = model.omega, model.theta, model.push, model.charge
    corrected, free, load, stiff = model.corrected, model.free, model.load, model.stiff
    leak = omega[0] * model.loss

    def force(t):
        if pulse is None:
            return 0.0, 0.0
        if pulse.duration_s is None:
            return pulse.height, 0.0
        a = np.pi / pulse.duration_s
        on = t < pulse.duration_s
        return on * pulse.height * np.sin(a * t), on * pulse.height * a * np.cos(a * t)

    def rate(t, x):
        q, v, volt, current = x[:MODES], x[MODES : 2 * MODES], x[-3], x[-2]
        f, growth = force(t)
        if resistance_ohm == 0 and not inductance_h:
            return np.concatenate([v, push * f - omega**2 * q - 2 * zeta * omega * v, [0.0, 0.0, 0.0]])
        if inductance_h:
            into = current
        else:
            into = 0.0 if np.isinf(resistance_ohm) else volt / max(resistance_ohm, 1e-300)
        acceleration = push * f - omega**2 * q - 2 * zeta * omega * v - theta * volt
        heat = resistance_ohm * into**2 if np.isfinite(resistance_ohm) else 0.0
        return np.concatenate([
            v, acceleration,
            [(theta @ v + charge * growth - into - leak * volt) / corrected,
             (volt - resistance_ohm * current) / inductance_h if inductance_h else 0.0, heat],
        ])  # fmt: skip

    start = np.zeros(2 * MODES + 3)
    size = 0.0
    static_volt = 0.0
    if release:
        opened = np.isinf(resistance_ohm)
        total = load @ stiff[:, 1]
        size = release[0] / (load @ stiff[:, 0] - (total**2 / free if opened else 0.0))
        static_volt = size * total / free if opened else 0.0
        start[:MODES] = (push * size - theta * static_volt) / omega**2
        start[-3] = static_volt - charge * size / corrected
    if pulse and pulse.duration_s is None:
        start[-3] = charge * pulse.height / corrected
    if resistance_ohm == 0 and not inductance_h:
        start[-3] = 0.0
    period = 2 * np.pi / omega[0]
    end = cycles * period + (pulse.duration_s or 0.0 if pulse else 0.0)
    t = np.arange(0.0, end, 2 * np.pi / omega[7] / 16)
    y = solve_ivp(rate, (0.0, t[-1]), start, "DOP853", t_eval=t, rtol=1e-6, atol=1e-10).y
    q, volt = y[:MODES], y[-3]
    loads = np.array([force(x)[0] for x in t])
    still = np.array([size, static_volt])
    strains = []
    for modal, by_load, by_volt, static, stretch in model.sides():
        moved = modal @ q + np.outer(by_load, loads) + np.outer(by_volt + stretch, volt)
        held = static @ still + stretch * static_volt
        strains.append((min(moved.min(), held.min()), max(moved.max(), held.max())))
    volts = np.append(volt, static_volt)
    return Found(
        [(float(min(s[0] for s in pair)), float(max(s[1] for s in pair)))
         for pair in zip(strains[::2], strains[1::2], strict=True)],
        (float(volts.min()), float(volts.max())), float(y[-1, -1]),
    )  # fmt: skip


def tuned_mass(
    project: Project, candidate: Candidate, mass_kg: float, frequency_hz: float, damping_ratio: float,
    *, pulse: Pulse, at_m: float | None = None, zeta: float = 0.003, cycles: float = 4.0,
) -> tuple[float, float, float]:  # fmt: skip
    """(lowest, highest) motion of a mass on a spring and a damper at the tip against it, and the energy [J] its
    damper took; the pulse at `at_m`, or of the base (None); the patch shorted."""
    model = _Model(project, candidate, at_m)
    phi = model.phi.T @ _load(model.basis, None, model.moving, project.structure.span_m)
    w = 2 * np.pi * frequency_hz
    k, c = mass_kg * w**2, 2 * damping_ratio * mass_kg * w

    def rate(t, x):
        q, v, e, speed = x[:MODES], x[MODES : 2 * MODES], x[-3], x[-2]
        push = 0.0
        if pulse.duration_s is None:
            push = pulse.height
        elif t < pulse.duration_s:
            push = pulse.height * np.sin(np.pi * t / pulse.duration_s)
        force = k * e + c * speed
        acceleration = model.push * push + phi * force - model.omega**2 * q - 2 * zeta * model.omega * v
        base = push if at_m is None else 0.0
        return np.concatenate([v, acceleration, [speed, -force / mass_kg - base - phi @ acceleration, c * speed**2]])

    end = cycles * 2 * np.pi / model.omega[0]
    t = np.linspace(0.0, end, 3000)
    step = (pulse.duration_s or end) / 20
    y = solve_ivp(rate, (0.0, end), np.zeros(2 * MODES + 3), "DOP853", t_eval=t, rtol=1e-7, atol=1e-12, max_step=step).y
    return float(y[-3].min()), float(y[-3].max()), float(y[-1, -1])


def random_motion(
    project: Project, candidate: Candidate, density, band_hz: tuple[float, float], resistance_ohm: float,
    zeta: float = 0.003, points: int = 40_001,
) -> tuple[float, float, float]:  # fmt: skip
    """Root mean square of the largest strain of the first ceramic and of the voltage, and the mean power
    in the resistor, under base acceleration of a one-sided density (m/s^2)^2/Hz: trapezia on a fine grid."""
    model = _Model(project, candidate, None)
    hertz = np.unique(np.concatenate([
        np.geomspace(*band_hz, points),
        *[f * (1 + zeta * np.linspace(-60, 60, 6001)) for f in model.omega / (2 * np.pi)],
    ]))  # fmt: skip
    hertz = hertz[(hertz >= band_hz[0]) & (hertz <= band_hz[1])]
    w = 2 * np.pi * hertz[:, None]
    flexibility = 1 / (model.omega**2 - w**2 + 2j * zeta * model.omega * w)
    s = 1j * w[:, 0]
    charge = (flexibility * model.push) @ model.theta + model.charge
    inner = model.corrected + flexibility @ model.theta**2
    volt = s * charge / (s * inner + w[:, 0] * model.loss + 1 / resistance_ohm)
    q = flexibility * (model.push - np.outer(volt, model.theta))
    level = density(hertz)

    def mean_square(values):
        f = np.abs(values) ** 2 * level
        return float(np.sum(0.5 * (f[1:] + f[:-1]) * np.diff(hertz)))

    most = 0.0
    for modal, by_load, by_volt, _, stretch in model.sides()[:2]:
        for m, f, v in zip(modal, by_load, by_volt + stretch, strict=True):
            most = max(most, mean_square(q @ m + f + v * volt))
    return most**0.5, mean_square(volt) ** 0.5, mean_square(volt) / resistance_ohm


class _Model:
    """Finite elements, modes, load and static answers of one candidate with one group."""

    def __init__(self, project: Project, candidate: Candidate, at_m: float | None) -> None:
        self.section = Lamination(project, candidate)
        beam = self.section.as_beam()
        basis, k, m, b = hermite_route._assemble(beam, ELEMENTS)
        moving = basis.complement_dofs(hermite_route._held(basis, beam))
        k, m, b = k[moving][:, moving].toarray(), m[moving][:, moving].toarray(), b[moving]
        values, phi = eigh(k, m, subset_by_index=(0, MODES - 1))
        self.omega, self.theta = np.sqrt(values), phi.T @ b
        self.phi, self.moving = phi, moving
        self.load = _load(basis, m, moving, at_m)
        self.stiff = np.linalg.solve(k, np.stack([self.load, b], axis=1))
        self.free = beam.blocked_capacitance_f + b @ self.stiff[:, 1]
        self.corrected = self.free - np.sum(self.theta**2 / self.omega**2)
        self.push = phi.T @ self.load
        self.charge = self.load @ self.stiff[:, 1] - np.sum(self.push * self.theta / self.omega**2)
        self.loss = beam.blocked_capacitance_f * beam.tan_delta
        rest = self.stiff - phi @ (np.stack([self.push, self.theta], axis=1) / (self.omega**2)[:, None])
        self.basis, self.shape = basis, np.zeros((basis.N, MODES + 4))
        self.shape[moving] = np.hstack([phi, rest, self.stiff])

    def sides(self):
        """Per side of each ceramic its strain (P places): per mode, by the truncated modes per load and
        per volt, in the static bend per load and per volt, and the stretch of the section per volt."""
        out = []
        for plate in self.section.plates:
            x, curvature = _curvature(self.basis, self.shape, plate.x_a, plate.x_b)
            a1, z_n = (np.asarray(v) for v in self.section._section(x)[:2])
            low = plate.below_ceramic
            low = self.section._top(x) + low if plate.on_top else -low * np.ones_like(x)
            thick = plate.package.ceramic_thickness_m * (1 if plate.on_top else -1)
            stretch = plate.e31 * plate.patch.width_m / a1 * plate.sign
            for height in (low, low + thick):
                c = -(height - z_n)[:, None] * curvature
                static = np.stack([c[:, MODES + 2], -c[:, MODES + 3]], axis=1)
                out.append((c[:, :MODES], c[:, MODES], -c[:, MODES + 1], static, stretch))
        return out


def _load(basis, m, moving, at_m):
    if at_m is None:
        rigid = np.zeros(basis.N)
        for x in basis.mesh.p[0]:
            rigid[basis.get_dofs(hermite_route._at(float(x))).all("u")[0]] = 1.0
        return -m @ rigid[moving]
    dof = basis.get_dofs(hermite_route._at(at_m)).all("u")[0]
    return (moving == dof).astype(float)


def _curvature(basis, shape, a, b):
    """(x, curvature) at the Gauss points of the elements from a to b and continued to their ends."""
    nodes = np.sort(basis.mesh.p[0])
    points, rows = [], []
    for left, right in pairwise(nodes):
        if not (left > a - 1e-9 and right < b + 1e-9):
            continue
        h = right - left
        dofs = []
        for x in (left, right):
            at = basis.get_dofs(hermite_route._at(float(x)))
            dofs += [at.all("u")[0], at.all("u_x")[0]]
        nodal = shape[dofs]

        def at(s, nodal=nodal, h=h):
            w = np.array([12 * s - 6, h * (6 * s - 4), 6 - 12 * s, h * (6 * s - 2)]) / h**2
            return w @ nodal

        gauss = 0.5 - 0.5 / np.sqrt(3)
        first, second = at(gauss), at(1 - gauss)
        slope = (second - first) / (1 - 2 * gauss)
        for s in (1e-9, gauss, 1 - gauss, 1 - 1e-9):
            points.append(left + s * h)
            rows.append(first + (s - gauss) * slope)
    return np.array(points), np.array(rows)
