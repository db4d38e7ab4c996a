"""Poles of coupled systems: limits of R, dielectric loss, several groups."""

import numpy as np
import pytest

from core.circuit.damping import mode_damping
from core.circuit.spectrum import spectra, spectrum_at
from core.circuit.system import CoupledSystem
from tests.core.circuit.scenes import connection, one_mode, three_modes


def frequencies(system):
    found = spectrum_at(system, 1.0)
    mechanical = found.oscillatory & (found.mechanical_share > 0.5)
    return np.sort(np.abs(found.value_rad_s[mechanical]))


def open_frequencies(system):
    stiffness = np.diag(system.omega_rad_s**2)
    stiffness = stiffness + system.theta @ np.linalg.solve(system.capacitance_f, system.theta.T)
    return np.sqrt(np.linalg.eigvalsh(stiffness))


@pytest.mark.parametrize("resistance", [0.0, 1e-12, 1e-7])
def test_little_resistance_is_a_short(resistance):
    system = three_modes(connection("resistor", resistance_ohm=resistance), zeta=0.0)
    np.testing.assert_allclose(frequencies(system), system.omega_rad_s, rtol=1e-12)


@pytest.mark.parametrize("circuits", [1, 2])
def test_much_resistance_is_open(circuits):
    high = connection("resistor", resistance_ohm=1e12)
    system = three_modes(*[high] * circuits, zeta=0.0)
    np.testing.assert_allclose(frequencies(system), open_frequencies(system), rtol=1e-11)
    left_open = three_modes(*[connection("open")] * circuits, zeta=0.0)
    np.testing.assert_allclose(frequencies(left_open), open_frequencies(left_open), rtol=1e-12)


def test_no_coupling_leaves_the_inherent_damping():
    system = one_mode(0.0, connection("series R-L", inductance_h=1.0, resistance_ohm=0.1), zeta=0.004)
    assert mode_damping(system, 1)[0] == pytest.approx(0.004, rel=1e-12)


def test_milliohm_and_nanohenry_do_not_drown_the_modes():
    """A resistor adds K^2 tau/2 for small tau, to the last figures even at tau = 1e-9."""
    for tau in (1e-9, 1e-7, 1e-5):
        system = one_mode(0.2, connection("resistor", resistance_ohm=tau))
        assert mode_damping(system, 1)[0] == pytest.approx(0.04 * tau / 2, rel=1e-6)
    near_short = one_mode(0.2, connection("series R-L", inductance_h=1e-13, resistance_ohm=1e-6))
    assert mode_damping(near_short, 1)[0] == pytest.approx(0.04 * 1e-6 / 2, rel=1e-4)


def test_series_without_inductance_is_the_resistor():
    series = three_modes(connection("series R-L", inductance_h=0.0, resistance_ohm=0.9))
    plain = three_modes(connection("resistor", resistance_ohm=0.9))
    np.testing.assert_allclose(mode_damping(series, 3), mode_damping(plain, 3), rtol=1e-12)


def test_parallel_with_endless_inductance_is_the_resistor():
    parallel = three_modes(connection("parallel R-L", inductance_h=1e12, resistance_ohm=0.9))
    plain = three_modes(connection("resistor", resistance_ohm=0.9))
    np.testing.assert_allclose(mode_damping(parallel, 3), mode_damping(plain, 3), rtol=1e-9)


@pytest.mark.parametrize(
    "circuits",
    [
        (connection("resistor", resistance_ohm=0.9),),
        (connection("open"),),
        (connection("series R-L", inductance_h=0.09, resistance_ohm=0.05),),
        (
            connection("series R-L", inductance_h=0.99, resistance_ohm=0.1),
            connection("resistor", resistance_ohm=0.5),
        ),
        (
            connection("series R-L", inductance_h=0.99, resistance_ohm=0.19),
            connection("parallel R-L", inductance_h=0.027, resistance_ohm=0.4),
        ),
    ],
)
def test_loss_of_every_mode_from_one_eigenproblem_equals_one_each(circuits):
    system = three_modes(*circuits, loss=0.02)
    for n, spectrum in enumerate(spectra(system, 3)):
        exact = spectrum_at(system, float(system.omega_rad_s[n]))
        found, wanted = (np.sort_complex(s.value_rad_s[s.poles_of(n)]) for s in (spectrum, exact))
        np.testing.assert_allclose(found, wanted, rtol=1e-9)


def test_dielectric_loss_is_a_conductance_at_the_modes_own_frequency():
    """Open leads with loss: the added damping of R = 1/(omega C tan delta), tau = 1/tan delta."""
    lossy = one_mode(0.1, connection("open"), loss=0.02)
    resistor = one_mode(0.1, connection("resistor", resistance_ohm=1 / 0.02))
    assert mode_damping(lossy, 1)[0] == pytest.approx(mode_damping(resistor, 1)[0], rel=1e-12)


def test_an_instrument_is_a_resistor_beside_the_circuit():
    hung = one_mode(0.1, connection("open", instrument_s=0.5))
    resistor = one_mode(0.1, connection("resistor", resistance_ohm=2.0))
    assert mode_damping(hung, 1)[0] == pytest.approx(mode_damping(resistor, 1)[0], rel=1e-12)
    halves = one_mode(0.1, connection("resistor", instrument_s=0.25, resistance_ohm=4.0))
    assert mode_damping(halves, 1)[0] == pytest.approx(mode_damping(resistor, 1)[0], rel=1e-12)


def test_a_detuned_electrical_pole_is_listed_but_does_not_count():
    system = one_mode(0.05, connection("series R-L", inductance_h=0.2, resistance_ohm=1e-6), zeta=0.01)
    spectrum = spectrum_at(system, 1.0)
    own = spectrum.poles_of(0)
    assert len(own) == 2
    assert spectrum.mechanical_share[own].min() < 0.1
    assert spectrum.damping_ratio[own].min() < 1e-5 < 0.0099 < spectrum.damping_of(0)


def test_order_of_groups_does_not_matter():
    a = connection("resistor", resistance_ohm=0.7)
    b = connection("series R-L", inductance_h=0.1, resistance_ohm=0.06)
    system = three_modes(a, b, loss=0.02)
    swap = np.array([1, 0])
    other = CoupledSystem(
        system.omega_rad_s, system.zeta, system.theta[:, swap], system.capacitance_f[np.ix_(swap, swap)],
        system.loss_f[np.ix_(swap, swap)], (b, a),
    )  # fmt: skip
    np.testing.assert_allclose(mode_damping(system, 3), mode_damping(other, 3), rtol=1e-10)


def test_a_mode_whose_poles_all_belong_to_a_neighbour_still_gets_a_number():
    """Two close modes, one circuit that couples them strongly."""
    for r in np.geomspace(0.05, 20, 25):
        for inductance in (0.2, 0.5, 1.0, 2.0):
            system = CoupledSystem(
                np.array([1.0, 1.05]),
                np.array([0.002, 0.002]),
                np.array([[0.5], [1.4]]),
                np.ones((1, 1)),
                np.zeros((1, 1)),
                (connection("series R-L", inductance_h=inductance, resistance_ohm=r),),
            )
            damping = mode_damping(system, 2)
            assert np.isfinite(damping).all() and (damping > 0).all()
