"""Charge at rest: which leads keep it, and what stands on them behind a capacitor in line, a negative one too."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.at_rest import held_ports, stored_f, volts_at_rest
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection
from core.circuit.transfer import forced
from core.predict.loads.transient import held_bend, transient
from core.predict.predict import predict
from core.project.candidate import Circuit, Instrument
from core.project.edit import with_candidate
from core.project.service import StaticForce
from core.study.layouts import layouts, placed
from tests.core.predict.loop.scene import closed
from tests.core.predict.scenes import FORCE, PLUCK, lab, lossless, side

IN_LINE = {
    "open": Circuit("open"),
    "negative C series R": Circuit("negative C series R", values={"negative_capacitance_f": 130e-9, "resistance_ohm": 1e4}),
    "current-flowing 2": Circuit("current-flowing 2", values={"capacitance_1_f": 20e-9, "capacitance_2_f": 50e-9}),
}


@pytest.mark.parametrize(
    ("kind", "expected"),
    [("open", 0.0), ("negative C series R", -130e-9), ("current-flowing 2", 70e-9), ("resistor", None), ("series R-L", None),
     ("parallel R-L", None), ("series-parallel 2", None), ("shorted", None), ("negative C parallel R", None)],
)  # fmt: skip
def test_what_a_circuit_stores_at_rest(kind, expected):
    values = IN_LINE[kind].values if kind in IN_LINE else {}
    found = stored_f(Connection(CIRCUITS[kind], CIRCUITS[kind].complete(values)))
    assert found is None if expected is None else found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("kind", IN_LINE)
def test_the_volts_at_rest_are_those_of_a_very_slow_force(kind):
    """Against the harmonic response as the frequency goes to nothing, which knows nothing of this rule."""
    item = side(lossless(lab(circuit=IN_LINE[kind])))
    load = item.forcing.aim.load
    charge = (load.modal / item.system.omega_rad_s**2) @ item.system.theta + load.electric
    slow = forced(item.system, load, np.array([1e-3])).voltage[0]
    np.testing.assert_allclose(volts_at_rest(item.system, charge), slow.real, rtol=1e-5)


@pytest.mark.parametrize("law", ["position", "velocity"])
def test_what_a_closed_loop_reads_stands_and_its_amplifier_holds_the_driven_leads(law):
    """The same way: position feedback has a gain at rest, velocity feedback none; the pick-up's own charge is not drained."""
    project = lossless(closed(law=law))
    candidate = project.candidate()
    groups = tuple(replace(group, instrument=None, bleed_ohm=None) for group in candidate.groups)
    item = side(with_candidate(project, replace(candidate, groups=groups)))
    driven, sensing = next(c.leads for c in item.system.connections if len(c.leads) > 1)
    load = item.forcing.aim.load
    charge = (load.modal / item.system.omega_rad_s**2) @ item.system.theta + load.electric
    found = volts_at_rest(item.system, charge)
    slow = forced(item.system, load, np.array([1e-3])).voltage[0]
    assert list(held_ports(item.system)) == [sensing] and abs(found[sensing]) > 0.0
    assert (abs(found[driven]) > 1e-3 * abs(found[sensing])) == (law == "position")
    np.testing.assert_allclose(found, slow.real, rtol=1e-5, atol=1e-6 * abs(found[sensing]))


def test_a_wire_in_a_branch_conducts():
    values = CIRCUITS["series-parallel 2"].complete({"resistance_1_ohm": 0.0, "resistance_2_ohm": 0.0})
    assert stored_f(Connection(CIRCUITS["series-parallel 2"], values)) is None


def test_many_layouts_stand_as_each_does():
    """Behind a negative capacitance that differs, too."""
    project, patch = lab(circuit=IN_LINE["negative C series R"]), lab().candidate().patches[0]
    starts, sizes = np.array([0.01, 0.05, 0.12]), np.array([110e-9, 130e-9, 150e-9])
    path = f"candidates[{project.active}].groups[G1].circuit.values.negative_capacitance_f"
    varied = placed(project.candidate(), patch.id, starts) | {path: sizes}
    many = layouts(project, project.candidate(), varied, 5)
    charge = 1e-6 * np.arange(1.0, 7.0).reshape(3, 2, 1)
    together = volts_at_rest(many.system, charge)
    for k in range(3):
        np.testing.assert_allclose(together[k], volts_at_rest(many.system.one(k), charge[k]), rtol=1e-12)


def test_an_input_lets_all_charge_go():
    assert held_ports(side(lab(circuit=IN_LINE["open"], instrument=Instrument())).system) == {}
    assert list(held_ports(side(lab(circuit=IN_LINE["open"])).system)) == [0]


@pytest.mark.parametrize("kind", IN_LINE)
def test_a_release_begins_with_what_stood_inside_the_circuit_too(kind):
    """The volts jump with the truncated modes' charge; the capacitors in the circuit keep what stood."""
    item = side(lossless(lab(load=PLUCK, circuit=IN_LINE[kind])))
    stood = held_bend(item.system, item.forcing, PLUCK.deflection_m)[0][0]
    free = transient(item.system, item.forcing)[-1].free
    inner = free.inner[0].sum(axis=1).real
    expected = {
        "open": [],
        "negative C series R": [np.sqrt(130e-9) * stood],
        "current-flowing 2": [0.0, np.sqrt(20e-9) * stood, 0.0, np.sqrt(50e-9) * stood],
    }[kind]
    assert stood
    np.testing.assert_allclose(inner, expected, atol=1e-6 * abs(stood) * np.sqrt(50e-9))


def test_a_bend_behind_a_negative_capacitance_is_told_with_all_its_volts_and_its_field():
    """C/(C - C_neg) of the open leads' volts, the other way round: more than three times as many at 1.3 C."""
    free = predict(lab()).groups[0].free_capacitance_f
    circuit = Circuit("negative C series R", values={"negative_capacitance_f": 1.3 * free, "resistance_ohm": 1e4})
    project = lossless(lab(load=replace(FORCE, force_n=1e-9), circuit=circuit))
    service = replace(project.service, static_forces=(StaticForce("bend", -3.0),), cold_c=20.0, hot_c=20.0)
    found = predict(replace(project, service=service))
    own = found.leads.of("group G1")
    opened = next(one for one in own.found if one.is_open)
    assert own.largest.cause.endswith("with the circuit")
    assert own.largest.volts == pytest.approx(opened.volts / 0.3, rel=1e-4)
    fields = {limit.name: limit.value for limit in found.limits if limit.load.startswith("bend") and "Field" in limit.name}
    along, against = fields["Field along the poling, leads open"], fields["Field against the poling, static"]
    assert along > 0.0 and against == pytest.approx(-along / 0.3, rel=1e-3)
