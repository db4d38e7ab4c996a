"""Each remark appears when its reason does, and not otherwise."""

import math
import re

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import edit, library
from core.project.candidate import Circuit, Instrument, Member
from core.project.service import StaticForce
from core.project.structure import Support
from tests.core.predict.scenes import RESISTOR, RESONANT, SHAKE, lab, pair, with_candidate
from tests.levels import beam_example


def codes(project):
    return {r.code: r for r in predict(project).remarks}


def with_structure(project, **changes):
    return replace(project, structure=replace(project.structure, **changes))


def with_patch(project, **changes):
    candidate = project.candidate()
    return with_candidate(
        project,
        replace(candidate, patches=(replace(candidate.patches[0], **changes), *candidate.patches[1:])),
    )


def test_the_lab_beam_is_a_beam():
    assert not {"plate", "short span", "thick patch", "wide patch", "polarity"} & set(codes(lab()))


def test_half_a_board_is_a_plate():
    found = codes(beam_example("half-board"))
    assert found["plate"].severity == "caution" and "The level 'across' takes that" in found["plate"].text
    assert "torsion" in found
    across = codes(library.example("half-board"))["plate"]
    assert across.severity == "note" and "frequencies are within 0.5 %" in across.text


def test_short_thick_span():
    thick = with_structure(lab(), layers=(replace(lab().structure.layers[0], thickness_m=0.04),))
    found = codes(thick)
    assert {"short span", "short wave", "longitudinal"} <= set(found)


def test_patch_thicker_than_a_third():
    thin = with_structure(lab(), layers=(replace(lab().structure.layers[0], thickness_m=0.0012),))
    assert "thick patch" in codes(thin)


def test_patch_wider_than_the_outline_says_where():
    narrow = with_structure(lab(), stations_m=(0.0, 0.04, 0.06, 0.3), width_m=(0.03, 0.03, 0.02, 0.02))
    found = codes(narrow)["wide patch"]
    assert 0.04 < found.x_m <= 0.055


def test_soft_bond_and_no_bond_at_all():
    bond = lab().candidate().patches[0].bond
    assert (
        codes(with_patch(lab(), bond=replace(bond, shear_modulus_pa=1e7)))["shear lag"].severity == "caution"
    )
    assert (
        codes(with_patch(lab(), bond=replace(bond, shear_modulus_pa=2e5)))["no working length"].severity
        == "error"
    )
    assert "rigid bond" in codes(with_patch(lab(), bond=replace(bond, rigid=True)))


@pytest.mark.parametrize(("polarity", "cancels"), [(1, True), (-1, False)])
def test_wrong_polarity_is_zero_coupling_with_its_reason(polarity, cancels):
    """Two patches poled up, one each side: bending needs opposite signs."""
    project = pair(lab(), polarity=polarity)
    found = predict(project)
    remark = [r for r in found.remarks if r.code == "polarity"]
    assert bool(remark) is cancels
    if cancels:
        assert found.modes[0].k2 < 1e-6
        assert remark[0].severity == "error"
        assert "P1" in remark[0].text and "P2" in remark[0].text and "Reverse" in remark[0].text


def test_large_rotation_only_under_large_force():
    def pushed(force):
        return replace(lab(), service=replace(lab().service, static_forces=(StaticForce("pushed", force),)))

    assert "large rotation" not in codes(pushed(0.5))
    assert "large rotation" in codes(pushed(30.0))


def test_service_beyond_the_constants_range():
    project = lab()
    assert "temperature" in codes(replace(project, service=replace(project.service, cold_c=-60.0)))


def test_margin_past_the_end():
    assert "margin outside" in codes(with_patch(lab(), x_start_m=0.002))


def test_nothing_holds_a_free_beam():
    free = with_structure(lab(load=SHAKE), root=Support("free"))
    assert "not held" in codes(free)
    assert predict(free).tip_stiffness_n_m is None


def test_a_patch_on_a_strain_node_is_not_reached_by_tuning():
    circuit = replace(RESISTOR, tuning=replace(RESISTOR.tuning, mode=4))
    assert "not reached" in codes(lab(circuit=circuit))


def test_hundreds_of_henries_are_not_a_wound_part():
    (group,) = predict(lab(circuit=RESONANT)).groups
    assert any("no wound part" in text for text in group.remarks)
    small = Circuit("series R-L", {"inductance_h": 0.5, "resistance_ohm": 100.0})
    assert not any("no wound part" in text for text in predict(lab(circuit=small)).groups[0].remarks)


def test_an_input_on_open_leads_says_what_it_adds():
    """R on C at f adds K^2 tau/(2 (1 + tau^2)), tau = omega R C: 1 Mohm on 58 nF at 20 Hz about 0.1 %."""
    found = predict(lab(circuit=Circuit("open"), instrument=Instrument(resistance_ohm=1e6)))
    text = " ".join(found.groups[0].remarks)
    assert "shunt" in text
    plain = predict(lab(circuit=Circuit("open")))
    added = found.modes[0].zeta - plain.modes[0].zeta
    mode, c = plain.modes[0], plain.groups[0].modal_capacitance_f[0]
    tau = 2 * math.pi * mode.f_short_hz * 1e6 * c
    assert added == pytest.approx(mode.k2 * tau / (2 * (1 + tau**2)), rel=0.08)
    assert f"{100 * added:.1g}" in text


def test_a_cable_lowers_the_coupling_and_retunes():
    cable = predict(lab(circuit=RESONANT, instrument=Instrument(resistance_ohm=1e15, capacitance_f=3.4e-8)))
    plain = predict(lab(circuit=RESONANT))
    assert cable.modes[0].zeta < 0.9 * plain.modes[0].zeta
    values = [{v.name: v.value for v in p.groups[0].values} for p in (cable, plain)]
    own = plain.groups[0].modal_capacitance_f[0]
    share = own / (own + 3.4e-8)
    assert values[0]["inductance_h"] == pytest.approx(share * values[1]["inductance_h"], rel=0.02)
    poles = [p.damping_ratio for p in cable.modes[0].poles]
    assert poles[0] == pytest.approx(poles[1], rel=0.7)


def test_a_pair_not_wired_for_bending_says_so():
    found = codes(with_patch(lab(), face="both", pair_bending=False))
    assert "Wire the pair for bending" in found["polarity"].text
    assert "polarity" not in codes(with_patch(lab(), face="both"))


def test_a_steep_taper_asks_for_a_station():
    (layer,) = lab().structure.layers
    steep = with_structure(lab(), layers=(replace(layer, thickness_m=(0.008, 0.001)),))
    found = codes(steep)["steep taper"]
    assert "8-fold" in found.text and "0.0 mm and 300.0 mm" in found.text and "Add a station" in found.text
    between = replace(layer, thickness_m=(0.008, 0.003, 0.001))
    assert "steep taper" not in codes(with_structure(steep, stations_m=(0.0, 0.15, 0.3), layers=(between,)))


def opposed(project, polarity):
    """A second patch on the underside under the first, joined to its group."""
    first = project.candidate("A").patches[0]
    second = replace(first, id="P2", face="underside", x_start_m=first.x_start_m + 0.004)
    group = project.candidate("A").groups[0]
    members = (Member("P1", 1), Member("P2", polarity))
    candidate = replace(
        project.candidate("A"), patches=(first, second), groups=(replace(group, members=members),)
    )
    return edit.with_candidate(project, candidate)


def test_two_patches_on_opposite_faces_with_equal_dots_are_told_with_the_cure():
    project = beam_example("lab-beam")
    wrong, right = (predict(opposed(project, sign), "A") for sign in (1, -1))
    told = [r for r in wrong.remarks if r.code == "opposed"]
    assert len(told) == 1
    assert told[0].severity == "error"
    assert "P1 (top)" in told[0].text and "P2 (underside)" in told[0].text
    assert wrong.modes[0].k2 < 0.25 * right.modes[0].k2
    cured = predict(edit.with_leads_exchanged(opposed(project, 1), "A", told[0].reverse), "A")
    assert cured.modes[0].k2 == pytest.approx(right.modes[0].k2, rel=1e-9)
    assert not [r for r in (*cured.remarks, *right.remarks) if r.code == "opposed"]
    best = float(re.search(r"exchanged about ([\d.]+) %", told[0].text).group(1))
    assert best == pytest.approx(100 * right.modes[0].k2, rel=0.05)


def test_the_errors_are_those_among_the_remarks():
    soft = with_patch(lab(), bond=replace(lab().candidate().patches[0].bond, shear_modulus_pa=2e5))
    for project, code in ((opposed(beam_example("lab-beam"), 1), "opposed"), (soft, "no working length")):
        found = predict(project)
        assert code in [remark.code for remark in found.errors]
        assert found.asked_for == {"errors"}
        assert found.errors == tuple(remark for remark in found.remarks if remark.severity == "error")
    for key, _ in library.examples():
        found = predict(beam_example(key))
        assert found.errors == tuple(remark for remark in found.remarks if remark.severity == "error")


def test_a_turned_patch_says_how_little_of_its_coupling_may_be_there():
    """At 45 degrees strain along a narrow ceramic is half, and K^2 and damping a quarter of what is shown."""
    project = beam_example("lab-beam")
    candidate = project.candidate()
    turned = replace(candidate, patches=(replace(candidate.patches[0], angle_rad=np.pi / 4, length_m=0.02, width_m=0.01),))
    (told,) = (r.text for r in predict(with_candidate(project, turned)).remarks if r.code == "turned")
    assert "is turned by 45°" in told and "50 % of what is shown" in told and "as little as 25 % is there" in told
