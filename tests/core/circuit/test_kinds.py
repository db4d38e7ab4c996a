"""Every entry of the registry: its two descriptions agree and it is passive."""

import numpy as np
import pytest

from core.circuit.kind import Target
from core.circuit.registry import CIRCUITS, PORTS

FREQUENCIES = np.array([0.01, 1.0, 40.0, 3e3])
KINDS = list(PORTS.values())


def some_values(kind):
    """Of every size, the losses of a coil too; no two branches alike."""
    size = {"kohm": 2.3e3, "H": 17.0, "nF": 6e-8, "uS": 3e-6}
    given = {p.name: (410.0 if p.name.startswith("winding") else size[p.unit]) * (1.0 + 0.7 * n)
             for n, p in enumerate(kind.parameters) if p.unit in size and not p.name.startswith(("added", "negative"))}  # fmt: skip
    return kind.complete(given)


@pytest.mark.parametrize("kind", KINDS, ids=list(PORTS))
def test_states_and_immittance_describe_the_same_circuit(kind):
    values = some_values(kind)
    port = kind.port(values)
    s = 1j * FREQUENCIES
    wanted = kind.admittance(values, s)
    if port.short:
        assert np.isinf(wanted).all()
        return
    states, flow = np.eye(port.states), port.flow
    found = [flow[0, 0] - flow[0, 1:] @ np.linalg.solve(x * states + flow[1:, 1:], flow[1:, 0]) for x in s]
    np.testing.assert_allclose(found, wanted, rtol=1e-10)


@pytest.mark.parametrize("kind", [k for k in KINDS if not k.active], ids=lambda k: k.key)
def test_no_circuit_gives_power_back(kind):
    values = some_values(kind)
    y = kind.admittance(values, 1j * FREQUENCIES)
    assert (y[np.isfinite(y)].real >= 0).all()


@pytest.mark.parametrize("kind", [k for k in KINDS if k.closed_form], ids=lambda k: k.key)
@pytest.mark.parametrize("goal", ["damping", "peak", "mean square", "weighted"])
def test_closed_form_sets_every_parameter_even_without_coupling(kind, goal):
    for k2 in (0.0, 1e-12, 0.01, 1.5):
        values = kind.closed_form(goal, Target(120.0, k2, 7e-8, further=(Target(700.0, k2, 7e-8), Target(1900.0, k2, 7e-8))))
        assert set(values) == set(kind.tuned) <= {p.name for p in kind.parameters}
        given = {p.name for p in kind.parameters if p.loss or p.name.startswith("capacitance")} | {"added_capacitance_f", "mass_kg", "negative_capacitance_f", "inversion_ratio"}
        assert {p.name for p in kind.parameters} - set(kind.tuned) <= given
        assert all(np.isfinite(v) and v >= 0 for v in values.values())


@pytest.mark.parametrize("kind", KINDS, ids=list(PORTS))
def test_names_end_in_their_unit_and_defaults_are_allowed(kind):
    for p in kind.parameters:
        assert p.name.rsplit("_", 1)[-1] in ("ohm", "h", "f", "s", "kg", "hz", "ratio")
        assert p.low <= p.default <= p.high


def test_values_for_100_nf_at_50_hz_and_k_a_tenth():
    """L = 1/(C omega^2 delta^2), R = r/(C omega) with the forms of Hagood & von Flotow 1991 and the pole
    placement of the parallel circuit."""
    target = Target(2 * np.pi * 50, 0.01, 1e-7)
    series = CIRCUITS["series R-L"].closed_form
    assert series("peak", target) == pytest.approx(
        {"inductance_h": 100.3180036, "resistance_ohm": 4457.011466}
    )
    assert series("damping", target) == pytest.approx(
        {"inductance_h": 99.32475605, "resistance_ohm": 6271.884649}
    )
    parallel = CIRCUITS["parallel R-L"].closed_form("damping", target)
    assert parallel == pytest.approx({"inductance_h": 101.3211836, "resistance_ohm": 159154.9431})
    resistor = CIRCUITS["resistor"].closed_form
    assert resistor("damping", target)["resistance_ohm"] == pytest.approx(31594.32614)
    assert resistor("peak", target)["resistance_ohm"] == pytest.approx(31751.70832)
