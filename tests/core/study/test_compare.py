"""What differs in the inputs of two candidates."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.project import edit, library
from core.project.candidate import Build, Circuit, Instrument, Tuning
from core.study.compare import ABSENT, input_differences


@pytest.fixture
def project():
    """The lab beam with a copy of its first candidate as the active one."""
    return edit.keep_candidate(library.example("lab-beam"))


def changed(project, **fields):
    patch = replace(project.candidate().patches[0], **fields)
    return edit.with_patch(project, project.active, patch)


def only(project):
    found = input_differences(project, "A", project.active)
    assert len(found) == 1, found
    return found[0]


def test_a_copy_differs_in_nothing_though_its_name_does(project):
    assert input_differences(project, "A", project.active) == ()


@pytest.mark.parametrize(
    ("fields", "label", "other"),
    [
        ({"x_start_m": 0.0375}, "P1 ceramic starts at", "37.5 mm"),
        ({"length_m": 0.04}, "P1 ceramic length", "40 mm"),
        ({"face": "underside"}, "P1 face", "underside"),
        ({"lead_exit": "left"}, "P1 lead exit", "left"),
        ({"angle_rad": 0.017453292519943295}, "P1 angle", "1°"),
    ],
)
def test_each_patch_input_is_told_in_display_units(project, fields, label, other):
    found = only(changed(project, **fields))
    assert found.label == label
    assert found.other.replace(" ", "") == other.replace(" ", "")
    assert found.path == f"patches[P1].{next(iter(fields))}"


def test_the_bond_is_looked_into(project):
    bond = replace(project.candidate().patches[0].bond, thickness_m=1e-4)
    found = only(changed(project, bond=bond))
    assert (found.label, found.other) == ("P1 bond line", "100 µm")


def test_fixed_circuit_values_are_inputs_and_tuned_ones_are_not(project):
    group = project.candidate().groups[0]
    tuned = Circuit("resistor", {"resistance_ohm": 1e4}, group.circuit.tuning)
    other_values = edit.with_group(project, project.active, replace(group, circuit=tuned))
    assert input_differences(other_values, "A", other_values.active) == ()
    fixed = Circuit("resistor", {"resistance_ohm": 1e4}, None)
    found = input_differences(
        edit.with_group(project, project.active, replace(group, circuit=fixed)), "A", project.active
    )
    assert {d.label: d.other for d in found} == {"G1 circuit values": ABSENT, "G1 resistance": "10 kΩ"}


def test_what_a_rule_leaves_alone_is_an_input_beside_it(project):
    """An added capacitor is typed, whatever rule sets the coil and the resistor."""
    group = project.candidate().groups[0]

    def hung(candidate: str, farad: float, ohm: float):
        circuit = Circuit("series R-L + C", {"added_capacitance_f": farad, "resistance_ohm": ohm}, Tuning(1))
        return edit.with_group(project, candidate, replace(group, circuit=circuit))

    project = hung("A", 1e-8, 1e4)
    found = only(hung(project.active, 9e-8, 2e4))
    assert (found.label, found.reference, found.other) == ("G1 added capacitance", "10 nF", "90 nF")


def test_the_parts_it_is_built_from_are_inputs(project):
    candidate = replace(project.candidate(), build=Build(series="E12", supply_v=100.0, prices={"V": 7.0}))
    candidates = tuple(candidate if c.id == candidate.id else c for c in project.candidates)
    found = input_differences(replace(project, candidates=candidates), "A", candidate.id)
    assert [(d.label, d.other) for d in found] == [("Parts from", "E12"), ("Supply of the amplifiers, each way", "100 V")]


def test_the_tuning_rule_is_told_in_words(project):
    group = project.candidate().groups[0]
    circuit = replace(group.circuit, tuning=Tuning(mode=3, rule="optimum", goal="peak"))
    found = only(edit.with_group(project, project.active, replace(group, circuit=circuit)))
    assert found.other == "follow mode 3, optimum, goal peak"


def test_an_instrument_only_one_of_them_has(project):
    group = project.candidate().groups[0]
    with_probe = replace(group, instrument=Instrument(resistance_ohm=1e7, capacitance_f=1e-10))
    found = input_differences(
        edit.with_group(project, project.active, with_probe), "A", project.active
    )
    assert [(d.label, d.reference, d.other) for d in found] == [
        ("G1 input resistance", ABSENT, "10 MΩ"),
        ("G1 cable capacitance", ABSENT, "100 pF"),
    ]


def test_a_patch_only_one_of_them_has_is_listed_from_both_sides(project):
    more = edit.add_patch(project, project.active)
    forward = input_differences(more, "A", more.active)
    backward = input_differences(more, more.active, "A")
    assert forward and all(d.reference == ABSENT for d in forward)
    assert {(d.path, d.other) for d in forward} == {(d.path, d.reference) for d in backward}


def test_the_pair_switch_counts_only_for_a_pair(project):
    assert input_differences(changed(project, pair_bending=False), "A", project.active) == ()
    pair = changed(project, face="both", pair_bending=False)
    labels = [d.label for d in input_differences(pair, "A", pair.active)]
    assert "P1 pair wired for bending" in labels


def test_an_unknown_candidate_is_a_key_error(project):
    with pytest.raises(KeyError):
        input_differences(project, "A", "Q")
