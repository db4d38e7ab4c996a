"""The general-purpose route to one drag step: library finite elements and dense algebra.

What an engineer without this program would write with kept libraries: cubic Hermite elements
of scikit-fem, `scipy.sparse.linalg.eigsh` at short and at open circuit, patch coupling from the
curvature integral, a resistor tuned by the closed form, the poles of every mode from
`numpy.linalg.eigvals` with the dielectric loss at that mode, and a 400-point response by solving
the coupled system at each frequency. Reference for speed and for accuracy; it knows nothing of
the core.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import eigsh, splu
from skfem import BilinearForm, CellBasis, ElementLineHermite, LinearForm, MeshLine
from skfem.helpers import dd, ddot

Function = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class PatchedBeam:
    """A beam with one electrode, given by functions of x [m].

    `breaks_m` lists the ends and every place where a function jumps or bends; nodes lie there.
    `held` names the degrees of freedom fixed at x = 0 and at the tip, any of "u" (deflection)
    and "u_x" (slope). `attachments` are (x, mass, rotary inertia, k_t, k_r); each x is a break.
    """

    breaks_m: tuple[float, ...]
    ei_nm2: Function
    mass_kg_m: Function
    g_nm_v: Function
    blocked_capacitance_f: float
    tan_delta: float = 0.0
    held: tuple[tuple[str, ...], tuple[str, ...]] = (("u", "u_x"), ())
    attachments: tuple[tuple[float, float, float, float, float], ...] = ()


@dataclass(frozen=True)
class HermiteResult:
    """Frequencies and K^2 (n,), modal coupling (n,) [N/V], static free capacitance [F], the tuned
    resistance [ohm], poles [rad/s] per mode looked at (n, 2n + 1), and the tip receptance [m/N]
    over `frequency_hz` with the patch shorted and with the resistor."""

    omega_rad_s: np.ndarray
    theta: np.ndarray
    k2: np.ndarray
    free_capacitance_f: float
    resistance_ohm: float
    poles_rad_s: np.ndarray
    frequency_hz: np.ndarray
    shorted: np.ndarray
    receptance: np.ndarray


def solve(beam: PatchedBeam, *, elements: int = 100, modes: int = 8, zeta: float = 0.003,
          tuned_mode: int = 1, points: int = 400) -> HermiteResult:
    """All quantities of one drag step: modes, coupling, tuned resistor, poles, response."""
    basis, stiffness, mass, load = _assemble(beam, elements)
    moving = basis.complement_dofs(_held(basis, beam))
    k, m, b = stiffness[moving][:, moving].tocsc(), mass[moving][:, moving].tocsc(), load[moving]
    omega, phi = _modes(k, m, modes)
    opened = k + csc_matrix(np.outer(b, b) / beam.blocked_capacitance_f)
    k2 = (_modes(opened, m, modes)[0] ** 2 - omega**2) / omega**2
    theta = phi.T @ b
    free = beam.blocked_capacitance_f + b @ splu(k).solve(b)
    corrected = free - np.sum(theta**2 / omega**2)
    n = tuned_mode - 1
    modal_capacitance = theta[n] ** 2 / (k2[n] * omega[n] ** 2)
    resistance = 1 / (modal_capacitance * omega[n]) * (1 + k2[n]) ** -0.75
    at_tip = moving == basis.get_dofs(_at(beam.breaks_m[-1])).all("u")[0]
    tip = at_tip @ phi  # zero where the tip is held
    frequency = np.geomspace(0.3 * omega[0], 1.2 * omega[-1], points) / (2 * np.pi)
    loss = beam.blocked_capacitance_f * beam.tan_delta
    circuit = (theta, corrected, resistance, zeta)
    poles = np.array([_poles(omega, *circuit, w * loss) for w in omega])
    before, after = _responses(omega, *circuit, loss, tip, 2 * np.pi * frequency)
    return HermiteResult(omega, theta, k2, float(free), float(resistance), poles, frequency, before, after)


@BilinearForm
def _bending(u, v, w):
    return w.ei * ddot(dd(u), dd(v))


@BilinearForm
def _inertia(u, v, w):
    return w.m * u * v


@LinearForm
def _moment(v, w):
    return w.g * dd(v)[0, 0]


def _assemble(beam: PatchedBeam, elements: int):
    breaks = np.array(beam.breaks_m)
    cells = np.maximum(1, np.round(np.diff(breaks) / breaks[-1] * elements).astype(int))
    nodes = np.concatenate([np.linspace(a, b, n, endpoint=False) for a, b, n in
                            zip(breaks[:-1], breaks[1:], cells, strict=True)] + [breaks[-1:]])
    basis = CellBasis(MeshLine(nodes), ElementLineHermite(), intorder=8)
    x = basis.global_coordinates()[0]
    stiffness = _bending.assemble(basis, ei=beam.ei_nm2(x)).tolil()
    mass = _inertia.assemble(basis, m=beam.mass_kg_m(x)).tolil()
    for x_m, body, inertia, k_t, k_r in beam.attachments:
        u, u_x = (int(basis.get_dofs(_at(x_m)).all(name)[0]) for name in ("u", "u_x"))
        mass[u, u] += body
        mass[u_x, u_x] += inertia
        stiffness[u, u] += k_t
        stiffness[u_x, u_x] += k_r
    return basis, stiffness.tocsc(), mass.tocsc(), _moment.assemble(basis, g=beam.g_nm_v(x))


def _held(basis: CellBasis, beam: PatchedBeam) -> np.ndarray:
    ends = zip((beam.breaks_m[0], beam.breaks_m[-1]), beam.held, strict=True)
    held = [basis.get_dofs(_at(x)).all(name) for x, names in ends for name in names]
    return np.concatenate(held) if held else np.array([], dtype=int)


def _at(x_m: float):
    return lambda x: np.isclose(x[0], x_m, rtol=0, atol=1e-12)


def _modes(k, m, count: int) -> tuple[np.ndarray, np.ndarray]:
    """omega [rad/s] and mass-normalised shapes, lowest first."""
    values, phi = eigsh(k, k=count, M=m, sigma=0.0, v0=np.ones(k.shape[0]))
    order = np.argsort(values)
    return np.sqrt(values[order]), phi[:, order]


def _poles(omega, theta, capacitance, resistance, zeta, leak):
    n = len(omega)
    a = np.zeros((2 * n + 1, 2 * n + 1))
    a[:n, n:2 * n] = np.eye(n)
    a[n:2 * n, :n] = -np.diag(omega**2)
    a[n:2 * n, n:2 * n] = -np.diag(2 * zeta * omega)
    a[n:2 * n, -1] = -theta
    a[-1, n:2 * n] = theta / capacitance
    a[-1, -1] = -(1 / resistance + leak) / capacitance
    return np.linalg.eigvals(a)


def _responses(omega, theta, capacitance, resistance, zeta, loss, tip, forcing):
    before, after = np.empty(len(forcing), dtype=complex), np.empty(len(forcing), dtype=complex)
    n = len(omega)
    for i, w in enumerate(forcing):
        a = np.zeros((n + 1, n + 1), dtype=complex)
        a[:n, :n] = np.diag(omega**2 - w**2 + 2j * zeta * omega * w)
        a[:n, n] = theta
        a[n, :n] = -1j * w * theta
        a[n, n] = 1j * w * capacitance + w * loss + 1 / resistance
        before[i] = tip @ (tip / np.diag(a)[:n])
        after[i] = tip @ np.linalg.solve(a, np.append(tip, 0.0))[:n]
    return before, after
