"""Supports and springs to ground as restraints of deflection or slope at a point."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.project.structure import Structure, Support

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Restraint:
    """Stiffness against deflection (order 0, N/m) or slope (order 1, N m/rad) at x; inf holds it."""

    x_m: float
    order: int
    stiffness: float
    path: str = ""
    """Of the input that gives the stiffness."""


def _clamped(support: Support) -> tuple[float, float]:
    return np.inf, np.inf


def _pinned(support: Support) -> tuple[float, float]:
    return np.inf, 0.0


def _guided(support: Support) -> tuple[float, float]:
    return 0.0, np.inf


def _free(support: Support) -> tuple[float, float]:
    return 0.0, 0.0


def _elastic(support: Support) -> tuple[float, float]:
    return support.k_t_n_m, support.k_r_nm_rad


SUPPORTS = {
    "clamped": _clamped,
    "pinned": _pinned,
    "guided": _guided,
    "free": _free,
    "elastic": _elastic,
}
"""Support kind to (stiffness against deflection, against slope). A new kind is one line here."""


def restraints(structure: Structure) -> tuple[Restraint, ...]:
    """Every restraint of the structure with a stiffness above zero."""
    span = structure.stations_m[-1]
    found = []
    for x, name, support in ((0.0, "root", structure.root), (span, "tip", structure.tip)):
        k_t, k_r = SUPPORTS[support.kind](support)
        found += _both(x, k_t, k_r, f"structure.{name}")
    for i, spring in enumerate(structure.springs):
        found += _both(spring.x_m, spring.k_t_n_m, spring.k_r_nm_rad, f"structure.springs[{i}]")
    return tuple(r for r in found if r.stiffness > 0.0)


def _both(x_m: float, k_t: float, k_r: float, path: str) -> list[Restraint]:
    return [Restraint(x_m, 0, k_t, f"{path}.k_t_n_m"), Restraint(x_m, 1, k_r, f"{path}.k_r_nm_rad")]


@lru_cache(maxsize=64)
def choose_primary(found: tuple[Restraint, ...], span_m: float) -> tuple[int, ...]:
    """Indices of at most two restraints that fix the rigid-body motion, stiffest first.

    The rigid field is a + b x; its two numbers are replaced by the deflections of these
    restraints, which keeps any stiffness from a whisper to infinity well conditioned.
    """
    if not found:
        return ()

    def scaled(r: Restraint) -> float:
        return r.stiffness * (span_m**2 if r.order == 0 else 1.0)

    def direction(r: Restraint) -> np.ndarray:
        v = np.array([1.0, r.x_m / span_m]) if r.order == 0 else np.array([0.0, 1.0])
        return v / np.linalg.norm(v)

    order = sorted(range(len(found)), key=lambda i: -scaled(found[i]))
    first = order[0]
    best, best_value = None, 0.0
    for i in order[1:]:
        d1, d2 = direction(found[first]), direction(found[i])
        independence = abs(float(d1[0] * d2[1] - d1[1] * d2[0]))
        value = independence**2 * min(scaled(found[i]), 1e300)
        if independence > 1e-9 and value > best_value:
            best, best_value = i, value
    return (first,) if best is None else (first, best)


@dataclass(frozen=True, eq=False)
class Primary:
    """The (at most two, p) restraints that fix the rigid-body motion, and those left over."""

    chosen: tuple[int, ...]
    rest: tuple[int, ...]
    elastic: tuple[int, ...]
    """Which of the chosen give, as places in `chosen`."""
    solve_rigid: Array
    """(2, p) straight line (a, b) per unit deflection of the primary restraints."""
    free: Array
    """(2, n_rigid) straight lines that nothing holds, not mass-normalised."""


def _line_row(r: Restraint) -> Array:
    return np.array([1.0, r.x_m]) if r.order == 0 else np.array([0.0, 1.0])


@lru_cache(maxsize=64)
def primary_restraints(found: tuple[Restraint, ...], span_m: float) -> Primary:
    """Choose the primary restraints and solve the straight line for them."""
    indices = choose_primary(found, span_m)
    scale = np.array([1.0, span_m])
    scaled = np.array([_line_row(found[i]) for i in indices]).reshape(-1, 2) / scale
    if len(indices) == 2:
        inverse, free = np.linalg.inv(scaled), np.zeros((2, 0))
    elif len(indices) == 1:
        inverse, free = np.linalg.pinv(scaled), np.array([[-scaled[0, 1]], [scaled[0, 0]]])
    else:
        inverse, free = np.zeros((2, 0)), np.array([[1.0, -0.5], [0.0, 1.0]])
    return Primary(
        chosen=indices,
        rest=tuple(i for i in range(len(found)) if i not in indices),
        elastic=tuple(j for j, i in enumerate(indices) if np.isfinite(found[i].stiffness)),
        solve_rigid=inverse / scale[:, None],
        free=free / scale[:, None],
    )
