"""The state matrix of one layout without the states that are far too fast for the modes.

A state faster than `FAST` times the highest mode is eliminated (quasi-static Schur complement, exact to
1/FAST^2), which keeps 1 milliohm or 1 nanohenry from drowning the modes in rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.states import assembled, full_size
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]

FAST = 1e5


@dataclass(frozen=True)
class StateSpace:
    """`matrix` (n, n) on the states that are `kept` of all; `expand` (n_all, n) gives all of them back,
    `pick` (n, n_all) reads the kept ones; `voltage` (P, n_all) reads the voltages of the ports."""

    matrix: Array
    kept: NDArray[np.intp]
    expand: Array
    pick: Array
    voltage: Array
    n_modes: int


def state_matrices(system: CoupledSystem, loss_omega_rad_s: Array) -> Array:
    """State matrices of one layout with the dielectric's conductance taken at each frequency given.

    loss_omega_rad_s : (B,) rad/s. Returns (B, n, n), 1/s.
    """
    return _eliminate(system, np.asarray(loss_omega_rad_s, dtype=float)).matrices


def state_space(system: CoupledSystem, loss_omega_rad_s: float) -> StateSpace:
    """One state matrix with the means to read voltages and eliminated states from it."""
    left = _eliminate(system, np.array([loss_omega_rad_s]))
    if not left.rows and left.turn is None:
        same = np.eye(len(left.kept))
        return StateSpace(left.matrices[0], left.kept, same, same, left.voltage, system.n_modes)
    expand = np.zeros((full_size(system), len(left.kept)))
    expand[left.kept, np.arange(len(left.kept))] = 1.0
    for index, row in reversed(left.rows):
        expand[index] = row[0] @ expand
    turn = np.eye(len(expand)) if left.turn is None else left.turn
    return StateSpace(
        left.matrices[0], left.kept, turn @ expand, turn.T[left.kept], left.voltage, system.n_modes
    )


def fast_ones(a: Array, system: CoupledSystem, fast: float = FAST) -> NDArray[np.bool_]:
    """(...) which matrices have a state of a port or a connection so many times faster than the highest mode that it must be
    eliminated."""
    electrical = np.abs(a[..., 2 * system.n_modes :, 2 * system.n_modes :])
    if not electrical.shape[-1]:
        return np.zeros(a.shape[:-2], dtype=bool)
    top = fast * (system.omega_rad_s.max(axis=-1) if system.n_modes else np.ones(()))
    return electrical.max(axis=(-1, -2)) > top


@dataclass(frozen=True)
class _Left:
    """Matrices (B, n, n) on the kept states, how an eliminated one follows from the others, what the states
    were turned by before (n_all, n_all; None where they were not), and how voltages are read off all."""

    matrices: Array
    kept: NDArray[np.intp]
    rows: list[tuple[int, Array]]
    turn: Array | None
    voltage: Array


def _eliminate(system: CoupledSystem, loss_omega_rad_s: Array) -> _Left:
    """Matrices of one layout with the loss at each frequency (B,), the fast states of ports and connections
    taken out."""
    start = 2 * system.n_modes
    rest, voltage, dampers = assembled(system, loss_omega_rad_s)
    a = rest - dampers.T @ dampers if len(dampers) else rest
    kept = np.arange(a.shape[-1])
    rows: list[tuple[int, Array]] = []
    if not fast_ones(a, system).any():
        return _Left(a, kept, rows, None, voltage)
    limit = FAST * (float(system.omega_rad_s.max()) if system.n_modes else 1.0)
    a, turn = _turned(rest, dampers, limit)
    electrical = list(range(start, len(kept)))
    gone: list[int] = []
    while electrical:
        # what grows fast is no state to take out: the poles must tell
        diagonal = -a[:, electrical, electrical].max(axis=0)
        worst = int(np.argmax(diagonal))
        if diagonal[worst] <= limit:
            break
        rows += _take_out(a, [electrical[worst]])
        gone.append(electrical.pop(worst))
    for group in _fast_pairs(a, electrical, limit):
        rows += _take_out(a, group)
        gone += group
    kept = np.setdiff1d(kept, gone)
    return _Left(a[:, kept[:, None], kept], kept, rows, turn, voltage)


def _turned(rest: Array, dampers: Array, limit: float) -> tuple[Array, Array | None]:
    """Whole matrices from those without dampers, in states whose fast ones stand alone. A stiff damper
    between two states (one that joins two leads, or a spring and the compliance it sits on) makes their
    difference fast and leaves their sum slow: neither can be taken out before they are turned into these two,
    which keeps the energies. From the dampers themselves, so that what is slow stays free of their rounding."""
    stiff = (dampers**2).sum(axis=1) > limit
    if not stiff.any():
        return rest - dampers.T @ dampers, None
    at = np.flatnonzero(dampers[stiff].any(axis=0))
    vectors, size, _ = np.linalg.svd(dampers[stiff][:, at].T)
    turn = np.eye(rest.shape[-1])
    turn[at[:, None], at] = vectors
    others = dampers[~stiff] @ turn
    a = turn.T @ rest @ turn - others.T @ others
    a[:, at[: len(size)], at[: len(size)]] -= size**2
    return a, turn


def _fast_pairs(a: Array, electrical: Sequence[int], limit: float) -> list[list[int]]:
    """Pairs of states that only swing against each other far above the modes: each must drive the other, or a strong
    feed in one direction would pass for a swing."""
    both = np.sqrt(np.abs(a * np.swapaxes(a, -1, -2)))
    pairs: list[list[int]] = []
    free = list(electrical)
    for i in electrical:
        others = [j for j in free if j != i]
        if i not in free or not others:
            continue
        j = max(others, key=lambda k: float(both[:, i, k].min()))
        if float(both[:, i, j].min()) > limit:
            pairs.append([i, j])
            free = [k for k in free if k not in (i, j)]
    return pairs


def _take_out(a: Array, indices: list[int]) -> list[tuple[int, Array]]:
    block = a[:, indices][:, :, indices]
    rows = -np.linalg.solve(block, a[:, indices, :]).astype(float)
    rows[:, :, indices] = 0.0
    columns = a[:, :, indices].copy()
    columns[:, indices] = 0.0
    a += columns @ rows
    a[:, indices, :] = 0.0
    a[:, :, indices] = 0.0
    return [(index, rows[:, k]) for k, index in enumerate(indices)]
