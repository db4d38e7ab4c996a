"""One form for all that hangs on ports: several leads, states that feed, storage that is negative."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuit.kind import CircuitKind, Port
from core.circuit.source import Source
from core.circuit.spectrum import spectrum_at
from core.circuit.states import full_matrices, state_slices
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional, forced
from tests.core.circuit.scenes import connection, one_mode, three_modes


def joined(matrix: np.ndarray, rate: float, through: np.ndarray, back: np.ndarray | None = None) -> CircuitKind:
    """G (n, n) and one state across n leads: I = G V + C x, x' = B V - rate x."""
    back = through if back is None else back

    def immittance(values, s):
        unit = np.broadcast_to(np.eye(len(matrix)), (*s.shape, *matrix.shape)).astype(complex)
        return unit, matrix + np.multiply.outer(1.0 / (s + rate), np.outer(back, through))

    def port(values):
        return Port(matrix, through[None, :], back[:, None], np.array([[rate]]), np.zeros(1))

    return CircuitKind("joined", "Joined", (), immittance, port)


def two_ports(kind: CircuitKind, loss: float = 0.0) -> CoupledSystem:
    both = three_modes(connection("open"), connection("open"), loss=loss)
    return replace(both, connections=(Connection(kind, {}, leads=(0, 1)),))


BRIDGE = joined(0.2 * np.array([[1.0, -1.0], [-1.0, 1.0]]), 0.3, np.array([0.9, -0.9]))
"""A resistor, and beside it an inductor with a resistor, from the lead of one group to that of the other."""
LOOP = joined(np.array([[0.0, 0.0], [0.7, 0.0]]), 1.0, np.array([0.8, 0.0]), np.array([0.0, 0.5]))
"""The voltage of one group drives a current into the other: nothing in it is passive."""


@pytest.mark.parametrize("kind", [BRIDGE, LOOP], ids=["passive", "loop"])
def test_states_and_frequencies_agree_where_two_groups_are_joined(kind):
    system = two_ports(kind)
    matrix, voltage = (v[0] if v.ndim == 3 else v for v in full_matrices(system, np.array([1.0])))
    load, omega = Functional(np.array([1.0, -0.4, 0.6]), np.zeros(2), np.zeros(0)), np.array([0.3, 1.02, 2.9])
    push = np.zeros(len(matrix))
    push[3:6] = load.modal
    found = forced(system, load, omega)
    for k, w in enumerate(omega):
        states = np.linalg.solve(1j * w * np.eye(len(matrix)) - matrix, push)
        np.testing.assert_allclose(found.voltage[k], voltage @ states, rtol=1e-11)
        np.testing.assert_allclose(found.after[k], states[:3] / system.omega_rad_s, rtol=1e-11)


def test_a_passive_bridge_decays_and_a_strong_loop_is_told_by_its_poles():
    assert not spectrum_at(two_ports(BRIDGE), 1.0).unstable.any()
    strong = joined(np.array([[0.0, 0.0], [40.0, 0.0]]), 1.0, np.array([0.8, 0.0]), np.array([0.0, 0.5]))
    assert spectrum_at(two_ports(strong), 1.0).unstable.any()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.floats(-30, 30), min_size=6, max_size=6), st.floats(0, 1e6), st.sampled_from([0.0, 0.02]))
def test_whatever_takes_power_at_every_lead_leaves_every_pole_stable(numbers, rate, loss):
    root, through = np.array(numbers[:4]).reshape(2, 2), np.array(numbers[4:])
    spectrum = spectrum_at(two_ports(joined(root @ root.T, rate, through), loss), 1.0)
    assert not spectrum.unstable.any()


def test_a_third_group_sees_the_joined_ones_through_the_structure():
    """Its source admittance is the current per volt that the state matrix gives."""
    two = two_ports(BRIDGE)
    theta = np.hstack([two.theta, [[0.2], [0.1], [-0.3]]])
    capacitance = np.eye(3)
    capacitance[:2, :2] = two.capacitance_f
    own = Connection(connection("open").kind, {}, leads=(2,))
    system = CoupledSystem(
        two.omega_rad_s, two.zeta, theta, capacitance, np.zeros((3, 3)), (*two.connections, own)
    )
    s = np.array(-0.01 + 1.3j)
    y = Source(system, 2)(s, np.ones(()))[0]
    matrix, voltage = (v[0] if v.ndim == 3 else v for v in full_matrices(system, np.array([1.0])))
    push = np.linalg.pinv(voltage)[:, 2] / capacitance[2, 2]  # a unit current into the third lead
    answer = voltage[2] @ np.linalg.solve(s * np.eye(len(matrix)) - matrix, push)
    assert y == pytest.approx(1.0 / answer, rel=1e-10)


@pytest.mark.parametrize("added", [-0.4, -1.6])
def test_a_negative_storage_is_told_by_its_poles(added):
    """C = 1 with a negative capacitance beside it: stable while some of C is left (PHYSICS: in parallel below
    the blocked C), else a real pole grows."""
    system = one_mode(0.3, connection("resistor", resistance_ohm=2.0), zeta=0.01)
    changed = replace(system, capacitance_f=system.capacitance_f + added)
    spectrum = spectrum_at(changed, 1.0)
    assert spectrum.unstable.any() == (added < -1.0)
    grown = spectrum.value_rad_s[spectrum.unstable]
    assert (grown.imag == 0).all()
    poles = np.roots(np.polyadd(np.polymul([1, 0.02, 1], [1 + added, 0.5]), [0.09, 0]))
    for value in spectrum.value_rad_s:
        assert np.abs(poles - value).min() < 1e-9


def test_negative_storage_of_two_groups_keeps_the_response_of_the_states():
    """Joined capacitances of both signs: states and frequencies still tell the same."""
    system = two_ports(BRIDGE)
    system = replace(system, capacitance_f=np.array([[0.6, 0.9], [0.9, 0.5]]))
    matrix, voltage = (v[0] if v.ndim == 3 else v for v in full_matrices(system, np.array([1.0])))
    load, w = Functional(np.array([1.0, -0.4, 0.6]), np.zeros(2), np.zeros(0)), 1.7
    push = np.zeros(len(matrix))
    push[3:6] = load.modal
    states = np.linalg.solve(1j * w * np.eye(len(matrix)) - matrix, push)
    found = forced(system, load, np.array([w]))
    np.testing.assert_allclose(found.voltage[0], voltage @ states, rtol=1e-11)
    assert state_slices(system)[0] == slice(8, 9)
    assert spectrum_at(system, 1.0).unstable.any()


def test_what_a_group_meets_beside_a_loop_is_its_current_per_volt_and_its_derivatives():
    """A third group's own leads: a volt there, every state solved; nothing in it is symmetric."""
    three = three_modes(connection("open"), connection("open"), loss=0.02)
    theta = np.column_stack([three.theta, [0.03, 0.08, -0.05]])
    wider = np.zeros((3, 3))
    wider[:2, :2], wider[2, 2] = three.capacitance_f, 1.3
    system = replace(
        three, theta=theta, capacitance_f=wider, loss_f=0.02 * wider,
        connections=(Connection(LOOP, {}, leads=(0, 1)), connection("open"), connection("open")),
    )  # fmt: skip
    s, h = np.array([0.1 + 0.9j]), 1e-4

    def met(at):
        d = at[:, None] ** 2 + 2 * system.zeta * system.omega_rad_s * at[:, None] + system.omega_rad_s**2
        y = at[:, None, None] * (np.einsum("fn,np,nq->fpq", 1 / d, theta, theta) + wider) + 0.7 * system.loss_f
        a, b = system.connections[0].pair(at)
        y[:, :2, :2] += np.linalg.solve(a, b)
        return y[:, 2, 2] - np.einsum("fp,fpq,fq->f", y[:, 2, :2], np.linalg.inv(y[:, :2, :2]), y[:, :2, 2])

    own = Source(system, 2)(s, np.array([0.7]))
    assert own[0] == pytest.approx(met(s), rel=1e-10)
    assert own[1] == pytest.approx((met(s + h) - met(s - h)) / (2 * h), rel=1e-5)
    assert own[2] == pytest.approx((met(s + h) - 2 * met(s) + met(s - h)) / h**2, rel=1e-3)
