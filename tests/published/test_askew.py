"""Patches off the centreline and turned, at the level 'across': bending and torsion in one layout.

Held against the laminated plate of tests/reference over its whole width (Argyris triangles), whose figures stand below
as they came with triangles of about 10 mm; 6.5 mm move K^2 by -0.7 %.
"""

import json
from math import pi

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.functions import Odd
from core.piezo.layout import solve
from core.piezo.turned_moduli import turned
from core.piezo.twist import torsion_of
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library
from core.project.edit import with_candidate, with_patch, with_structure
from core.project.record import Constant
from tests.published.build import ceramic, material, package, place, project, strip
from tests.reference.laminate_plate import solve_whole_plate

TWO_HERTZ = 2 * np.pi


def plate_with(x=0.05, y=0.0, angle=0.0, length=0.04, width=0.04, level="across", masses=()):
    """A strip of 300 x 100 x 2 mm with one ceramic bonded rigidly."""
    made = package(ceramic(nu=0.31), length, width, 0.25e-3)
    part = strip(0.3, 0.1, [("metal", 0.002)], level=level, masses=masses)
    return project(part, [material("metal", 70e9, 2700.0, 0.33)], [made], [replace(place(made, x), y_m=y, angle_rad=angle)])


def solved(made, modes=8):
    return solve(made, made.candidate(), modes)


NARROW = {"x": 0.08, "length": 0.06, "width": 0.02, "angle": 0.5}
PLATE = {
    "off centre": (
        {"y": 0.02}, (19.003, 115.838, 116.311, 325.951, 359.435, 641.331),
        (0.41854, 0.00007, 0.00093, 0.29350, 0.01923, 0.56046), 0.015, 0.025, 71.91,
    ),
    "square at 45 degrees": (
        {"angle": pi / 4}, (19.000, 115.982, 116.295, 326.154, 360.993, 643.965),
        (0.44078, 0.0, 0.00061, 0.29498, 0.0, 0.48825), 0.05, 0.02, 71.656,
    ),
    "narrow, turned": (
        NARROW, (18.823, 115.391, 116.375, 327.699, 358.806, 646.086),
        (0.18527, 0.00033, 0.19246, 0.29058, 0.0, 0.00435), 0.05, 0.025, 53.522,
    ),
    "narrow, turned, off centre": (
        {**NARROW, "y": 0.02}, (18.824, 114.995, 116.499, 327.663, 356.916, 646.110),
        (0.18211, 0.01234, 0.16733, 0.29301, 0.04259, 0.00311), 0.05, 0.02, 53.646,
    ),
}  # fmt: skip
"""How the ceramic lies; frequencies in Hz and K^2 in per cent of the first modes, whatever they do; from which K^2 on it is
held, and within what; free capacitance in nF."""


@pytest.mark.parametrize("key", list(PLATE))
def test_against_a_laminated_plate(key):
    """f within 0.3 %, free capacitance within 0.5 %."""
    how, f, k2, least, within, nanofarads = PLATE[key]
    beam = solved(plate_with(**how))
    order = np.argsort(beam.omega_rad_s)[: len(f)]
    assert beam.omega_rad_s[order] / TWO_HERTZ == pytest.approx(f, rel=3e-3)
    told = np.array(k2) > least
    assert 100 * beam.k2[order][told] == pytest.approx(np.array(k2)[told], rel=within)
    assert beam.free_f[0, 0] == pytest.approx(1e-9 * nanofarads, rel=0.005)


@pytest.mark.slow
def test_the_plate_gives_these_figures():
    how, f, k2, *_ = PLATE["off centre"]
    found = solve_whole_plate(plate_with(**how), size_m=10e-3)
    assert found.f_short_hz[: len(f)] == pytest.approx(f, rel=1e-3)
    assert 100 * found.k2[: len(f)] == pytest.approx(k2, rel=0.01, abs=1e-4)


@pytest.mark.slow
def test_a_board_with_its_patch_off_centre_against_the_plate():
    """Half board, 40 mm off: B1, B2 and T1 within 10 % in K^2; stiff in shear, as the plate is."""
    made = with_structure(library.example("half-board"), level="across")
    stiff = tuple(replace(m, shear_modulus_through_pa=replace(m.youngs_modulus_pa, value=1e4 * m.youngs_modulus_pa.value)) for m in made.materials)
    made = replace(made, materials=stiff)
    made = with_patch(made, "A", replace(made.candidate("A").patches[0], y_m=0.04))
    plate = solve_whole_plate(made, made.candidate("A"), size_m=20e-3, modes=4)
    beam = solve(made, made.candidate("A"), 8, temperature_c=20.0)
    order = np.argsort(beam.omega_rad_s)[:3]
    assert beam.omega_rad_s[order] / TWO_HERTZ == pytest.approx(plate.f_short_hz[:3], rel=0.012)
    assert beam.k2[order] == pytest.approx(plate.k2[:3], rel=0.10)


def test_a_square_at_45_degrees_bends_as_a_straight_one_and_twists_nothing():
    straight, aslant = solved(plate_with()), solved(plate_with(angle=pi / 4))
    twists = aslant.n_kept - aslant.n_twist
    assert aslant.n_twist >= 3 and aslant.k2[twists:].max() < 1e-8
    told = straight.k2[:4] > 1e-4
    assert aslant.k2[:4][told] == pytest.approx(straight.k2[:4][told], rel=0.02)
    assert aslant.omega_rad_s[:4] == pytest.approx(straight.omega_rad_s[:4], rel=1e-3)


def test_a_square_turned_by_a_quarter_is_a_straight_one():
    straight, quarter = solved(plate_with()), solved(plate_with(angle=pi / 2))
    assert quarter.omega_rad_s[:6] == pytest.approx(straight.omega_rad_s[:6], rel=2e-4)
    assert quarter.k2[:4] == pytest.approx(straight.k2[:4], rel=5e-3, abs=1e-6)
    assert quarter.free_f == pytest.approx(straight.free_f, rel=2e-3)


@pytest.mark.parametrize("key", ["lab-beam", "half-board", "gantry-bracket"])
def test_nothing_leaps_as_a_patch_leaves_the_centreline(key):
    """A micrometre: bending as before, torsion where it was apart, its masses with it, its K^2 next to nothing."""
    made = with_structure(library.example(key), level="across")
    candidate = made.candidates[0]
    aside = replace(candidate, patches=tuple(replace(p, y_m=1e-6) for p in candidate.patches))
    before, after = solve(made, candidate, 8), solve(made, aside, 8)
    assert after.omega_rad_s[:4] == pytest.approx(before.omega_rad_s[:4], rel=2e-4)
    told = before.k2[:3] > 1e-3
    assert after.k2[:3][told] == pytest.approx(before.k2[:3][told], rel=5e-3)
    apart = np.array(torsion_of(before).frequency_hz[:2])
    among = after.omega_rad_s[after.n_kept - after.n_twist :] / TWO_HERTZ
    assert among[: len(apart)] == pytest.approx(apart[: len(among)], rel=1e-3)
    assert after.k2[after.n_kept - after.n_twist :].max() < 1e-9
    assert after.total_mass_kg == pytest.approx(before.total_mass_kg, rel=1e-9)


def test_straight_centred_layouts_know_nothing_of_torsion():
    beam = solved(plate_with())
    assert not any(isinstance(f, Odd) for f in beam.section.further.functions)
    assert beam.n_twist == 0 and beam.section.covered.edge_m is None


@pytest.mark.parametrize("how", [{"y": 0.015}, {**NARROW, "y": 0.01}], ids=["off centre", "turned"])
def test_the_mirrored_layout_is_the_same(how):
    one = solved(plate_with(**how))
    other = solved(plate_with(**{**how, "y": -how["y"], "angle": -how.get("angle", 0.0)}))
    assert other.omega_rad_s == pytest.approx(one.omega_rad_s, rel=1e-7)
    assert other.k2 == pytest.approx(one.k2, rel=1e-4, abs=1e-9)


@pytest.mark.parametrize("how", [{"y": 0.015}, {**NARROW, "y": 0.01}], ids=["off centre", "turned"])
def test_reciprocity_and_many_layouts_as_one(how):
    made = plate_with(**how)
    candidate = made.candidate()
    beam = solved(made)
    tip, theta = beam.deflection_row(0.3), beam.group_theta_rows[0]
    assert beam.beam.bending.move(theta[None]).deflection_at[0, -1] == pytest.approx(float(tip @ theta), rel=1e-9)
    x = np.array([0.05, 0.09])
    many = solve(made, candidate, 8, variation={f"candidates[{candidate.id}].patches[P1].x_start_m": x})
    for i, start in enumerate(x.tolist()):
        alone = solve(made, replace(candidate, patches=(replace(candidate.patches[0], x_start_m=start),)), 8)
        assert many.omega_rad_s[i, :6] == pytest.approx(alone.omega_rad_s[:6], rel=1e-6)
        assert many.k2[i, :6] == pytest.approx(alone.k2[:6], rel=1e-3, abs=1e-8)


def test_modes_keep_their_rank_and_torsion_is_told_with_its_coupling():
    made = with_structure(library.example("half-board"), level="across")
    aside = with_patch(made, "A", replace(made.candidate("A").patches[0], y_m=0.04))
    centred, found = predict(made, "A"), predict(aside, "A")
    assert [m.name for m in found.modes] == [m.name for m in centred.modes]
    assert found.modes[1].f_short_hz == pytest.approx(centred.modes[1].f_short_hz, rel=1e-3)
    first = found.torsion[0]
    assert first.is_reached and first.name == "T1" and first.k2 == pytest.approx(6e-4, rel=0.2)
    assert first.zeta > found.modes[0].zeta_inherent
    assert not ({"off centre", "turned"} & {r.code for r in found.remarks})
    told = prediction_json(aside, found)["torsion"][0]
    assert told["k2"] == first.k2 and told["k2_note"] == ""
    assert max(map(abs, told["edge_deflection"] + told["other_edge_deflection"])) == 1.0
    assert f"Torsion: T1 {first.f_hz:.2f} Hz (K² " in prediction_text(aside, found)
    json.dumps(prediction_json(aside, found))


def test_lower_levels_say_that_they_leave_the_offset_out():
    made = plate_with(y=0.02, angle=0.3, level="shear")
    told = {r.code: r.text for r in predict(made).remarks}
    assert "the level 'across' takes that" in told["off centre"] and "the level 'across' takes that" in told["turned"]
    assert solved(made).omega_rad_s == pytest.approx(solved(plate_with(level="shear")).omega_rad_s, rel=1e-12)


def test_a_mass_that_turns_slows_torsion_only():
    light, heavy = (solved(plate_with(y=0.02, masses=((0.3, 0.05, 0.0, j),))) for j in (1e-6, 1e-4))
    first = light.n_kept - light.n_twist, heavy.n_kept - heavy.n_twist
    assert heavy.omega_rad_s[first[1]] < 0.8 * light.omega_rad_s[first[0]]
    assert heavy.omega_rad_s[0] == pytest.approx(light.omega_rad_s[0], rel=2e-3)


def fibres(angle, *, exchanged=False):
    """A square of fibres: twice as stiff and twice as strong along them, of the other sign across."""
    d, s = ceramic().d31_c_n.value, ceramic().s11e_1_pa.value
    along, across, nu = ((d, s), (-0.5 * d, 2.0 * s), 0.31)
    if exchanged:
        along, across, nu = across, along, 0.155
    own = replace(
        ceramic(nu=nu), d31_c_n=Constant(along[0]), s11e_1_pa=Constant(along[1]), d32_c_n=Constant(across[0]), s22e_1_pa=Constant(across[1])
    )
    made = package(own, 0.04, 0.04, 0.25e-3)
    part = strip(0.3, 0.1, [("metal", 0.002)], level="across")
    return solved(project(part, [material("metal", 70e9, 2700.0, 0.33)], [made], [replace(place(made, 0.05), angle_rad=angle)]))


def test_fibres_turned_by_a_quarter_are_those_across():
    one, across = fibres(pi / 2), fibres(0.0, exchanged=True)
    assert one.omega_rad_s[:4] == pytest.approx(across.omega_rad_s[:4], rel=2e-4)
    assert one.k2[:3] == pytest.approx(across.k2[:3], rel=0.01, abs=1e-6)
    assert one.free_f == pytest.approx(across.free_f, rel=1e-3)


def test_fibres_aslant_twist_the_part_from_the_centreline():
    one, other = fibres(pi / 4), fibres(-pi / 4)
    first = one.n_kept - one.n_twist
    assert one.k2[first] > 5 * one.k2[0] and one.k2[first] > 1e-3
    assert other.k2 == pytest.approx(one.k2, rel=1e-6)


def test_the_stiffness_along_an_axis_does_not_depend_on_how_it_is_reached():
    """Along an axis at 0.4 rad, of a sheet turned by 0.8, as of one turned by 0.4 along the part."""
    own, electrode = np.array([[60e9, 12e9, 30e9, 15e9, 5e9]]), np.array([[-12.0, 6.0, 1e-8]])

    def at(angle):
        moduli, charged, skew = turned(own, electrode, *(np.array([f(angle)]) for f in (np.cos, np.sin)))
        a, b, d, g, _ = moduli[0]
        h, k, e = skew[0]
        return np.array([[a, b, h], [b, d, k], [h, k, g]]), np.array([*charged[0, :2], e])

    c, s = np.cos(0.4), np.sin(0.4)
    stretch = np.array([c * c, s * s, 2.0 * c * s])  # a unit strain along that axis
    (q, e), (along, charge) = at(0.8), at(0.4)
    assert stretch @ q @ stretch == pytest.approx(along[0, 0], rel=1e-12)
    assert stretch @ e == pytest.approx(charge[0], rel=1e-12)


def test_a_turned_patch_where_nothing_kept_twists_is_told_without_torsion():
    """A louvre blade thirteen times as thick: its modes of torsion lie above the bending modes kept."""
    project = library.example("louvre-blade")
    layers = tuple(
        replace(layer, thickness_m=tuple(13.0 * t for t in v) if isinstance(v := layer.thickness_m, tuple) else 13.0 * v)
        for layer in project.structure.layers
    )
    candidate = project.candidates[0]
    turned = tuple(replace(patch, angle_rad=0.3, length_m=0.02, width_m=0.01) for patch in candidate.patches)
    project = with_candidate(with_structure(project, layers=layers), replace(candidate, patches=turned))
    found = predict(project, candidate.id).whole()
    assert found.solved.beam.n_twist == 0 and found.torsion == ()
    assert all(mode.k2 >= 0.0 for mode in found.modes)
