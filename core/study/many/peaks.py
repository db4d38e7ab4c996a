"""Highest response near each mode for many layouts, shorted and with the circuits.

The harmonic response is that of `core.circuit.transfer` with the kept modes dynamic and the rest
of the discrete ones static. Frequencies are clustered about each mode of each layout and the top is
refined once, by samples and then by the parabola through 1/|H|^2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import CircuitKind
from core.predict.forcing import DERIVATIVE, active_load, load_x_m
from core.project.model import BaseLoad, Project
from core.study.many.stacked import Plan, Values
from core.study.many.sweep import BASE, Sweep

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_INNER = np.linspace(0.0, 1.0, 41)
_OUTER = np.geomspace(0.02, 1.0, 14)


def points_of(project: Project) -> tuple[float | None, float]:
    """What `sweep_layouts` must carry for the response: the active load and the output point."""
    load, span = active_load(project), project.structure.span_m
    out = span if project.view.output_x_m is None else project.view.output_x_m
    return (BASE if isinstance(load, BaseLoad) else load_x_m(load, span)), out


@dataclass(frozen=True)
class Loading:
    """Load and output of P layouts: modal values (P, N), what the truncated modes add to the group
    charges (P, G) and to the output (P,), and the powers of j omega the output is taken at."""

    load: Array
    output: Array
    load_charge: Array
    output_charge: Array
    residual: Array
    derivative: int


def loading(project: Project, found: Sweep, plan: Plan) -> Loading:
    """The loading from a sweep that carried `points_of(project)`."""
    n = plan.omega_rad_s.shape[1]
    load, output = found.rows[:, 0], found.rows[:, 1]
    rest = slice(n, None)
    return Loading(
        load=plan.omega_rad_s * load[:, :n],
        output=plan.omega_rad_s * output[:, :n],
        load_charge=np.einsum("pv,pvg->pg", load[:, rest], found.p[:, rest]),
        output_charge=np.einsum("pv,pvg->pg", output[:, rest], found.p[:, rest]),
        residual=(load[:, rest] * output[:, rest]).sum(axis=-1),
        derivative=DERIVATIVE[project.view.output],
    )


def peak_heights(plan: Plan, at: Loading, k2: Array, modes: tuple[int, ...]) -> tuple[Array, Array]:
    """(P, M) highest |H| about each mode (from 0): every group shorted, and with the circuits.

    `k2` (P, N) of all modes sets how far a circuit may move a peak.
    """
    before, after = [], []
    for mode in modes:
        w = _about(plan, k2[:, mode], mode)
        was, now = responses(plan, at, w)
        before.append(_top(plan, at, w, was, 0))
        after.append(_top(plan, at, w, now, 1))
    return np.stack(before, axis=-1), np.stack(after, axis=-1)


def _about(plan: Plan, k2: Array, mode: int) -> Array:
    """(P, F) frequencies about a mode, held inside the mid-points to its neighbours."""
    omega, zeta = plan.omega_rad_s, plan.zeta[:, mode, None]
    centre, k2 = omega[:, mode, None], np.maximum(k2, 0.0)[:, None]
    narrow, wide = 3.0 * zeta, np.maximum(1.6 * np.sqrt(k2), 12.0 * zeta)
    inner = -narrow + (0.5 * k2 + 2.0 * narrow) * _INNER
    around = np.concatenate([-wide * _OUTER, np.zeros_like(zeta), inner, wide * _OUTER], axis=1)
    low = np.sqrt(omega[:, mode - 1 : mode] * centre) if mode else 0.3 * centre
    last = mode + 1 >= omega.shape[1]
    high = 2.0 * centre if last else np.sqrt(omega[:, mode + 1 : mode + 2] * centre)
    return np.sort(np.clip(centre * (1.0 + around), low, high), axis=1)


def _top(plan: Plan, at: Loading, w: Array, height: Array, which: int) -> Array:
    """(P,) the highest sample, looked at once more between its neighbours."""
    rows = np.arange(len(w))
    best = height.argmax(axis=1)
    left, right = w[rows, np.maximum(best - 1, 0)], w[rows, np.minimum(best + 1, w.shape[1] - 1)]
    close = left[:, None] + (right - left)[:, None] * np.linspace(0.0, 1.0, 13)
    again = responses(plan, at, close)[which]
    inverse = 1.0 / np.maximum(again, 1e-150) ** 2
    i = np.clip(inverse.argmin(axis=1), 1, close.shape[1] - 2)
    a, b, c = inverse[rows, i - 1], inverse[rows, i], inverse[rows, i + 1]
    bend = a - 2.0 * b + c
    with np.errstate(divide="ignore", invalid="ignore"):
        lowest = np.where(bend > 0.0, b - (a - c) ** 2 / (8.0 * bend), b)
    return np.maximum(np.maximum(lowest, 0.5 * b) ** -0.5, height[rows, best])


def responses(plan: Plan, at: Loading, omega_rad_s: Array) -> tuple[Array, Array]:
    """|H| at each layout's own frequencies (P, F): every group shorted, and with the circuits."""
    w, groups = omega_rad_s, len(plan.kinds)
    sums = _modal_sums(plan, at, w)
    scale = w**at.derivative
    before = sums[..., 0] + at.residual[:, None]
    if not groups:
        return np.abs(before) * scale, np.abs(before) * scale
    charge = sums[..., 1 : 1 + groups] + at.load_charge[:, None]
    sensed = sums[..., 1 + groups : 1 + 2 * groups] + at.output_charge[:, None]
    inner = sums[..., 1 + 2 * groups :].reshape(*w.shape, groups, groups) + plan.capacitance_f[:, None]
    after = before - (_voltage(plan, w, inner, charge) * sensed).sum(axis=-1)
    return np.abs(before) * scale, np.abs(after) * scale


def _modal_sums(plan: Plan, at: Loading, w: Array) -> ComplexArray:
    """Sums over the modes, each with the mode's flexibility 1/(omega_n^2 - w^2 + 2 j zeta omega_n w):
    output times load, load times theta, output times theta, theta times theta; (P, F, 1 + 2 G + G^2).

    Real and imaginary part go through the multiplication apart: real numbers are several times faster.
    """
    theta = plan.theta
    columns = np.concatenate(
        [
            (at.output * at.load)[..., None],
            at.load[..., None] * theta,
            at.output[..., None] * theta,
            (theta[..., :, None] * theta[..., None, :]).reshape(*theta.shape[:2], -1),
        ],
        axis=-1,
    )
    omega = plan.omega_rad_s[:, None]
    stiff = omega**2 - (w * w)[..., None]
    damped = w[..., None] * (2.0 * plan.zeta[:, None] * omega)
    size = stiff * stiff + damped * damped
    out = np.empty((*w.shape, columns.shape[-1]), dtype=complex)
    out.real = (stiff / size) @ columns
    out.imag = -(damped / size) @ columns
    return out


def _voltage(plan: Plan, w: Array, inner: ComplexArray, charge: ComplexArray) -> ComplexArray:
    """(P, F, G) voltage across the leads per unit of the load; `inner` (P, F, G, G) is the dynamic
    capacitance without dielectric loss."""
    s = cast(ComplexArray, 1j * w)
    pairs = [_immittances(k, v, s) for k, v in zip(plan.kinds, plan.values, strict=True)]
    if len(pairs) == 1:
        a, b = pairs[0]
        y = s * inner[..., 0, 0] + w * plan.loss_f[:, 0] + plan.leak_s[0]
        return (a * s * charge[..., 0] / (b + a * y))[..., None]
    a, b = (np.stack([p[k] for p in pairs], axis=-1) for k in (0, 1))
    y = s[..., None, None] * inner + w[..., None, None] * plan.loss_f[:, None]
    diagonal = np.arange(len(pairs))
    y[..., diagonal, diagonal] += np.array(plan.leak_s)
    matrix = a[..., :, None] * y
    matrix[..., diagonal, diagonal] += b
    return cast(ComplexArray, np.linalg.solve(matrix, (a * s[..., None] * charge)[..., None])[..., 0])


def _immittances(
    kind: CircuitKind, values: Sequence[Values], s: ComplexArray
) -> tuple[ComplexArray, ComplexArray]:
    """(a, b) of every layout, (P, F) each."""
    columns = {name: np.array([v[name] for v in values])[:, None] for name in values[0]}
    try:
        return kind.immittance(columns, s)  # type: ignore[arg-type]
    except ValueError:  # a kind that asks whether a value is zero takes the layouts one by one
        both = [kind.immittance(v, row) for v, row in zip(values, s, strict=True)]
        return np.stack([a for a, _ in both]), np.stack([b for _, b in both])
