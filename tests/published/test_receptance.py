"""Harmonic response of the uniform cantilever against closed forms, truncated modes included.

Bishop R.E.D. & Johnson D.C. 1960, The Mechanics of Vibration, tables of receptances (from memory;
derived again in `exact`). EI = m = L = 1, so lambda^2 = omega; damping too small to matter away
from the resonances. Zeros after Preumont, Vibration Control of Active Structures (collocated
pairs alternate).
"""

import msgspec
import numpy as np
import pytest

from core.predict.predict import predict
from core.project.model import View
from core.project.service import RootAcceleration, TipForce
from tests.published.build import UNIT, project, unit_beam


def respond(load, output_x):
    made = msgspec.structs.replace(
        project(unit_beam(zeta=1e-9), [UNIT], loads=(load,)), view=View(modes_shown=4, output_x_m=output_x)
    )
    found = predict(made).response
    lam = np.sqrt(2 * np.pi * found.frequency_hz)
    away = np.all(np.abs(lam[:, None] - [1.875104069, 4.694091133, 7.854757438]) > 0.02, axis=1)
    return lam[away], found.before[away].real


def exact(lam: float, forced_at: float, output_at: float) -> float:
    """Receptance from the four constants of each of two pieces, joined where the force acts."""
    def row(x, order):
        c, s, ch, sh = np.cos(lam * x), np.sin(lam * x), np.cosh(lam * x), np.sinh(lam * x)
        table = [(c, s, ch, sh), (-s, c, sh, ch), (-c, -s, ch, sh), (s, -c, sh, ch)]
        return lam**order * np.array(table[order])

    none = np.zeros(4)
    a = [np.r_[row(0, 0), none], np.r_[row(0, 1), none], np.r_[none, row(1, 2)], np.r_[none, row(1, 3)]]
    a += [np.r_[row(forced_at, k), -row(forced_at, k)] for k in range(4)]
    rhs = np.zeros(8)
    rhs[7] = -1.0  # the third derivative jumps up by the load
    constants = np.linalg.solve(np.array(a), rhs)
    return float(row(output_at, 0) @ (constants[:4] if output_at <= forced_at else constants[4:]))


BAND = (0.05, 8.0)


def test_tip_receptance():
    """alpha = (sin l cosh l - cos l sinh l)/(l^3 (1 + cos l cosh l)) at the tip."""
    lam, found = respond(TipForce("tip", 1.0, BAND), 1.0)
    closed = (np.sin(lam) * np.cosh(lam) - np.cos(lam) * np.sinh(lam)) / (
        lam**3 * (1 + np.cos(lam) * np.cosh(lam))
    )
    assert exact(3.0, 1 - 1e-9, 1 - 1e-9) == pytest.approx(
        (np.sin(3) * np.cosh(3) - np.cos(3) * np.sinh(3)) / (27 * (1 + np.cos(3) * np.cosh(3))), rel=1e-6
    )
    assert found == pytest.approx(closed, rel=1e-5, abs=1e-7)


@pytest.mark.parametrize(("forced_at", "output_at"), [(1.0, 0.4), (0.6, 0.3), (0.25, 0.9)])
def test_cross_receptance(forced_at, output_at):
    lam, found = respond(TipForce("there", 1.0, BAND, x_m=forced_at), output_at)
    wanted = [exact(v, min(forced_at, 1 - 1e-9), output_at) for v in lam]
    assert found == pytest.approx(wanted, rel=1e-5, abs=3e-8)


@pytest.mark.parametrize("zero", [3.926602312, 7.068582746])
def test_antiresonances_are_the_frequencies_of_the_propped_beam(zero):
    """Tip force to tip displacement vanishes at the clamped-pinned eigenvalues, between the poles."""
    around = zero**2 / (2 * np.pi)
    lam, found = respond(TipForce("tip", 1.0, (0.9 * around, 1.1 * around)), 1.0)
    crossing = np.flatnonzero(np.diff(np.sign(found)))
    assert len(crossing) == 1
    i = crossing[0]
    root = lam[i] - found[i] * (lam[i + 1] - lam[i]) / (found[i + 1] - found[i])
    assert root == pytest.approx(zero, rel=1e-5)  # straight line between two samples


def test_root_motion():
    """Tip over root displacement (cos l + cosh l)/(1 + cos l cosh l); ours is relative to the root, per
    root acceleration."""
    lam, found = respond(RootAcceleration("shaker", 1.0, BAND), 1.0)
    total = (np.cos(lam) + np.cosh(lam)) / (1 + np.cos(lam) * np.cosh(lam))
    assert found == pytest.approx(-(total - 1) / lam**4, rel=1e-5, abs=3e-8)
