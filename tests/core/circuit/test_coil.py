"""A coil's own loss counts in every circuit with one, and in its best resistance."""

import numpy as np
import pytest

from core.circuit import coil
from core.circuit.kind import Target
from core.circuit.registry import CIRCUITS, PORTS
from core.circuit.spectrum import spectra
from core.predict.predict import predict
from core.project.candidate import Circuit, Tuning
from tests.core.circuit.scenes import connection, three_modes
from tests.core.predict.scenes import lab

COILS = [kind for kind in PORTS.values() if kind.resonates]


@pytest.mark.parametrize("kind", COILS, ids=lambda kind: kind.key)
def test_every_kind_with_an_inductor_has_a_field_for_both_losses(kind):
    names = {p.name.split("_")[0] for p in kind.parameters if p.loss}
    assert names == {"winding", "core"}


def test_a_winding_is_resistance_in_line():
    bare, wound = (connection("series R-L", inductance_h=0.09, **r) for r in (
        {"resistance_ohm": 0.05}, {"resistance_ohm": 0.02, "winding_ohm": 0.03}))  # fmt: skip
    one, other = (spectra(three_modes(c), 3) for c in (bare, wound))
    for a, b in zip(one, other, strict=True):
        np.testing.assert_allclose(a.value_rad_s, b.value_rad_s, rtol=1e-12)


def test_a_core_is_a_conductance_beside_the_inductance():
    """A parallel circuit does not know whose conductance it is."""
    one, other = (spectra(three_modes(connection("parallel R-L", inductance_h=0.09, **r)), 3) for r in (
        {"resistance_ohm": 1.0 / 0.5}, {"resistance_ohm": 1.0 / 0.2, "core_s": 0.3}))  # fmt: skip
    for a, b in zip(one, other, strict=True):
        np.testing.assert_allclose(a.value_rad_s, b.value_rad_s, rtol=1e-12)


@pytest.mark.parametrize("rule", ["closed form", "optimum"])
def test_the_best_resistor_is_what_the_winding_leaves(rule):
    """Both together are the best resistance, and the damping is the same, as long as the winding is less."""
    def tuned(**values):
        return predict(lab(circuit=Circuit("series R-L", values, Tuning(1, rule))))

    ideal, wound = tuned(), tuned(winding_ohm=9e3)
    values = [{v.name: v.value for v in found.groups[0].values} for found in (ideal, wound)]
    assert values[1]["resistance_ohm"] + 9e3 == pytest.approx(values[0]["resistance_ohm"], rel=1e-6)
    assert values[1]["inductance_h"] == pytest.approx(values[0]["inductance_h"], rel=1e-6)
    assert wound.modes[0].zeta == pytest.approx(ideal.modes[0].zeta, rel=1e-4)


@pytest.mark.parametrize("kind", ["series R-L", "parallel R-L"])
def test_a_core_takes_its_part_of_the_best_resistance_too(kind):
    def tuned(**values):
        return predict(lab(circuit=Circuit(kind, values, Tuning(1, "optimum"))))

    ideal, lossy = tuned(), tuned(core_s=3e-7)
    assert lossy.modes[0].zeta == pytest.approx(ideal.modes[0].zeta, rel=0.02)
    assert {v.name: v.value for v in lossy.groups[0].values}["resistance_ohm"] != pytest.approx(
        {v.name: v.value for v in ideal.groups[0].values}["resistance_ohm"], rel=0.02
    )


def test_a_coil_that_loses_more_than_is_best_is_told_as_a_bound():
    found = predict(lab(circuit=Circuit("series R-L", {"winding_ohm": 8e4}, Tuning(1, "optimum"))))
    ideal = predict(lab(circuit=Circuit("series R-L", tuning=Tuning(1, "optimum"))))
    assert found.modes[0].zeta < 0.8 * ideal.modes[0].zeta
    assert any("the coil loses more than is best" in remark for remark in found.groups[0].remarks)
    assert not any("coil loses more" in remark for remark in ideal.groups[0].remarks)


def test_a_loss_that_is_not_there_is_not_told():
    ideal = predict(lab(circuit=Circuit("series R-L", tuning=Tuning(1)))).groups[0].values
    wound = predict(lab(circuit=Circuit("series R-L", {"winding_ohm": 700.0}, Tuning(1)))).groups[0].values
    assert [v.name for v in ideal] == ["inductance_h", "resistance_ohm"]
    assert [v.name for v in wound] == ["inductance_h", "resistance_ohm", "winding_ohm"]


def test_a_branch_that_needs_nothing_more_still_has_a_resistance():
    """As good as none: a search moves values by factors."""
    target = Target(120.0, 0.01, 7e-8, given={"winding_ohm": 1e9})
    for key in ("series R-L", "parallel R-L"):
        values = CIRCUITS[key].closed_form("damping", target)
        assert values["resistance_ohm"] > 0.0


@pytest.mark.parametrize("more", [8e3, 5e2])
def test_what_is_left_in_line_and_beside_makes_the_loss_wanted(more):
    """Of a real coil at one frequency: the resistance of winding, core and what is added in line is the one wanted, and
    the conductance of winding, core and what is added beside it; all but none where the coil has more of its own."""
    omega, inductance = 2 * np.pi * 20.0, 300.0
    values = {"inductance_h": inductance, "winding_ohm": 700.0, "core_s": 2e-7}
    reactance = omega * inductance
    added = coil.left_in_line(values, more, reactance)
    over, under = coil.pair(values, np.array([1j * omega]), added)
    own = (over / under)[0].real - added
    assert own == pytest.approx(700.0 + 2e-7 * reactance**2, rel=1e-3)
    assert added == pytest.approx(more - own, rel=1e-3) if more > own else 0.0 < added <= 2e-3 * more
    wanted = more / reactance**2
    beside = coil.left_beside(values, wanted, reactance)
    over, under = coil.pair(values, np.array([1j * omega]))
    own = (under / over)[0].real
    assert beside == pytest.approx(wanted - own, rel=1e-3, abs=0.0) if wanted > own else 0.0 < beside <= 2e-3 * wanted
