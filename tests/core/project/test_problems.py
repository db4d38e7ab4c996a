"""Every problem is told once, at the right path, with the value and the cure in its words."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import pytest

from core.predict.remarks.problems import find_problems
from core.project import library
from core.project.candidate import Group, Instrument, Member, Tuning
from core.project.edit import with_structure
from core.project.labels import range_of
from core.project.service import Impact, Release, RootAcceleration, StaticForce, TipForce
from core.project.structure import (
    CutOut,
    DatumFeature,
    GroundSpring,
    KeepOut,
    Layer,
    Piece,
    PointMass,
    Support,
)

replace = msgspec.structs.replace
BASE = replace(library.example("lab-beam"), candidates=library.example("lab-beam").candidates[:1])
PATCH = BASE.candidates[0].patches[0]
GROUP = BASE.candidates[0].groups[0]


def structure(**changes: Any):
    return replace(BASE, structure=replace(BASE.structure, **changes))


def layered(*layers: Layer, **changes: Any):
    return structure(layers=layers, **changes)


def material(**changes: Any):
    return replace(BASE, materials=(replace(BASE.materials[0], **changes), *BASE.materials[1:]))


def package(**changes: Any):
    return replace(BASE, packages=(replace(BASE.packages[0], **changes), *BASE.packages[1:]))


def ceramic(**changes: Any):
    return package(ceramic=replace(BASE.packages[0].ceramic, **changes))


def patched(*patches: Any, groups: Any = None, **structure_changes: Any):
    groups = groups or tuple(Group(f"G{i}", (Member(p.id),)) for i, p in enumerate(patches, 1))
    candidate = replace(BASE.candidates[0], patches=patches, groups=groups)
    return replace(structure(**structure_changes), candidates=(candidate,))


def patch(**changes: Any):
    return replace(PATCH, **changes)


def service(**changes: Any):
    return replace(BASE, service=replace(BASE.service, **changes))


def load(item: Any):
    return service(loads=(item,))


def circuit(**changes: Any):
    group = replace(GROUP, circuit=replace(GROUP.circuit, **changes))
    return patched(PATCH, groups=(group,))


def value(constant: Any, number: float):
    return replace(constant, value=number)


ALU, STRIP, PACK = BASE.materials[0], BASE.structure.layers[0], BASE.packages[0]
A = "candidates[A]"
P = f"{A}.patches[P1]"
NAN = math.nan

CASES = [
    # stations and outline
    (structure(stations_m=(0.0,)), "structure.stations_m", ["1 stations", "at least two"]),
    (structure(stations_m=(0.01, 0.3)), "structure.stations_m[0]", ["10.0 mm", "must be 0.0 mm"]),
    (structure(stations_m=(0.0, 0.2, 0.1)), "structure.stations_m[2]", ["100.0 mm", "200.0 mm", "increase"]),
    (structure(stations_m=(0.0, NAN)), "structure.stations_m[1]", ["not a finite number"]),
    (structure(stations_m=(0.0, 1e9)), "structure.stations_m[1]", ["from 0 mm"]),
    (structure(width_m=(0.03, 0.03, 0.03)), "structure.width_m", ["3 values for 2 stations"]),
    (structure(width_m=(0.03, -0.03)), "structure.width_m[1]", ["at 300.0 mm is −30 mm", "from 0.001 mm"]),
    (structure(width_m=0.0), "structure.width_m", ["0 mm"]),
    (structure(width_m=math.inf), "structure.width_m", ["not a finite number"]),
    # lay-up
    (structure(layers=()), "structure.layers", ["empty", "Add a layer"]),
    (layered(replace(STRIP, thickness_m=0.0)), "structure.layers[0].thickness_m", ["0 mm everywhere"]),
    (layered(replace(STRIP, thickness_m=(0.0, 0.0))), "structure.layers[0].thickness_m", ["0 mm everywhere"]),
    (layered(replace(STRIP, thickness_m=-0.002)), "structure.layers[0].thickness_m", ["−2 mm", "from 0 mm"]),
    (layered(replace(STRIP, thickness_m=(0.002, 0.0))), "structure.layers", ["no thickness at x = 300.0 mm"]),
    (layered(replace(STRIP, thickness_m=(1e-3,) * 3)), "structure.layers[0].thickness_m", ["3 values for 2"]),
    (layered(replace(STRIP, pieces=())), "structure.layers[0].pieces", ["no material"]),
    (layered(STRIP, STRIP), "structure.layers", ['called "strip"', "Rename"]),
    (layered(replace(STRIP, name=" ")), "structure.layers", ["no name"]),
    (layered(Layer("a", 1e-3, (Piece("cheese"),))), "structure.layers[0].pieces[0].material", ['"cheese"', "Choose"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name, 0.04),))), "structure.layers[0].pieces",
     ["40.0 mm at x = 0.0 mm", "net width of 30.0 mm"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name, 0.01, 2), Piece(ALU.name, 0.015)))), "structure.layers[0].pieces",
     ["35.0 mm"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name, 0.03), Piece(ALU.name)))), "structure.layers[0].pieces", ["no width"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name), Piece(ALU.name)))), "structure.layers[0].pieces", ["both take the rest"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name, count=0),))), "structure.layers[0].pieces[0].count", ["0 strips"]),
    (layered(STRIP, Layer("a", 1e-3, (Piece(ALU.name, start_m=0.2, end_m=0.1),))),
     "structure.layers[1].pieces[0].end_m", ["ends at 100.0 mm", "start at 200.0 mm", "Swap"]),
    (layered(STRIP, Layer("a", 1e-3, (Piece(ALU.name, start_m=0.1, end_m=0.4),))),
     "structure.layers[1].pieces[0].end_m", ["400 mm", "from 0 mm to 300 mm"]),
    (layered(Layer("a", 1e-3, (Piece(ALU.name, start_m=0.1),))), "structure.layers", ["no thickness at x = 0.0 mm"]),
    (layered(STRIP, Layer("edge", 1e-3, (Piece(ALU.name, 0.02),)), cut_outs=(CutOut("hole", 0.15, diameter_m=0.02),)),
     "structure.layers[1].pieces", ["20.0 mm at x = 150.0 mm", "net width of 10.0 mm"]),
    # cut-outs
    (structure(cut_outs=(CutOut("hole", 0.15),)), "structure.cut_outs[0].diameter_m", ["0 mm", "above 0 mm"]),
    (structure(cut_outs=(CutOut("slot", 0.15, length_m=0.01, width_m=-1.0),)), "structure.cut_outs[0].width_m", ["−1000 mm"]),
    (structure(cut_outs=(CutOut("hole", 0.4, diameter_m=0.01),)), "structure.cut_outs[0].x_m", ["400 mm"]),
    (structure(cut_outs=(CutOut("hole", 0.299, diameter_m=0.01),)), "structure.cut_outs[0].x_m", ["304.0 mm", "past an end"]),
    (structure(cut_outs=(CutOut("hole", 0.15, 0.012, diameter_m=0.01),)), "structure.cut_outs[0].y_m",
     ["17.0 mm", "outside the outline (15.0 mm)"]),
    (structure(cut_outs=(CutOut("slot", 0.15, length_m=0.01, width_m=0.03),)), "structure.cut_outs", ["no width at x = 145.0 mm"]),
    # supports and attachments
    (structure(root=Support("elastic")), "structure.root", ["no stiffness", 'choose "free"']),
    (structure(root=Support("elastic", -1.0)), "structure.root.k_t_n_m", ["−0.001 "]),
    (structure(tip=Support("elastic", 0.0, NAN)), "structure.tip.k_r_nm_rad", ["not a finite"]),
    (structure(masses=(PointMass("m", 0.4, 0.1),)), "structure.masses[0].x_m", ["400 mm", "from 0 mm to 300 mm"]),
    (structure(masses=(PointMass("m", 0.1, -0.1),)), "structure.masses[0].mass_kg", ["−100 g"]),
    (structure(masses=(PointMass("m", 0.1, 0.1, NAN),)), "structure.masses[0].rotary_inertia_kg_m2", ["finite"]),
    (structure(masses=(PointMass("m", 0.1, 0.1), PointMass("m", 0.2, 0.1))), "structure.masses", ['called "m"']),
    (structure(springs=(GroundSpring("s", 0.1),)), "structure.springs[0]", ["no stiffness"]),
    (structure(springs=(GroundSpring("s", -0.1, 5.0),)), "structure.springs[0].x_m", ["−100 mm"]),
    (structure(springs=(GroundSpring("s", 0.1, -5.0),)), "structure.springs[0].k_t_n_m", ["−0.005 kN/m"]),
    (structure(damping=replace(BASE.structure.damping, ratios=())), "structure.damping.ratios", ["No inherent damping"]),
    (structure(damping=replace(BASE.structure.damping, ratios=(1.0,))), "structure.damping.ratios[0]", ["100 %"]),
    (structure(damping=replace(BASE.structure.damping, ratios=(-0.1,))), "structure.damping.ratios[0]", ["−10 %"]),
    (structure(weighed_mass_kg=0.0), "structure.weighed_mass_kg", ["0 g"]),
    (structure(dead_weight_stiffness_n_m=-1.0), "structure.dead_weight_stiffness_n_m", ["−0.001 "]),
    # marks
    (structure(keep_outs=(KeepOut("k", "top", 0.2, 0.1),)), "structure.keep_outs[0].x_end_m", ["100.0 mm", "Swap"]),
    (structure(keep_outs=(KeepOut("k", "top", 0.4, 0.5),)), "structure.keep_outs[0]", ["outside the span"]),
    (structure(keep_outs=(KeepOut("k", "top", 0.2, NAN),)), "structure.keep_outs[0]", ["not finite"]),
    (structure(keep_outs=(KeepOut("k", "top", 0.2, 0.3, ((0.2, 0.0), (0.3, 0.0))),)),
     "structure.keep_outs[0].polygon_m", ["2 corners"]),
    (structure(datums=(*BASE.structure.datums, DatumFeature("d", 0.31))), "structure.datums[2].x_m", ["310 mm"]),
    (structure(datums=BASE.structure.datums + BASE.structure.datums[:1]), "structure.datums", ["clamp line", "Rename"]),
    # materials
    (replace(BASE, materials=(*BASE.materials, ALU)), "materials", ["Two materials", ALU.name]),
    (material(youngs_modulus_pa=value(ALU.youngs_modulus_pa, 0.0)),
     f"materials[{ALU.name}].youngs_modulus_pa.value", ["0 GPa", "from 1e-6 GPa to 2000 GPa"]),
    (material(density_kg_m3=value(ALU.density_kg_m3, -1.0)), f"materials[{ALU.name}].density_kg_m3.value", ["kg/m³"]),
    (material(loss_factor=value(ALU.loss_factor, 2.0)), f"materials[{ALU.name}].loss_factor.value", ["below 2"]),
    (material(poisson_ratio=value(ALU.poisson_ratio, 0.5)), f"materials[{ALU.name}].poisson_ratio.value", ["0.5", "below"]),
    (material(poisson_ratio=value(ALU.poisson_ratio, -1.0)), f"materials[{ALU.name}].poisson_ratio.value", ["above −1"]),
    (material(density_kg_m3=replace(ALU.density_kg_m3, tolerance=-0.1)),
     f"materials[{ALU.name}].density_kg_m3.tolerance", ["−10 %"]),
    (material(density_kg_m3=replace(ALU.density_kg_m3, per_kelvin=NAN)),
     f"materials[{ALU.name}].density_kg_m3.per_kelvin", ["finite"]),
    (material(temperature_range_c=(80.0, -40.0)), f"materials[{ALU.name}].temperature_range_c", ["80 °C down to −40 °C"]),
    (material(reference_temperature_c=-300.0), f"materials[{ALU.name}].reference_temperature_c", ["−300 °C"]),
    # packages
    (replace(BASE, packages=(*BASE.packages, PACK)), "packages", ["Two packages"]),
    (package(length_m=0.0), f"packages[{PACK.name}].length_m", ["0 mm"]),
    (package(width_m=-1.0), f"packages[{PACK.name}].width_m", ["−1000 mm"]),
    (package(ceramic_thickness_m=NAN), f"packages[{PACK.name}].ceramic_thickness_m", ["finite"]),
    (package(margin_m=-1e-3), f"packages[{PACK.name}].margin_m", ["−1 mm"]),
    (package(side_margin_m=1.0), f"packages[{PACK.name}].side_margin_m", None),
    (package(lead_length_m=-1.0), f"packages[{PACK.name}].lead_length_m", ["−1000 mm"]),
    (package(lead_bend_radius_m=-1.0), f"packages[{PACK.name}].lead_bend_radius_m", ["−1000 mm"]),
    (package(lower_skin=replace(PACK.lower_skin, material="felt")), f"packages[{PACK.name}].lower_skin.material", ['"felt"']),
    (package(upper_skin=replace(PACK.upper_skin, thickness_m=-1.0)), f"packages[{PACK.name}].upper_skin.thickness_m", ["µm"]),
    (package(bond=replace(PACK.bond, shear_modulus_pa=0.0)), f"packages[{PACK.name}].bond.shear_modulus_pa", ["1 GPa"]),
    (ceramic(d31_c_n=value(PACK.ceramic.d31_c_n, 1.0)), f"packages[{PACK.name}].ceramic.d31_c_n.value", ["pm/V"]),
    (ceramic(d31_c_n=value(PACK.ceramic.d31_c_n, -600e-12)), f"packages[{PACK.name}].ceramic.d31_c_n.value",
     ["coupling factor k31 of 1.21", "below 1"]),
    (ceramic(eps33t_relative=value(PACK.ceramic.eps33t_relative, 0.0)),
     f"packages[{PACK.name}].ceramic.eps33t_relative.value", ["from 1 to 100000"]),
    (ceramic(s11e_1_pa=value(PACK.ceramic.s11e_1_pa, 1.0)), f"packages[{PACK.name}].ceramic.s11e_1_pa.value", ["1/TPa"]),
    (ceramic(tan_delta=value(PACK.ceramic.tan_delta, 1.0)), f"packages[{PACK.name}].ceramic.tan_delta.value", ["100 %"]),
    (ceramic(curie_temperature_c=NAN), f"packages[{PACK.name}].ceramic.curie_temperature_c", ["finite"]),
    (ceramic(temperature_range_c=(9.0, 1.0)), f"packages[{PACK.name}].ceramic.temperature_range_c", ["Swap"]),
    (package(limits=replace(PACK.limits, tensile_strain=value(PACK.limits.tensile_strain, 0.0))),
     f"packages[{PACK.name}].limits.tensile_strain.value", ["0 µε"]),
    (package(limits=replace(PACK.limits, temperature_c=(90.0, 0.0))), f"packages[{PACK.name}].limits.temperature_c", ["Swap"]),
    # patches
    (patched(patch(x_start_m=0.262)), f"{P}.x_start_m",
     ["Patch P1 ends at 312.0 mm, past the tip at 300.0 mm. Move it or shorten it."]),
    (patched(patch(x_start_m=-0.001)), f"{P}.x_start_m", ["−1.0 mm", "before the support"]),
    (patched(patch(x_start_m=NAN)), f"{P}.x_start_m", ["finite"]),
    (patched(patch(length_m=0.0)), f"{P}.length_m", ["0 mm", "from 0.01 mm"]),
    (patched(patch(width_m=-0.02)), f"{P}.width_m", ["−20 mm"]),
    (patched(patch(angle_rad=9.0)), f"{P}.angle_rad", ["°"]),
    (patched(patch(y_m=NAN)), f"{P}.y_m", ["finite"]),
    (patched(patch(package="none such")), f"{P}.package", ['"none such"']),
    (patched(patch(bond=replace(PATCH.bond, thickness_m=-1.0))), f"{P}.bond.thickness_m", ["µm"]),
    (patched(patch(bond=replace(PATCH.bond, material="jam"))), f"{P}.bond.material", ['"jam"']),
    (patched(PATCH, patch(x_start_m=0.2), groups=(GROUP,)), f"{A}.patches", ["Two patches", '"P1"']),
    (patched(PATCH, keep_outs=(KeepOut("bolt", "top", 0.057, 0.07),)), f"{P}.x_start_m",
     ['2.0 mm over the keep-out "bolt"', "57.0 mm to 70.0 mm"]),
    (patched(patch(face="both"), keep_outs=(KeepOut("bolt", "underside", 0.057, 0.07),)), f"{P}.x_start_m", ["2.0 mm"]),
    (patched(PATCH, keep_outs=(KeepOut("pin", "top", 0.02, 0.03, ((0.02, 0.012), (0.03, 0.012), (0.025, 0.014))),)),
     f"{P}.x_start_m", ["2.0 mm over"]),
    (patched(PATCH, patch(id="P2", x_start_m=0.0605)), f"{A}.patches[P2].x_start_m",
     ["P1 and P2 overlap by 2.5 mm on the top face"]),
    (patched(patch(face="both"), patch(id="P2", x_start_m=0.06, face="underside")), f"{A}.patches[P2].x_start_m",
     ["on the underside face"]),
    (patched(patch(face="both"), patch(id="P2", x_start_m=0.06, face="both")), f"{A}.patches[P2].x_start_m", ["both faces"]),
    # groups and circuits
    (patched(PATCH, groups=(GROUP, Group("G2", ()))), f"{A}.groups[G2].members", ["Group G2 has no patch"]),
    (patched(PATCH, groups=(replace(GROUP, members=(*GROUP.members, Member("P7"))),)), f"{A}.groups[G1].members", ["P7"]),
    (patched(PATCH, groups=(GROUP, replace(GROUP, id="G2"))), f"{A}.groups[G2].members", ["in group G1 and in G2"]),
    (patched(PATCH, groups=(replace(GROUP, members=GROUP.members * 2),)), f"{A}.groups[G1].members", ["twice in group G1"]),
    (patched(PATCH, groups=(GROUP, replace(GROUP, members=(Member("P8"),)))), f"{A}.groups", None),
    (patched(PATCH, patch(id="P2", x_start_m=0.2), groups=(GROUP,)), f"{A}.patches[P2]", ["in no group"]),
    (circuit(values={"resistance_ohm": -1.0}), f"{A}.groups[G1].circuit.values.resistance_ohm", ["−0.001 kΩ"]),
    (circuit(kind="series R-L", values={"inductance_h": 0.0}), f"{A}.groups[G1].circuit.values.inductance_h", ["0 H"]),
    (circuit(values={"resistance_ohm": NAN}), f"{A}.groups[G1].circuit.values.resistance_ohm", ["finite"]),
    (circuit(tuning=Tuning(mode=0)), f"{A}.groups[G1].circuit.tuning.mode", ["mode 0", "1 to 40"]),
    (circuit(tuning=Tuning(goal="weighted")), f"{A}.groups[G1].circuit.tuning.weights", ["no weight above 0"]),
    (circuit(tuning=Tuning(weights=(-1.0,))), f"{A}.groups[G1].circuit.tuning.weights[0]", ["−1"]),
    (patched(PATCH, groups=(replace(GROUP, instrument=Instrument(resistance_ohm=0.0)),)),
     f"{A}.groups[G1].instrument.resistance_ohm", ["MΩ"]),
    (patched(PATCH, groups=(replace(GROUP, instrument=Instrument(capacitance_f=-1.0)),)),
     f"{A}.groups[G1].instrument.capacitance_f", ["pF"]),
    # candidates, service, view, sheet
    (replace(BASE, active="Z"), "active", ['"Z"']),
    (replace(BASE, candidates=()), "candidates", ["no candidate"]),
    (replace(BASE, candidates=BASE.candidates * 2), "candidates", ["Rename"]),
    (service(loads=()), "service.loads", ["no load case"]),
    (service(active_load=7), "service.active_load", ["number 8 of 3"]),
    (load(TipForce("f", 0.0, (1.0, 9.0))), "service.loads[0].force_n", ["0 N", "above 0 N"]),
    (load(TipForce("f", 1.0, (9.0, 1.0))), "service.loads[0].band_hz", ["9 Hz to 1 Hz", "Swap"]),
    (load(TipForce("f", 1.0, (0.0, 1.0))), "service.loads[0].band_hz[0]", ["0 Hz"]),
    (load(TipForce("f", 1.0, (1.0, math.inf))), "service.loads[0].band_hz[1]", ["finite"]),
    (load(TipForce("f", 1.0, (1.0, 9.0), 0.5)), "service.loads[0].x_m", ["500 mm"]),
    (load(RootAcceleration("a", -1.0, (1.0, 9.0))), "service.loads[0].level_m_s2", ["m/s²"]),
    (load(Release("r", 0.0, (1.0, 9.0))), "service.loads[0].deflection_m", ["zero"]),
    (load(Impact("i", 0.0, 1e-3, (1.0, 9.0))), "service.loads[0].impulse_n_s", ["zero"]),
    (load(Impact("i", 1.0, 0.0, (1.0, 9.0))), "service.loads[0].duration_s", ["0 ms"]),
    (service(static_forces=(StaticForce("s", NAN),)), "service.static_forces[0].force_n", ["finite"]),
    (service(static_forces=(StaticForce("s", 1.0, 0.4),)), "service.static_forces[0].x_m", ["400 mm"]),
    (service(cold_c=50.0), "service.cold_c", ["cold 50 °C", "out of order"]),
    (service(hot_c=NAN), "service.hot_c", ["finite"]),
    (service(settle_to=0.0), "service.settle_to", ["0 %"]),
    (replace(BASE, view=replace(BASE.view, modes_shown=41)), "view.modes_shown", ["41 modes", "1 to 40"]),
    (replace(BASE, view=replace(BASE.view, output_x_m=1.0)), "view.output_x_m", ["1000 mm"]),
    (replace(BASE, sheet=replace(BASE.sheet, datum="moon")), "sheet.datum", ['"moon"']),
    (replace(BASE, sheet=replace(BASE.sheet, tolerance_x_m=0.0)), "sheet.tolerance_x_m", ["0 mm"]),
]  # fmt: skip


def test_the_base_of_the_cases_has_no_problem():
    assert find_problems(BASE) == ()


@pytest.mark.parametrize(
    ("project", "path", "words"), CASES, ids=[f"{i}:{c[1]}" for i, c in enumerate(CASES)]
)
def test_problem_is_told_in_words(project, path, words):
    problems = find_problems(project)
    here = [p for p in problems if p.path == path]
    if words is None:
        assert problems
        return
    assert len(here) == 1, problems
    for word in words:
        assert word in here[0].message
    assert here[0].message.endswith(".") and len(problems) == 1


def test_neighbours_may_touch_but_not_overlap():
    zone = KeepOut("bolt", "top", 0.059, 0.07)
    assert find_problems(patched(PATCH, keep_outs=(zone,))) == ()
    assert find_problems(patched(PATCH, keep_outs=(replace(zone, x_start_m=0.05, face="underside"),))) == ()
    assert find_problems(patched(PATCH, patch(id="P2", x_start_m=0.063))) == ()
    assert find_problems(patched(PATCH, patch(id="P2", face="underside"))) == ()
    assert find_problems(patched(patch(x_start_m=0.25))) == ()


def test_pieces_may_meet_end_to_end():
    halves = (Piece(ALU.name, 0.03, end_m=0.1), Piece(ALU.name, 0.03, start_m=0.1))
    assert find_problems(layered(Layer("strip", 2e-3, halves))) == ()
    rests = (Piece(ALU.name, end_m=0.1), Piece(ALU.name, start_m=0.1))
    assert find_problems(layered(Layer("strip", 2e-3, rests))) == ()


def test_a_turned_package_reaches_further():
    zone = KeepOut("bolt", "top", 0.0595, 0.07)
    wide = {"width_m": 0.1, "keep_outs": (zone,)}
    assert find_problems(patched(PATCH, **wide)) == ()
    assert "over the keep-out" in find_problems(patched(patch(angle_rad=0.2), **wide))[0].message


def test_patches_side_by_side_do_not_overlap():
    one, two = patch(width_m=0.02, y_m=0.02), patch(id="P2", width_m=0.02, y_m=-0.02)
    assert find_problems(patched(one, two, width_m=0.1)) == ()


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_shipped_examples_have_no_problem(key):
    project = library.example(key)
    assert find_problems(project) == ()


def test_a_blank_project_has_no_problem():
    assert find_problems(library.blank_project()) == ()


@pytest.mark.parametrize("x_start_m", [0.001, 0.249])
def test_margin_past_an_end_is_no_problem(x_start_m):
    """The model cuts it off there; the prediction's remarks say so."""
    assert find_problems(patched(patch(x_start_m=x_start_m))) == ()


def test_unchanged_parts_give_the_same_answer_when_remembered():
    moved = patched(patch(x_start_m=0.26))
    assert find_problems(moved) == find_problems(moved) != ()
    assert find_problems(patched(PATCH)) == ()


@pytest.mark.parametrize(("strips", "fits"), [(1, True), (100, True), (101, False), (0, False)])
def test_a_piece_may_stand_for_as_many_strips_as_its_input_says(strips, fits):
    layer = Layer("core", 2e-3, (Piece("Aluminium alloy", 1e-5, strips), Piece("Aluminium alloy")))
    project = with_structure(library.blank_project(), layers=(layer,))
    told = [p.message for p in find_problems(project) if p.path.endswith(".count")]
    assert bool(told) is not fits and range_of("pieces.count").holds(strips) is fits
    assert not told or "it must be from 1 to 100" in told[0]
