"""Rows read off the motion: shear of the bond, mean strain, the charge of open leads, random mean squares."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.piezo.layout import solve
from core.predict.fields import fields
from core.predict.forcing import active_load, forcing
from core.predict.loads.random_load import density
from core.predict.loads.readings import plate_readings
from core.predict.loads.transient import transient
from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.service import RandomBase, StaticForce
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, SHAKE, lab, side
from tests.published.build import plain

OPEN = Circuit("open")


def read(project):
    beam = solve(project, project.candidate(), n_modes=10)
    item = forcing(beam, active_load(project), project.view)
    return beam, plate_readings(fields(beam), item)[0]


def test_the_bond_carries_what_the_ceramic_wants_beyond_what_it_gets():
    """E_p t_p/lag (strain of the mid-plane - d31 V/t_p) at both ends: a voltage that the structure followed
    freely would load no bond (Crawley & de Luis 1987)."""
    project = lab()
    beam, reading = read(project)
    plate, ceramic = beam.plates[0], project.packages[0].ceramic
    places = len(reading.x_m) // 4  # along at both sides, then across
    lower, upper = slice(places), slice(places, 2 * places)
    middle = 0.5 * (reading.strain.voltage[lower, 0] + reading.strain.voltage[upper, 0])
    bent = 0.5 * (reading.strain.modal[lower] + reading.strain.modal[upper])
    modulus, thickness = 1 / ceramic.s11e_1_pa.value, plate.thickness_m
    for row, end, lag in ((0, 0, plate.shear_lag_m[0]), (1, -1, plate.shear_lag_m[1])):
        stiffness = modulus * thickness / lag
        free = ceramic.d31_c_n.value / thickness
        assert reading.shear.voltage[row, 0] == pytest.approx(stiffness * (middle[end] - free), rel=1e-9)
        np.testing.assert_allclose(reading.shear.modal[row], stiffness * bent[end], rtol=1e-9)
        # the structure follows a little of the free strain, in its sense
        assert 0 < middle[end] / free < 1


def test_the_mean_strain_is_what_the_charge_measures():
    """theta_n = -e31 b l times the mean strain of bending in mode n, where a layer is free across by itself."""
    beam, reading = read(plain(lab()))
    plate = beam.plates[0]
    size = plate.coefficients.e_x_c_m2 * plate.width_m * (plate.x_b_eff_m - plate.x_a_eff_m)
    shown = slice(0, 7)
    np.testing.assert_allclose(
        -reading.mean_strain.modal[0, shown] * size, beam.theta[shown, 0], rtol=1e-4, atol=1e-9
    )


def test_open_leads_keep_no_charge_when_the_bend_is_let_go():
    """Q = C V - theta q = 0 from the first moment: the truncated modes gave their share back."""
    item = side(lab(load=PLUCK, circuit=OPEN))
    free = transient(item.system, item.forcing)[-1].free
    q, voltage = free.q.real.sum(axis=1), free.voltage.real.sum(axis=1)
    moved = item.system.theta[:, 0] @ q
    assert item.system.capacitance_f[0, 0] * voltage[0] == pytest.approx(moved, rel=1e-6)


def test_open_leads_after_a_knock_hold_what_the_bend_makes():
    project = lab(load=KNOCK, circuit=OPEN)
    beam = solve(project, project.candidate(), n_modes=10)
    item = forcing(beam, active_load(project), project.view)
    system = coupled_system(beam, project.candidate())
    free = transient(system, item)[-1].free
    t = np.linspace(0.0, 0.02, 50)
    waves = np.exp(np.outer(free.rate, t))
    q, voltage = (free.q @ waves).real, (free.voltage @ waves).real
    leak = system.loss_f[0, 0] / system.capacitance_f[0, 0] * system.omega_rad_s[0]
    expected = system.theta[:, 0] @ q / system.capacitance_f[0, 0]
    assert np.abs(voltage[0] - expected).max() < 3 * leak * 0.02 * np.abs(expected).max()


def test_the_mean_square_of_a_random_load_is_weighed_with_its_spectrum():
    table = RandomBase("truck", ((8.0, 1e-5), (60.0, 1e-5), (110.0, 1.0), (300.0, 1.0)))
    project = lab(load=table)
    shown, fine = predict(project).response, predict(project, points=4000).response
    level = density(table, 2 * np.pi * fine.frequency_hz)

    def total(curve):
        f = np.abs(curve) ** 2 * level
        return float(np.sum(0.5 * (f[1:] + f[:-1]) * np.diff(fine.frequency_hz)))

    expected = 10 * np.log10(total(fine.after) / total(fine.before))
    assert shown.mean_square_change_db == pytest.approx(expected, abs=0.03)
    flat = predict(lab(load=RandomBase("flat", ((8.0, 1.0), (300.0, 1.0))))).response
    assert abs(flat.mean_square_change_db - shown.mean_square_change_db) > 0.1


def test_a_service_bend_with_open_leads_is_strained_as_its_voltage_lets_it():
    """Open leads hold their charge: V = charge/C_free bends back and stretches the section. The limit's
    strain is that of modes, load and voltage together, several per cent off the shorted one."""
    bend = StaticForce("hung weight", -2.0)
    shown = {}
    for circuit in (OPEN, Circuit("shorted")):
        project = lab(load=replace(FORCE, force_n=1e-9), circuit=circuit)
        project = replace(project, service=replace(project.service, static_forces=(bend,)))
        limits = {x.name: x.value for x in predict(project).limits}
        shown[circuit.kind] = limits["Tensile strain, static"]
    beam, reading = read(project)
    item = forcing(beam, active_load(project), project.view)
    charge = float(beam.deflection_row(0.3) @ beam.group_theta_rows[0])
    volts = charge / float(beam.group_free_f[0, 0])
    q = (item.aim.load.modal - beam.group_theta[:, 0] * volts) / beam.omega_rad_s**2
    strain = reading.strain.modal @ q + reading.strain.load + reading.strain.voltage[:, 0] * volts
    assert shown["open"] == pytest.approx((-2.0 * strain).max(), rel=1e-6)
    assert 0.002 < 1 - shown["open"] / shown["shorted"] < 0.06


@pytest.mark.parametrize("load", [PLUCK, KNOCK, FORCE, SHAKE, replace(SHAKE, random=True)])
def test_current_in_the_leads(load):
    """None out of open leads, V/R through a resistor."""
    short, open_ = (predict(lab(load=load, circuit=c)).groups[0].current_peak_a for c in (Circuit("shorted"), OPEN))
    assert open_ < 1e-4 * short
    group = predict(lab(load=load)).groups[0]
    assert group.current_peak_a == pytest.approx(group.voltage_peak_v / group.values[0].value, rel=1e-3)
