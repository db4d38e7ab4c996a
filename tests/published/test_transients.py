"""Extremes of strain and voltage under loads that happen once, against independent time integration
(`tests/reference/time_route.py`); random motion against fine independent quadrature."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.piezo.layout import solve
from core.predict.fields import fields
from core.predict.forcing import forcing
from core.predict.loads.loading import once
from core.predict.loads.transient import transient
from core.predict.predict import predict
from core.predict.response import Side
from core.project import library
from core.project.candidate import Circuit
from core.project.service import BaseShock, BaseStep, Impact, RandomBase, Release
from tests.published.build import plain
from tests.reference import time_route

BAND = (5.0, 800.0)
PLUCK = Release("pluck", 0.005, BAND)
CIRCUITS = {
    "shorted": Circuit("shorted"),
    "open": Circuit("open"),
    "resistor": Circuit("resistor", {"resistance_ohm": 8e4}),
    "R-L": Circuit("series R-L", {"resistance_ohm": 2e4, "inductance_h": 900.0}),
}
WITHIN = 0.01


def made(load, circuit):
    project = plain(library.example("lab-beam"))
    candidate = project.candidate("A")
    group = replace(candidate.groups[0], circuit=CIRCUITS[circuit])
    candidate = replace(candidate, groups=(group,))
    project = replace(
        project,
        candidates=(candidate,),
        active="A",
        service=replace(project.service, loads=(load,), active_load=0, static_forces=()),
        structure=replace(project.structure, damping=replace(project.structure.damping, ratios=(0.003,))),
    )
    return project, candidate


def vibration(project, candidate, load):
    beam = solve(project, candidate, n_modes=9)
    item = forcing(beam, load, project.view)
    side = Side(coupled_system(beam, candidate), item)
    return once(fields(beam), side, transient(side.system, item))


LOADS = {
    "release": (PLUCK, {"release": (0.005, 0.3)}),
    "impact": (
        Impact("knock", 0.01, 0.003, BAND),
        {"pulse": time_route.Pulse(0.01 * np.pi / 2 / 0.003, 0.003), "at_m": 0.3},
    ),
    "shock": (BaseShock("drop", 100.0, 0.011, BAND), {"pulse": time_route.Pulse(100.0, 0.011)}),
    "step": (BaseStep("brake", 3.0, BAND), {"pulse": time_route.Pulse(3.0, None)}),
}
QUICK = {("release", "shorted"), ("release", "resistor"), ("release", "open"), ("impact", "resistor"),
         ("shock", "resistor"), ("step", "shorted")}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "circuit"),
    [
        pytest.param(kind, circuit, marks=() if (kind, circuit) in QUICK else pytest.mark.slow)
        for kind in LOADS
        for circuit in CIRCUITS
    ],
)
def test_extremes_are_those_of_time_integration(kind, circuit):
    load, given = LOADS[kind]
    project, candidate = made(load, circuit)
    values = CIRCUITS[circuit].values
    resistance = {"shorted": 0.0, "open": np.inf}.get(circuit, values.get("resistance_ohm"))
    expected = time_route.integrate(
        project, candidate, **given,
        resistance_ohm=resistance,
        inductance_h=values.get("inductance_h", 0.0),
        # a resonant circuit fills, and a held charge leaks off, over many swings
        cycles=15.0 if circuit == "R-L" or (kind, circuit) == ("step", "open") else 2.5,
    )  # fmt: skip
    found = vibration(project, candidate, load)
    low, high = found.plates[0].strain
    size = max(-expected.strain[0][0], expected.strain[0][1])
    assert low == pytest.approx(expected.strain[0][0], abs=WITHIN * size)
    assert high == pytest.approx(expected.strain[0][1], abs=WITHIN * size)
    if circuit == "shorted":
        assert np.abs(found.plates[0].voltage).max() < 1e-9
        return
    volts = max(-expected.voltage[0], expected.voltage[1])
    assert found.plates[0].voltage[0] == pytest.approx(expected.voltage[0], abs=WITHIN * volts)
    assert found.plates[0].voltage[1] == pytest.approx(expected.voltage[1], abs=WITHIN * volts)
    assert found.group_voltage_v[0] == pytest.approx(volts, rel=WITHIN)


def test_the_pluck_of_the_lab_beam_exceeds_the_bend_it_starts_from():
    """168 microstrain in the static bend; higher modes come into phase at the first swing back, 228 to
    231 by direct integration."""
    project, candidate = made(PLUCK, "shorted")
    project = replace(project, structure=library.example("lab-beam").structure)
    low, high = vibration(project, candidate, PLUCK).plates[0].strain
    assert max(high, -low) == pytest.approx(229e-6, rel=0.015)
    shown = next(x for x in predict(project).limits if x.name == "Strain in vibration")
    assert shown.load.startswith("pluck")
    assert shown.value in (pytest.approx(low, rel=1e-3), pytest.approx(high, rel=1e-3))


def test_energy_in_the_resistor_is_that_of_time_integration():
    project, candidate = made(PLUCK, "resistor")
    damping = replace(project.structure.damping, ratios=(0.05,))
    project = replace(project, structure=replace(project.structure, damping=damping))
    expected = time_route.integrate(
        project, candidate, release=(0.005, 0.3), resistance_ohm=8e4, cycles=12.0, zeta=0.05
    )
    found = vibration(project, candidate, PLUCK)
    assert found.group_energy_j[0] == pytest.approx(expected.energy_j, rel=0.01)
    assert found.group_power_w[0] == pytest.approx(found.group_voltage_v[0] ** 2 / 8e4, rel=1e-9)


TABLE = ((10.0, 0.02), (60.0, 0.8), (300.0, 0.8), (600.0, 0.01))


def test_random_motion_is_three_sigma_of_a_fine_quadrature():
    load = RandomBase("truck", TABLE)
    project, candidate = made(load, "resistor")
    table = np.log(np.array(TABLE))
    strain, voltage, power = time_route.random_motion(
        project, candidate, lambda f: np.exp(np.interp(np.log(f), table[:, 0], table[:, 1])), (10.0, 600.0), 8e4
    )
    group = predict(project).groups[0]
    shown = next(x for x in predict(project).limits if x.name == "Strain in vibration")
    assert group.voltage_peak_v == pytest.approx(3 * voltage, rel=1e-3)
    assert shown.value == pytest.approx(3 * strain, rel=1e-3)
    assert group.power_w == pytest.approx(power, rel=2e-3)
    assert (group.voltage_meaning, group.power_meaning, group.energy_j) == ("3 sigma", "mean", None)
    assert "3 sigma of" in shown.load
