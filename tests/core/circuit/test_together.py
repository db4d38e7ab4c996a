"""Several circuits at their optimum: each at its best among the others, whichever comes first, one layout or many."""

import numpy as np
import pytest

from core.circuit.damping import mode_damping
from core.circuit.kind import Target
from core.circuit.optimum import optimise
from core.circuit.registry import CIRCUITS
from core.circuit.secular import _trace
from core.circuit.system import Connection, CoupledSystem
from core.circuit.together import Wanted, tuned

W = np.array([1.0, 2.7, 5.1])
THETA = np.array([[0.10, 0.02, 0.04], [0.06, 0.22, -0.05], [-0.10, 0.08, 0.30]])
KINDS = [("series R-L",) * 3, ("resistor",) * 3, ("series R-L", "resistor", "parallel R-L")]


def scene(kinds, modes=(0, 1, 2), scale=1.0, loss=0.01):
    """Three groups, each on a mode; `scale` (P,) of the coupling makes layouts of it."""
    theta = np.asarray(scale)[..., None, None] * THETA
    square = np.broadcast_to(np.eye(3), (*np.shape(scale), 3, 3))
    targets = [Target(W[m], theta[..., m, g] ** 2 / W[m] ** 2, np.ones(np.shape(scale))) for g, m in enumerate(modes)]
    connections = tuple(
        Connection(CIRCUITS[kind], CIRCUITS[kind].closed_form("damping", t))
        for kind, t in zip(kinds, targets, strict=True)
    )
    lead = np.shape(scale)
    omega, zeta = np.broadcast_to(W, (*lead, 3)), np.full((*lead, 3), 0.003)
    system = CoupledSystem(omega, zeta, theta, square, loss * square, connections)
    return system, [Wanted(g, m, t) for g, (m, t) in enumerate(zip(modes, targets, strict=True))]


def told(system):
    return [float(np.asarray(v)) for c in system.connections for v in c.values.values()]


@pytest.mark.parametrize("kinds", KINDS, ids=" and ".join)
def test_each_is_at_its_best_among_the_others(kinds):
    found = tuned(*scene(kinds))
    _, wanted = scene(kinds)
    for one in wanted:
        again = optimise(found, one.index, one.target, modes=(one.mode,), goal="damping")
        for name, value in again.items():
            assert value == pytest.approx(found.connections[one.index].values[name], rel=1e-7)


@pytest.mark.parametrize("kinds", KINDS[:2], ids=" and ".join)
def test_the_order_does_not_matter(kinds):
    system, wanted = scene(kinds)
    np.testing.assert_allclose(told(tuned(system, wanted[::-1])), told(tuned(system, wanted)), rtol=1e-11)


@pytest.mark.parametrize("modes", [(0, 1, 2), (0, 1, 0)], ids=["a mode each", "two on one mode"])
def test_many_layouts_as_one(modes):
    scales = np.array([0.6, 1.0, 1.4, 0.0])
    many = tuned(*scene(KINDS[0], modes, scales))
    for i, scale in enumerate(scales):
        alone = tuned(*scene(KINDS[0], modes, float(scale)))
        np.testing.assert_allclose(told(many.one(i)), told(alone), rtol=1e-9)


def test_two_on_one_mode_are_better_than_at_their_closed_forms():
    system, wanted = scene(KINDS[0], (0, 1, 0))
    assert mode_damping(tuned(system, wanted), 1)[0] > mode_damping(system, 1)[0]


def test_a_pole_hit_exactly_is_a_root_and_no_fault():
    """Of three ports the matrix is singular there."""
    almost = np.diag([1.0, 2.0, 0.0]).astype(complex)[None]
    assert np.abs(1.0 / _trace(almost, np.eye(3, dtype=complex)[None])[0]) < 1e-14
