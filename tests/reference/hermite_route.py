"""The general-purpose route to one drag step: library finite elements and sparse algebra.

What an engineer without this program would write with kept libraries and care: cubic Hermite
elements of scikit-fem; `scipy.sparse.linalg.eigsh` at short circuit and, for the rank-one stiffer
open circuit, with the same factorised matrix; K^2 from both shapes without subtracting; a resistor
tuned by the closed form; the poles and the damping of every mode from `numpy.linalg.eig` with the
dielectric loss at that mode; a 400-point response with the static share of the modes left out.
Reference for speed and for accuracy; it knows nothing of the core.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem import BilinearForm, CellBasis, ElementLineHermite, LinearForm, MeshLine
from skfem.helpers import dd, ddot

Function = Callable[[np.ndarray], np.ndarray]
MODES_BEYOND = 3


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
    resistance [ohm], poles [rad/s] per mode looked at (n, 2 kept + 1), damping ratios (n,), and the
    tip receptance [m/N] over `frequency_hz` with the patch shorted and with the resistor."""

    omega_rad_s: np.ndarray
    theta: np.ndarray
    k2: np.ndarray
    free_capacitance_f: float
    resistance_ohm: float
    poles_rad_s: np.ndarray
    damping: np.ndarray
    frequency_hz: np.ndarray
    shorted: np.ndarray
    receptance: np.ndarray


def solve(beam: PatchedBeam, *, elements: int = 100, modes: int = 8, zeta: float = 0.003,
          tuned_mode: int = 1, points: int = 400) -> HermiteResult:
    """All quantities of one drag step: modes, coupling, tuned resistor, poles, response.

    `MODES_BEYOND` more modes than asked for are kept in poles and response.
    """
    basis, stiffness, mass, load = _assemble(beam, elements)
    moving = basis.complement_dofs(_held(basis, beam))
    k, m, b = stiffness[moving][:, moving].tocsc(), mass[moving][:, moving].tocsc(), load[moving]
    factor, blocked, kept = splu(k), beam.blocked_capacitance_f, modes + MODES_BEYOND
    softened = factor.solve(b)
    omega, phi = _modes(k, m, kept, factor.solve)
    theta = phi.T @ b
    k2 = _coupling(k, m, b, blocked, factor, softened, phi[:, :modes]) / omega[:modes] ** 2
    free = blocked + b @ softened
    corrected = free - np.sum(theta**2 / omega**2)
    n = tuned_mode - 1
    modal_capacitance = theta[n] ** 2 / (k2[n] * omega[n] ** 2)
    resistance = 1 / (modal_capacitance * omega[n]) * (1 + k2[n]) ** -0.75
    at_tip = (moving == basis.get_dofs(_at(beam.breaks_m[-1])).all("u")[0]).astype(float)
    tip, bent = at_tip @ phi, factor.solve(at_tip)  # zero where the tip is held
    residual = at_tip @ bent - np.sum(tip**2 / omega**2), b @ bent - np.sum(tip * theta / omega**2)
    frequency = np.geomspace(0.3 * omega[0], 1.2 * omega[modes - 1], points) / (2 * np.pi)
    loss = blocked * beam.tan_delta
    circuit = (theta, corrected, resistance, zeta)
    poles, damping = _poles(omega, *circuit, omega[:modes] * loss)
    before, after = _responses(omega, *circuit, loss, tip, residual, 2 * np.pi * frequency)
    return HermiteResult(
        omega[:modes], theta[:modes], k2, float(free), float(resistance), poles, damping,
        frequency, before, after,
    )  # fmt: skip


def _coupling(k, m, b, blocked, factor, softened, phi):
    """omega_oc^2 - omega_sc^2 of each mode. With K_oc = K + b b^T/C it equals
    (b^T phi_oc)(b^T phi_sc)/(C phi_oc^T M phi_sc), which leaves no digits to a subtraction."""
    stiffer = 1.0 / (blocked + b @ softened)

    def solve_open(y):  # Sherman and Morrison 1950
        x = factor.solve(y)
        return x - softened * ((b @ x) * stiffer)

    opened = LinearOperator(k.shape, matvec=lambda x: k @ x + b * ((b @ x) / blocked), dtype=float)
    phi_open = _modes(opened, m, phi.shape[1], solve_open)[1]
    overlap = np.einsum("ij,ij->j", phi_open, m @ phi)
    return (b @ phi_open) * (b @ phi) / (blocked * overlap)


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
    stiffness = _bending.assemble(basis, ei=beam.ei_nm2(x))
    mass = _inertia.assemble(basis, m=beam.mass_kg_m(x))
    if beam.attachments:
        stiffness, mass = stiffness.tolil(), mass.tolil()
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


def _modes(k, m, count: int, solve_k) -> tuple[np.ndarray, np.ndarray]:
    """omega [rad/s] and mass-normalised shapes, lowest first; `solve_k` applies the inverse of k."""
    size = k.shape[0]
    inverse = LinearOperator((size, size), matvec=solve_k, dtype=float)
    values, phi = eigsh(k, k=count, M=m, sigma=0.0, OPinv=inverse, v0=np.ones(size))
    order = np.argsort(values)
    return np.sqrt(values[order]), phi[:, order]


def _poles(omega, theta, capacitance, resistance, zeta, leak):
    """(modes, 2 n + 1) eigenvalues, one state matrix for the dielectric's conductance at each mode, and
    the damping of each mode: the least of its oscillatory poles with a tenth of their energy mechanical.
    A pole belongs to the mode that holds most of its mechanical energy."""
    n, modes = len(omega), np.arange(len(leak))
    a = np.zeros((len(leak), 2 * n + 1, 2 * n + 1))
    a[:, :n, n : 2 * n] = np.eye(n)
    a[:, n : 2 * n, :n] = -np.diag(omega**2)
    a[:, n : 2 * n, n : 2 * n] = -np.diag(2 * zeta * omega)
    a[:, n : 2 * n, -1] = -theta
    a[:, -1, n : 2 * n] = theta / capacitance
    a[:, -1, -1] = -(1 / resistance + leak) / capacitance
    values, vectors = np.linalg.eig(a)
    size = np.abs(vectors) ** 2
    held = omega[:, None] ** 2 * size[:, :n] + size[:, n : 2 * n]
    mechanical = held.sum(axis=1) / (held.sum(axis=1) + capacitance * size[:, -1])
    own = (held.argmax(axis=1) == modes[:, None]) & (values.imag > 0) & (mechanical >= 0.1)
    return values, np.where(own, -values.real / np.abs(values), np.inf).min(axis=1)


def _responses(omega, theta, capacitance, resistance, zeta, loss, tip, residual, forcing):
    """Receptance shorted and with the resistor; `residual` are the static shares of the modes left
    out in the deflection and in the charge."""
    w = forcing[:, None]
    flexibility = 1 / (omega**2 - w**2 + 2j * zeta * omega * w)
    before = flexibility @ tip**2 + residual[0]
    charge = flexibility @ (tip * theta) + residual[1]
    admittance = 1j * forcing * (capacitance + flexibility @ theta**2) + forcing * loss + 1 / resistance
    return before, before - 1j * forcing * charge**2 / admittance
