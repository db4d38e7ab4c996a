"""A capacitor beside another circuit: coupling and inductance go down together, on the whole model."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.damping import mode_damping
from core.circuit.registry import CIRCUITS
from core.piezo.layout import solve
from core.predict.forcing import active_load, forcing
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Instrument, Tuning
from core.project.edit import with_candidate
from core.project.record import Constant

PLAIN = ["resistor", "series R-L", "parallel R-L"]


def lossless(project):
    packages = tuple(replace(p, ceramic=replace(p.ceramic, tan_delta=Constant(0.0))) for p in project.packages)
    return replace(project, packages=packages)


def with_circuit(candidate, circuit, instrument=None):
    group = replace(candidate.groups[0], circuit=circuit, instrument=instrument)
    return replace(candidate, groups=(group,))


def beam_and(circuit):
    project = lossless(library.example("lab-beam"))
    candidate = with_circuit(project.candidate("A"), circuit)
    return project, candidate, solve(project, candidate)


@pytest.mark.parametrize("kind", PLAIN)
def test_it_is_a_cable_of_that_capacitance(kind):
    """The instrument's cable is the same thing under another name: poles and response agree."""
    tuning = Tuning(1, "optimum")
    added = Circuit(f"{kind} + C", {"added_capacitance_f": 4e-8}, tuning)
    project, candidate, beam = beam_and(added)
    cabled = with_circuit(candidate, Circuit(kind, {}, tuning), Instrument("cable", 1e30, 4e-8))
    one, other = (coupled_system(beam, c) for c in (candidate, cabled))
    assert mode_damping(one, 3) == pytest.approx(mode_damping(other, 3), rel=1e-6)
    aim = forcing(beam, active_load(project), project.view).aim
    w = beam.omega_rad_s[0] * np.linspace(0.9, 1.1, 21)
    assert aim.squared(one, w) == pytest.approx(aim.squared(other, w), rel=1e-5)


@pytest.mark.parametrize("size", [0.3, 1.0, 3.0])
def test_coupling_and_inductance_fall_by_the_capacitances(size):
    """K^2 C/(C + C_a), and both poles at half the root of that; L C omega^2 (1 + K^2)^2 = 1 with what the
    circuit meets (Hagood & von Flotow 1991)."""
    _, candidate, beam = beam_and(Circuit("series R-L", {}, Tuning(1)))
    own = float(beam.modal_capacitance_f[0, 0])
    values = {"added_capacitance_f": size * own}
    found = coupled_system(beam, with_circuit(candidate, Circuit("series R-L + C", values, Tuning(1, "optimum"))))
    plain = coupled_system(beam, with_circuit(candidate, Circuit("series R-L", {}, Tuning(1, "optimum"))))
    share = 1.0 / (1.0 + size)
    inherent = float(beam.zeta0[0])
    gained = mode_damping(found, 1)[0] - inherent
    assert gained == pytest.approx(0.5 * (float(beam.k2[0]) * share) ** 0.5, rel=0.03)
    inductance = [c.connections[0].numbers["inductance_h"] for c in (found, plain)]
    k2 = float(beam.k2[0])
    expected = share * ((1.0 + k2) / (1.0 + k2 * share)) ** 2
    assert inductance[0] / inductance[1] == pytest.approx(expected, rel=0.01)


def test_an_entry_without_capacitor_is_the_plain_circuit():
    project = library.example("lab-beam")
    candidate = project.candidate("A")
    found = []
    for circuit in (Circuit("resistor", {}, Tuning(1)), Circuit("resistor + C", {"added_capacitance_f": 0.0}, Tuning(1))):
        found.append(predict(with_candidate(project, with_circuit(candidate, circuit)), "A"))
    assert [m.zeta for m in found[0].modes] == [m.zeta for m in found[1].modes]
    assert found[0].response.peak_after == found[1].response.peak_after


def test_every_entry_says_what_it_tunes():
    for kind in CIRCUITS.values():
        assert "added_capacitance_f" not in kind.tuned
