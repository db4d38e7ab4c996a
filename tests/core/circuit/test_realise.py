"""Circuits with real parts are the ideal ones, whatever they are built from."""

from __future__ import annotations

import numpy as np
import pytest

from core.circuit.board import BOLTZMANN_J_K, ROOM_K, admittance, noise_v2_hz, voltages
from core.circuit.network import Part
from core.circuit.preferred import SERIES, nearest
from core.circuit.realise import Component, realised
from core.project.candidate import Build
from tests.core.circuit.nodal import admittance as ideal_admittance
from tests.core.handover.spice import needs_ngspice, run

S = 2j * np.pi * np.geomspace(2.0, 2000.0, 25)
OMEGA = 2 * np.pi * 20.0


def _current(parts: tuple[Component, ...], lead: str, others: tuple[str, ...] = ()) -> np.ndarray:
    """Into the parts per volt on a lead, the others at the return."""
    leads = (lead, *others)
    across = voltages(parts, leads, S)[:, :, 0]
    flows = np.zeros(len(S), dtype=complex)
    for k, part in enumerate(parts):
        if part.what != "amplifier" and lead in part.ends[:2]:
            sign = 1.0 if part.ends[0] == lead else -1.0
            flows += sign * admittance(part, S) * across[:, k]
    return flows


GROUNDED = {
    "a simulated inductor": (Part("R", "resistor", 5e3, ("lead", "n1"), "r"), Part("L", "inductor", 480.0, ("n1", "0"), "l")),
    "a wound one": (Part("R", "resistor", 5e3, ("lead", "n1"), "r"), Part("L", "inductor", 0.4, ("n1", "0"), "l")),
    "a negative capacitance in line": (Part("R", "resistor", 5e4, ("lead", "n1"), "r"), Part("Cn", "negative capacitor", 82e-9, ("n1", "0"), "c")),
    "one across the leads": (Part("R", "resistor", 5e4, ("lead", "0"), "r"), Part("Cn", "negative capacitor", 47e-9, ("lead", "0"), "c")),
    "a floating inductor": (Part("L", "inductor", 330.0, ("lead", "n1"), "l"), Part("R", "resistor", 2e4, ("n1", "0"), "r")),
    "two in one circuit": (
        Part("L1", "inductor", 480.0, ("lead", "0"), "l"), Part("L2", "inductor", 90.0, ("lead", "n1"), "m"), Part("C", "capacitor", 1e-8, ("n1", "0"), "c"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", GROUNDED)
@pytest.mark.parametrize("series", ["exact", "E96"])
def test_real_parts_take_the_current_of_the_ideal_ones(name, series):
    network = GROUNDED[name]
    parts = realised(network, Build(series=series), OMEGA)
    wanted = ideal_admittance(network, ("lead",), S)[:, 0, 0]
    assert np.abs(_current(parts, "lead") / wanted - 1.0).max() < (1e-9 if series == "exact" else 0.1)
    if series != "exact":
        assert all(part.value == nearest(part.value, series) for part in parts if part.what in ("resistor", "capacitor", "coil"))


def test_a_preferred_value_is_made_of_preferred_parts_exactly():
    """All but one of the parts are decades: a value of the series costs nothing again."""
    for series, steps in SERIES.items():
        for value in (100.0 * steps[0], 100.0 * steps[5], 1000.0 * steps[-1]):
            inductor = (Part("L", "inductor", value, ("lead", "0"), "l"),)
            parts = realised(inductor, Build(series=series), OMEGA)
            assert _current(parts, "lead") == pytest.approx(1.0 / (S * value), rel=1e-9)


def test_what_is_wound_and_what_is_simulated():
    one = Part("L", "inductor", 2.0, ("lead", "0"), "l")
    assert [part.what for part in realised((one,), Build(largest_coil_h=3.0), OMEGA)] == ["coil"]
    kinds = [part.what for part in realised((one,), Build(), OMEGA)]
    assert kinds.count("amplifier") == 2 and kinds.count("capacitor") == 1 and "coil" not in kinds
    floating = Part("L", "inductor", 2.0, ("lead", "n1"), "l")
    assert [part.what for part in realised((floating,), Build(), OMEGA)].count("amplifier") == 4
    with pytest.raises(ValueError, match="common return"):
        realised((Part("Cn", "negative capacitor", 1e-8, ("lead", "n1"), "c"),), Build(), OMEGA)


@pytest.mark.parametrize("value", [3.0, 40.0, 480.0, 7e3])
def test_no_amplifier_swings_much_more_than_the_inductor(value):
    parts = realised((Part("L", "inductor", value, ("lead", "0"), "l"),), Build(), OMEGA)
    across = np.abs(voltages(parts, ("lead",), np.array([1j * OMEGA]))[0, :, 0])
    swings = [size for size, part in zip(across, parts, strict=True) if part.what == "amplifier"]
    assert len(swings) == 2 and max(swings) < 1.8


def test_a_resistors_noise_into_a_capacitor():
    """4 k T R over 1 + (omega R C)^2, whose integral is k T/C (Johnson, Nyquist 1928)."""
    resistance, capacitance = 1e5, 5e-8
    parts = (Component("R", "resistor", resistance, ("lead", "0"), "R"),)
    omega = np.geomspace(1e-3, 1e6, 20000)
    density = noise_v2_hz(parts, "lead", 1j * omega * capacitance, 1j * omega)
    wanted = 4 * BOLTZMANN_J_K * ROOM_K * resistance / (1 + (omega * resistance * capacitance) ** 2)
    assert density == pytest.approx(wanted, rel=1e-9)
    whole = float((0.5 * (density[1:] + density[:-1]) * np.diff(omega)).sum() / 2 / np.pi)
    assert whole == pytest.approx(BOLTZMANN_J_K * ROOM_K / capacitance, rel=1e-3)


@needs_ngspice
def test_a_floating_inductor_of_real_amplifiers(tmp_path):
    """In ngspice, with amplifiers of 3 MHz: within 0.2 % of the ideal one in line with two resistors."""
    inductor = Part("L", "inductor", 330.0, ("b", "c"), "l")
    lines = ["* floating", "V1 a 0 AC 1", "R1 a b 30k", "R2 c 0 20k", *_deck(realised((inductor,), Build(), OMEGA)), ".end"]
    hertz, (found,) = run("\n".join(lines), "ac dec 20 5 100", ["c"], tmp_path)
    wanted = 2e4 / (5e4 + 2j * np.pi * hertz * 330.0)
    assert np.abs(found - wanted).max() < 2e-3 * np.abs(wanted).max()


def _deck(parts):
    from core.handover.netlist import amplifier_lines, component_line

    return [*(component_line(part, "G1") for part in parts), *amplifier_lines()]


def test_a_coil_of_nothing_is_a_wire():
    parts = (Component("L", "coil", 0.0, ("lead", "m"), "L"), Component("R", "resistor", 1e3, ("m", "0"), "R"))
    np.testing.assert_allclose(voltages(parts, ("lead",), S)[:, :, 0], np.broadcast_to([0.0, 1.0], (len(S), 2)), atol=1e-8)
