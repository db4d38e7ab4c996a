"""Which inputs a prediction leans on, and which of them are assumed."""

from __future__ import annotations

import msgspec
import pytest

from core.project import library, provenance
from core.project.candidate import Circuit, Instrument
from core.project.model import Origin
from core.project.structure import Support

replace = msgspec.structs.replace
LAB = library.example("lab-beam")


def labels(project, candidate=None):
    return {entry.label for entry in provenance.inputs(project, candidate)}


def test_an_input_nobody_spoke_for_is_assumed():
    bare = replace(LAB, origins={})
    assert "Width along the span" in provenance.assumed(bare)
    assert "Width along the span" not in provenance.assumed(LAB)


def test_a_constant_carries_its_own_status():
    name = "Young's modulus of Aluminium alloy"
    assert name in provenance.assumed(LAB)
    modulus = replace(LAB.materials[0].youngs_modulus_pa, status="measured", source="bending test")
    known = replace(LAB, materials=(replace(LAB.materials[0], youngs_modulus_pa=modulus), *LAB.materials[1:]))
    assert name not in provenance.assumed(known)
    entry = next(e for e in provenance.inputs(known) if e.label == name)
    assert (entry.status, entry.source) == ("measured", "bending test")


def test_the_origin_of_a_whole_holds_for_its_values():
    origins = {"structure.root": Origin("measured", "deflection test", 0.1)}
    assert provenance.origin_of(origins, "structure.root.k_r_nm_rad").source == "deflection test"
    assert provenance.origin_of(origins, "structure.tip.k_r_nm_rad").status == "assumed"
    assert provenance.origin_of({"structure.layers": Origin("data sheet")}, "structure.layers[2].pieces[0].width_m").status == "data sheet"  # fmt: skip


@pytest.mark.parametrize(
    ("root", "expected"),
    [
        (Support("clamped"), "Support at the root (clamped, taken as rigid)"),
        (Support("elastic", 1.0, 1.0), "Stiffness against turning of the root"),
    ],
)
def test_a_support_is_an_input(root, expected):
    assert expected in labels(replace(LAB, structure=replace(LAB.structure, root=root)))


def test_only_what_counts_is_listed():
    plain = replace(LAB, structure=replace(LAB.structure, level="plain"))
    assert not any("Loss factor" in label or "Poisson's ratio of Al" in label for label in labels(plain))
    damping = replace(LAB.structure.damping, from_loss_factors=True)
    both = replace(LAB, structure=replace(LAB.structure, damping=damping))
    assert {"Loss factor of Aluminium alloy", "Poisson's ratio of Aluminium alloy"} <= labels(both)
    assert "Inherent damping" not in labels(both)
    assert "Young's modulus of Epoxy bond, stiff" in labels(LAB)
    assert not any("Type VI" in label for label in labels(LAB))


def test_fixed_circuit_values_and_instruments_are_inputs():
    group = replace(
        LAB.candidate("A").groups[0],
        circuit=Circuit("resistor", {"resistance_ohm": 1e5}),
        instrument=Instrument(),
    )
    fixed = replace(LAB, candidates=(replace(LAB.candidates[0], groups=(group,)),))
    assert {"Resistance of group G1", "Input resistance on group G1"} <= labels(fixed) - labels(LAB)


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_examples_name_inputs_that_exist(key):
    project = library.example(key)
    for candidate in project.candidates:
        found = provenance.inputs(project, candidate.id)
        assert len({entry.path for entry in found}) == len(found)
    paths = {entry.path for entry in provenance.inputs(project)}
    for origin in project.origins:
        assert any(path == origin or path.startswith(f"{origin}.") for path in paths), origin


def test_constants_of_one_material_are_gathered():
    bond, steel = "Bond line of P1", "Steel: Young's modulus, density, loss factor"
    labels = (bond, "Young's modulus of Steel", "d31 of Type II", "Density of Steel", "Loss factor of Steel")
    assert provenance.gathered(labels) == (
        bond,
        steel,
        "Type II: d31",
    )


def test_an_origin_is_written_where_the_input_keeps_it():
    modulus = "materials[Aluminium alloy].youngs_modulus_pa"
    project = provenance.with_origin(LAB, modulus, "measured", "bending test")
    constant = project.material("Aluminium alloy").youngs_modulus_pa
    assert (constant.status, constant.source) == ("measured", "bending test")
    assert project.origins == LAB.origins
    project = provenance.with_origin(project, "structure.root.kind", "data sheet", "vice drawing")
    assert project.origins["structure.root.kind"] == Origin("data sheet", "vice drawing")
    assert len(provenance.assumed(project)) == len(provenance.assumed(LAB)) - 2


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_every_input_can_be_given_an_origin(key):
    project = library.example(key)
    for entry in provenance.inputs(project):
        project = provenance.with_origin(project, entry.path, "measured", "seen")
    assert provenance.assumed(project) == ()
