"""The whole prediction: every example, every circuit, agreement of its parts, the report."""

import json
import math
import re

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.registry import CIRCUITS
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library
from core.project.candidate import Candidate, Circuit, Tuning
from tests.core.predict.scenes import (
    FORCE,
    RESISTOR,
    RESONANT,
    lab,
    lossless,
    two_groups,
    with_candidate,
)
from tests.levels import beam_example
from tests.published.build import plain

CASES = [(key, c.id) for key, _ in library.examples() for c in beam_example(key).candidates]


@pytest.mark.parametrize(("key", "candidate"), CASES)
def test_every_example_gives_a_whole_prediction(key, candidate):
    project = beam_example(key)
    found = predict(project, candidate)
    assert len(found.modes) == project.view.modes_shown
    assert found.unstable == ()
    for mode in found.modes:
        assert 0 <= mode.k2 < 1
        assert mode.zeta >= 0.999 * mode.zeta_inherent
        assert mode.poles
        assert min(p.damping_ratio for p in mode.poles if p.mechanical_share >= 0.1) == pytest.approx(
            mode.zeta
        )
    assert np.isfinite(found.response.after).all()
    text = prediction_text(project, found)
    assert not re.search(r"\bnan\b", text)
    json.dumps(prediction_json(project, found), allow_nan=False)


def test_same_input_same_numbers():
    one, two = (prediction_json(lab(), predict(lab())) for _ in range(2))
    assert one == two


@pytest.mark.parametrize("kind", list(CIRCUITS))
@pytest.mark.parametrize("rule", ["closed form", "optimum"])
def test_every_circuit_is_predicted(kind, rule):
    circuit = Circuit(kind, tuning=Tuning(1, rule) if CIRCUITS[kind].closed_form else None)
    found = predict(lab(circuit=circuit))
    assert found.groups[0].circuit == kind
    assert found.unstable == ()
    assert all(math.isfinite(v.value) for v in found.groups[0].values)


def test_resistor_adds_a_quarter_of_k2():
    """Hagood & von Flotow 1991: largest added damping K^2/4 for well separated modes."""
    found = predict(lossless(lab(circuit=Circuit("resistor", tuning=Tuning(1, "optimum")))))
    assert found.modes[0].zeta - 0.0015 == pytest.approx(found.modes[0].k2 / 4, rel=0.01)


def test_resonant_shunt_reaches_half_of_k_on_both_poles():
    found = predict(lossless(lab(circuit=Circuit("series R-L", tuning=Tuning(1, "optimum")))))
    poles = found.modes[0].poles
    assert len(poles) == 2
    for pole in poles:
        assert pole.damping_ratio == pytest.approx(found.modes[0].k2 ** 0.5 / 2 + 0.0015, rel=0.01)


def test_rigid_bond_on_the_lab_beam_against_an_independent_script():
    """Hermite elements, eight modes, lossless: 0.337 % added by R, 5.96 % per pole by R-L at K^2 = 1.352 %;
    913 H; capacitances 67.1 (blocked), 68.4 (seen by mode 1), 69.4 nF (free on the beam)."""
    project = plain(lossless(lab(circuit=Circuit("series R-L", tuning=Tuning(1, "optimum")))))
    candidate = project.candidate()
    patch = replace(candidate.patches[0], bond=replace(candidate.patches[0].bond, rigid=True))
    found = predict(with_candidate(project, replace(candidate, patches=(patch,))))
    group = found.groups[0]
    assert found.modes[0].k2 == pytest.approx(0.01352, rel=0.01)
    assert found.modes[0].zeta == pytest.approx(0.0596, rel=0.01)
    assert group.values[0].value == pytest.approx(913, rel=0.005)
    assert group.blocked_capacitance_f == pytest.approx(67.1e-9, rel=2e-3)
    assert group.modal_capacitance_f[0] == pytest.approx(68.4e-9, rel=2e-3)
    assert group.free_capacitance_f == pytest.approx(69.4e-9, rel=2e-3)


@pytest.mark.parametrize("circuit", [Circuit("shorted"), Circuit("open")])
def test_poles_lie_at_the_short_and_open_frequencies(circuit):
    found = predict(lossless(lab(circuit=circuit)))
    for mode in found.modes:
        wanted = mode.f_short_hz if circuit.kind == "shorted" else mode.f_open_hz
        assert mode.poles[0].frequency_hz == pytest.approx(wanted, rel=2e-7)


def test_optimum_beats_the_closed_form_for_its_goal():
    for goal in ("damping", "peak", "mean square"):
        both = [
            predict(
                lab(
                    circuit=Circuit("series R-L", tuning=Tuning(1, rule, goal)),
                    load=replace(FORCE, band_hz=(10, 40)),
                )
            )
            for rule in ("closed form", "optimum")
        ]
        score = {
            "damping": lambda p: -p.modes[0].zeta,
            "peak": lambda p: p.modes[0].peak_change_db,
            "mean square": lambda p: p.response.mean_square_change_db,
        }[goal]
        assert score(both[1]) <= score(both[0]) + 1e-3


def test_two_groups_each_tame_their_mode():
    second = Circuit("series R-L", tuning=Tuning(mode=2))
    found = predict(two_groups(lab(), RESONANT, second))
    assert found.modes[0].zeta > 0.03 and found.modes[1].zeta > 0.02
    assert len(found.groups) == 2 and len(found.modes[0].group_k2) == 2
    alone = predict(two_groups(lab(), RESONANT, Circuit("shorted")))
    assert alone.modes[1].zeta < 0.3 * found.modes[1].zeta


def test_no_patch_and_no_group():
    found = predict(with_candidate(lab(), Candidate("A", "bare")))
    assert found.groups == () and found.limits == ()
    assert found.modes[0].electrode_use is None
    assert found.modes[0].zeta == pytest.approx(0.0015, rel=1e-9)
    assert found.added_mass_kg == 0.0
    prediction_text(lab(), found)


def test_a_patch_without_a_group_is_shorted():
    project = lab()
    found = predict(with_candidate(project, replace(project.candidate(), groups=())))
    assert found.modes[0].zeta == pytest.approx(0.0015, rel=1e-9)
    assert found.added_mass_kg > 0
    assert any(x.name == "Strain in vibration" for x in found.limits)


def test_tip_stiffness_is_three_ei_over_l_cubed():
    assert predict(lab()).tip_stiffness_n_m == pytest.approx(
        3 * 70e9 * 0.03 * 0.002**3 / 12 / 0.3**3, rel=1e-9
    )


def test_json_names_units_and_has_no_nan():
    found = prediction_json(lab(), predict(lab(circuit=RESISTOR)))
    mode, group = found["modes"][0], found["groups"][0]
    for key in (
        "f_short_hz",
        "f_open_hz",
        "k2",
        "k_eff2",
        "ceramic_energy_share",
        "package_energy_share",
        "zeta_inherent",
        "zeta",
        "poles",
        "peak_change_db",
    ):
        assert key in mode
    for key in (
        "blocked_capacitance_f",
        "free_capacitance_f",
        "circuit",
        "values",
        "voltage_peak_v",
        "power_w",
    ):
        assert key in group
    assert {"margin", "allowable", "unit", "load_at_limit", "source", "x_m"} <= set(found["limits"][0])
    assert group["values"].keys() == {"resistance_ohm"}
    assert mode["k_eff2"] == pytest.approx(mode["k2"] / (1 + mode["k2"]))


def test_assumed_inputs_are_named_until_measured():
    project = lab()
    assert any(x.startswith("Aluminium alloy: Young's modulus, density") for x in predict(project).assumed_inputs)
    assert "Support at the root (clamped, taken as rigid)" in predict(project).assumed_inputs
    known = tuple(
        replace(m, youngs_modulus_pa=replace(m.youngs_modulus_pa, status="measured"))
        for m in project.materials
    )
    assert not any("Young's modulus" in x for x in predict(replace(project, materials=known)).assumed_inputs)


def test_unknown_candidate_is_a_key_error():
    with pytest.raises(KeyError):
        predict(lab(), "Z")
