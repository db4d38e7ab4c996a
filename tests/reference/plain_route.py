"""Modes and coupling by what a sensible engineer writes in plain numpy: C1 elements of degree 6, dense matrices.

Twenty-two elements with nodes at every jump; Cholesky of the stiffness, `eigh` of the mass in it, K^2 by the
secular sum. Poles and responses are those of the other route. An independent rival in speed at equal accuracy.
"""

from __future__ import annotations

import numpy as np

from tests.reference.hermite_route import (
    MODES_BEYOND,
    HermiteResult,
    PatchedBeam,
    _poles,
    _responses,
)

HERMITE = np.array([[1, 0, -3, 2], [0, 1, -2, 1], [0, 0, 3, -2], [0, 0, -1, 1]], dtype=float)
POINTS, WEIGHTS = (0.5 * v for v in np.polynomial.legendre.leggauss(9))
S = POINTS + 0.5


def _shapes() -> list[np.polynomial.Polynomial]:
    """Hermite cubics and s^2 (1 - s)^2 times 1, t, t^2 with t = 2 s - 1."""
    bubble = np.polynomial.Polynomial([0, 0, 1, -2, 1])
    t = np.polynomial.Polynomial([-1, 2])
    return [np.polynomial.Polynomial(c) for c in HERMITE] + [bubble, bubble * t, bubble * t * t]


VALUE = np.array([p(S) for p in _shapes()])
BEND = np.array([p.deriv(2)(S) for p in _shapes()])


def solve(
    beam: PatchedBeam, *, elements: int = 22, modes: int = 8, zeta: float = 0.003, points: int = 400
) -> HermiteResult:
    """What `hermite_route.solve` gives, of a beam without attachments clamped at x = 0."""
    nodes = np.array(beam.breaks_m)
    while len(nodes) <= elements:
        longest = int(np.diff(nodes).argmax())
        nodes = np.insert(nodes, longest + 1, 0.5 * (nodes[longest] + nodes[longest + 1]))
    h, n = np.diff(nodes), len(nodes) - 1
    x = (nodes[:-1, None] + h[:, None] * S).ravel()
    ei, mass, g = (f(x).reshape(n, -1) for f in (beam.ei_nm2, beam.mass_kg_m, beam.g_nm_v))
    scale = np.ones((n, 7))
    scale[:, 1], scale[:, 3] = h, h
    dof = np.concatenate([2 * np.arange(n)[:, None] + np.arange(4), 2 * n + 2 + np.arange(3 * n).reshape(n, 3)], axis=1)
    size = 2 * n + 2 + 3 * n
    k, m, b = np.zeros((size, size)), np.zeros((size, size)), np.zeros(size)
    both = scale[:, :, None] * scale[:, None, :]
    pick = dof[:, :, None], dof[:, None, :]
    np.add.at(k, pick, np.einsum("iq,eq,jq->eij", BEND, WEIGHTS * ei / h[:, None] ** 3, BEND) * both)
    np.add.at(m, pick, np.einsum("iq,eq,jq->eij", VALUE, WEIGHTS * mass * h[:, None], VALUE) * both)
    np.add.at(b, dof, (WEIGHTS * g / h[:, None]) @ BEND.T * scale)
    k, m, b = k[2:, 2:], m[2:, 2:], b[2:]
    lower = np.linalg.cholesky(k)
    inverse = np.linalg.inv(lower)
    mu, v = np.linalg.eigh(inverse @ m @ inverse.T)
    mu, v, b = mu[::-1], v[:, ::-1], inverse @ b
    kept, p = modes + MODES_BEYOND, v.T @ b
    omega = mu[:kept] ** -0.5
    k2 = _secular(mu, p, beam.blocked_capacitance_f, modes)
    theta, free = omega * p[:kept], beam.blocked_capacitance_f + b @ b
    corrected = free - np.sum(p[:kept] ** 2)
    modal = p[0] ** 2 / k2[0]
    resistance = 1 / (modal * omega[0]) * (1 + k2[0]) ** -0.75
    bent = inverse[:, 2 * n - 2]
    tip = omega * (v.T @ bent)[:kept]
    residual = bent @ bent - np.sum(tip**2 / omega**2), b @ bent - np.sum(tip * theta / omega**2)
    frequency = np.geomspace(0.3 * omega[0], 1.2 * omega[modes - 1], points) / (2 * np.pi)
    loss, circuit = beam.blocked_capacitance_f * beam.tan_delta, (theta, corrected, resistance, zeta)
    poles, damping = _poles(omega, *circuit, omega[:modes] * loss)
    before, after = _responses(omega, *circuit, loss, tip, residual, 2 * np.pi * frequency)
    return HermiteResult(
        omega[:modes], theta[:modes], k2, float(free), float(resistance), poles, damping,
        frequency, before, after,
    )  # fmt: skip


def _secular(mu: np.ndarray, p: np.ndarray, blocked: float, modes: int) -> np.ndarray:
    """K^2 = p_i^2/(C + sum over the others of p_k^2/(1 - (1 + K^2) mu_k/mu_i)), by repetition."""
    k2 = p[:modes] ** 2 / blocked
    for _ in range(20):
        gap = 1 - (1 + k2)[:, None] * mu / mu[:modes, None]
        gap[np.arange(modes), np.arange(modes)] = np.inf
        k2 = p[:modes] ** 2 / (blocked + (p**2 / gap).sum(axis=1))
    return k2
