"""One description of each input: the panel, problems, tolerances, origins and changes all agree with it."""

from __future__ import annotations

import pytest

from core import units
from core.circuit.registry import CIRCUITS
from core.handover.releases import inputs as all_inputs
from core.project import library
from core.project.fields import FIELDS
from core.project.labels import field_of, label_of
from core.project.provenance import inputs
from core.study.tolerance.uncertain import uncertain_inputs

EXAMPLES = [key for key, _ in library.examples()]
PURE = ("Permittivity", "Poisson's ratio", "Loss factor", "Number of strips", "Polarity", "Mode tuned on", "Weights",
        "Active load", "Modes asked for", "Values asked for", "Load asked for", "Parts of the batch", "Spectrum", "Modes the loop damps", "Numerator",
        "Denominator", "Gain of")  # fmt: skip
"""Inputs that are plain numbers; every other number has a unit."""


@pytest.mark.parametrize("key", EXAMPLES)
def test_every_input_that_can_change_has_a_name_and_a_number_has_a_unit(key):
    project = library.example(key)
    for label, text in all_inputs(project):
        assert "_" not in label, label
        try:
            float(text)
        except ValueError:
            continue
        assert label.startswith(PURE), (label, text)


@pytest.mark.parametrize("key", EXAMPLES)
def test_an_uncertain_value_is_told_in_the_unit_of_its_own_dimension(key):
    project = library.example(key)
    for row in uncertain_inputs(project, project.candidate()):
        if row.kind != "value":
            continue
        field = field_of(row.path)
        assert row.unit == ("" if field.unit == "1" else field.unit)
        told = units.show_with_unit(row.nominal, row.unit or "1", significant=4)
        assert "e" not in told.split()[0], (row.path, told)


def test_springs_and_inertias_have_their_units():
    assert field_of("structure.root.k_t_n_m").unit == "kN/m"
    assert field_of("structure.springs[0].k_r_nm_rad").unit == "N m/rad"
    assert field_of("structure.masses[0].rotary_inertia_kg_m2").unit == "kg mm2"


def test_labels_of_origins_are_those_of_the_fields():
    labels = {field.label for field in FIELDS.values()}
    project = library.example("gantry-bracket")
    for entry in inputs(project):
        start = entry.label.partition(" of ")[0].partition(" on ")[0]
        named = entry.label in labels or start in labels or entry.label.startswith(("Support at", "Load:", "Static force:"))
        assert named or any(entry.label.startswith(label) for label in labels) or entry.label.startswith(
            ("Build-up of package", "Cut-out")
        ), entry.label


def test_what_changed_names_the_thing_in_words():
    assert label_of("materials[Steel].youngs_modulus_pa.value") == "Young's modulus of Steel"
    assert label_of("materials[Steel].density_kg_m3.tolerance") == "tolerance of density of Steel"
    assert label_of("structure.layers[core].thickness_m[3]") == "Thickness at station 3 of layer core"
    assert label_of("structure.root.k_r_nm_rad") == "Stiffness against turning of the root"
    assert label_of("service.loads[pluck].deflection_m") == "Deflection of load pluck"
    assert label_of("sheet.tolerance_x_m") == "Tolerance along"


def test_circuits_call_their_values_as_the_fields_do():
    for kind in CIRCUITS.values():
        for parameter in kind.parameters:
            field = FIELDS.get(f"values.{parameter.name}")
            if field is not None:
                assert (parameter.label, parameter.unit) == (field.label, field.unit)


def test_units_and_ranges_are_of_one_dimension():
    for key, field in FIELDS.items():
        if field.unit:
            units.symbol(field.unit)  # a KeyError for a unit that nobody could type
            assert field.range.low < field.range.high, key


def test_every_unit_shown_has_one_without_a_factor():
    """In which a plain number counts that is set from outside."""
    for field in FIELDS.values():
        if field.unit:
            assert units.to_si(1.5, units.si_of(field.unit)) == 1.5
