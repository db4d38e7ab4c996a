"""Harmonic response against the state matrix, power balance and reciprocity."""

import numpy as np
import pytest

from core.circuit.fast_states import state_space
from core.circuit.transfer import forced
from tests.core.circuit.scenes import connection, functional, three_modes

OMEGA = np.array([0.3, 0.97, 1.03, 2.9, 3.2, 5.0, 7.5])
ONE = connection("series R-L", inductance_h=0.1, resistance_ohm=0.06, instrument_s=0.03)
TWO = connection("resistor", resistance_ohm=0.7)


@pytest.mark.parametrize("circuits", [(ONE,), (TWO,), (ONE, TWO), (connection("shorted"), ONE)])
def test_equals_the_state_matrix(circuits):
    system = three_modes(*circuits)
    load = functional(0.5, -1.0, 2.0, groups=len(circuits))
    found = forced(system, load, OMEGA)
    space = state_space(system, 1.0)
    push = np.zeros(len(space.matrix))
    push[3:6] = load.modal
    for i, w in enumerate(OMEGA):
        state = np.linalg.solve(1j * w * np.eye(len(push)) - space.matrix, push)
        full = space.expand @ state
        np.testing.assert_allclose(found.after[i], full[:3] / system.omega_rad_s, rtol=1e-9)
        np.testing.assert_allclose(found.voltage[i], space.voltage @ full, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("circuits", [(ONE,), (ONE, TWO)])
def test_power_in_is_power_lost(circuits):
    """Mean power of a unit force = inherent damping + resistors + instrument + dielectric."""
    system = three_modes(*circuits, loss=0.02)
    load = functional(0.5, -1.0, 2.0, groups=len(circuits))
    found = forced(system, load, OMEGA)
    velocity = 1j * OMEGA[:, None] * found.after
    power_in = 0.5 * (velocity @ load.modal).real
    lost = (np.abs(velocity) ** 2) @ (system.zeta * system.omega_rad_s)
    for g, c in enumerate(circuits):
        conductance = c.kind.admittance(c.values, 1j * OMEGA).real + c.instrument_s
        lost = lost + 0.5 * np.abs(found.voltage[:, g]) ** 2 * conductance
    dielectric = np.einsum("fg,gh,fh->f", found.voltage.conj(), system.loss_f, found.voltage).real
    np.testing.assert_allclose(lost + 0.5 * OMEGA * dielectric, power_in, rtol=1e-10)


def test_force_and_output_change_places():
    """Maxwell: the answer at B to a force at A is that at A to a force at B, circuits and all."""
    system = three_modes(ONE, TWO, loss=0.02)
    a, b = functional(0.5, -1.0, 2.0, groups=2), functional(1.0, 0.3, -0.4, groups=2)
    there = forced(system, a, OMEGA).output(b, 0.01)[1]
    back = forced(system, b, OMEGA).output(a, 0.01)[1]
    np.testing.assert_allclose(there, back, rtol=1e-12)
