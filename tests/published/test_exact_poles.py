"""Poles of a beam with a circuit against the exact distributed model.

The transfer matrix takes a complex frequency and the circuit's impedance across the electrode
(V = -s Z Q); nothing is truncated. Our model keeps twelve modes and corrects the capacitance
for the rest. No inherent damping and no dielectric loss, which the reference does not have.
"""

import msgspec
import numpy as np
import pytest

from core.circuit.connect import coupled_system
from core.circuit.spectrum import spectrum_at
from core.project.candidate import Circuit, Tuning
from core.project.record import Constant
from tests.published.build import ceramic, group, package, place, project, solved, strip
from tests.published.test_worked_beams import cantilever_chain
from tests.reference.transfer_matrix import poles

IMPEDANCE = {
    "resistor": lambda v, s: v["resistance_ohm"],
    "series R-L": lambda v, s: v["resistance_ohm"] + s * v["inductance_h"],
    "parallel R-L": lambda v, s: 1 / (1 / v["resistance_ohm"] + 1 / (s * v["inductance_h"])),
}


@pytest.mark.parametrize("kind", IMPEDANCE)
@pytest.mark.parametrize("mode", [1, 2, 4])
def test_poles_with_a_tuned_circuit(kind, mode):
    """Single patch of the worked cantilever, circuit tuned to modes 1, 2 and 4 by its closed form; every
    pole of the first five modes, damping ratios included, to 2e-5."""
    lossless = msgspec.structs.replace(ceramic(), tan_delta=Constant(0.0))
    plate = package(lossless, 0.05, 0.02, 0.0005)
    circuit = Circuit(kind, tuning=Tuning(mode=mode))
    made = project(
        strip(0.3, 0.02, [("al", 0.002)], zeta=0.0), [("al", 70e9, 2700.0)], [plate], [place(plate, 0.01)],
        [group("P1", circuit=circuit)],
    )  # fmt: skip
    beam = solved(made)
    system = coupled_system(beam, made.candidate())
    values = system.connections[0].values
    found = spectrum_at(system, float(beam.omega_rad_s[mode - 1]))
    pick = found.oscillatory & (found.dominant < 5)
    ours = found.value_rad_s[pick]
    assert len(ours) == (5 if kind == "resistor" else 6)
    exact = poles(cantilever_chain(False, True), ours, lambda s: IMPEDANCE[kind](values, s))
    wanted = np.array([complex(s) for s in exact])
    assert np.abs(ours - wanted) / np.abs(wanted) == pytest.approx(np.zeros(len(ours)), abs=2e-5)
    assert -ours.real / np.abs(ours) == pytest.approx(-wanted.real / np.abs(wanted), abs=2e-5)
