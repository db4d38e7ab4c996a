"""Point masses off the centreline: bending and torsion in one layout at the level 'across'.

Held against the laminated plate of tests/reference over its whole width, a mass at a corner of its tip; its figures stand
below as they came with triangles of about 12 mm.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.functions import Odd
from core.piezo.layout import solve
from core.predict.predict import predict
from core.predict.remarks.mass_validity import mass_words
from core.predict.report.report import prediction_json
from core.project.edit import with_structure
from core.project.record import Constant
from core.project.structure import PointMass
from tests.published.test_askew import TWO_HERTZ, plate_with
from tests.reference.laminate_plate import solve_whole_plate

F_HZ = (12.511, 71.683, 116.182, 258.059, 338.631, 517.415)
K2_PERCENT = (0.4222, 0.0187, 0.0004, 0.0818, 0.1842, 0.1180)
CORNER = PointMass("lamp", 0.3, 0.05, y_m=0.05)


def carrying(*masses, level="across", **how):
    """Stiff in shear, as the plate is."""
    made = plate_with(level=level, **how)
    stiff = tuple(replace(m, shear_modulus_through_pa=Constant(1e4 * m.youngs_modulus_pa.value)) for m in made.materials)
    return with_structure(replace(made, materials=stiff), masses=masses)


def solved(made, **varied):
    return solve(made, made.candidate(), 8, **varied)


def by_frequency(beam, count=6):
    order = np.argsort(beam.omega_rad_s)[:count]
    return beam.omega_rad_s[order] / TWO_HERTZ, beam.k2[order]


def test_a_mass_at_a_corner_against_a_laminated_plate():
    """Stiff in shear, as the plate is: f within 0.3 %, K^2 within 2.2 % where it is seen (the plate's triangles of 12 mm have it 0.7 % high): a centred ceramic
    reaches torsion."""
    made = carrying(CORNER)
    stiff = tuple(replace(m, shear_modulus_through_pa=Constant(1e4 * m.youngs_modulus_pa.value)) for m in made.materials)
    f, k2 = by_frequency(solved(replace(made, materials=stiff)))
    assert f == pytest.approx(F_HZ, rel=3e-3)
    seen = np.array(K2_PERCENT) > 0.01
    assert 100 * k2[seen] == pytest.approx(np.array(K2_PERCENT)[seen], rel=0.022)
    assert 100 * k2[~seen] == pytest.approx(np.array(K2_PERCENT)[~seen], abs=2e-4)


@pytest.mark.slow
def test_the_plate_gives_these_figures():
    found = solve_whole_plate(carrying(CORNER), size_m=12e-3)
    assert found.f_short_hz[:6] == pytest.approx(F_HZ, rel=1e-3)
    assert 100 * found.k2[:6] == pytest.approx(K2_PERCENT, rel=0.01, abs=1e-4)


@pytest.mark.parametrize("roll", [0.0, 2e-5])
def test_nothing_leaps_as_a_mass_leaves_the_centreline(roll):
    on, off = (solved(carrying(PointMass("m", 0.3, 0.05, 0.0, roll, 0.01, y))) for y in (0.0, 1e-7))
    assert on.n_twist == 0 and off.n_twist > 0
    assert off.omega_rad_s[:4] == pytest.approx(on.omega_rad_s[:4], rel=2e-4)
    assert off.k2[:3] == pytest.approx(on.k2[:3], rel=5e-3)
    assert off.k2[off.n_kept - off.n_twist :].max() < 1e-9


def test_mirrored_masses_are_the_same_and_two_alike_leave_bending_apart():
    left, right = (solved(carrying(replace(CORNER, y_m=y))) for y in (0.03, -0.03))
    assert right.omega_rad_s == pytest.approx(left.omega_rad_s, rel=1e-7)
    assert right.k2 == pytest.approx(left.k2, rel=1e-4, abs=1e-9)
    half = replace(CORNER, mass_kg=0.025)
    pair = solved(carrying(replace(half, name="l", y_m=0.05), replace(half, name="r", y_m=-0.05)))
    assert pair.k2[pair.n_kept - pair.n_twist :].max() < 1e-9


def test_a_mass_on_an_arm_turns_as_an_inertia_would():
    """Two halves on arms far beyond the edges: a mass at each edge, and what more they turn with is m (y^2 - b^2) of roll."""
    arms = [PointMass(n, 0.3, 0.01, 0.0, 1e-9, y_m=y) for n, y in (("l", 0.12), ("r", -0.12))]
    f, _ = by_frequency(solved(carrying(*arms)), 2)
    bar = [PointMass("bar", 0.3, 0.02, 0.0, 2 * 0.01 * 0.12**2), PointMass("a", 0.3, 0.0, y_m=0.01)]
    g, _ = by_frequency(solved(carrying(*bar)), 2)
    assert f == pytest.approx(g, rel=0.03)


def test_one_layout_as_many_and_without_patches():
    made = carrying(CORNER)
    many = solved(made, variation={"structure.masses[0].mass_kg": np.array([0.03, 0.05])})
    for i, kg in enumerate((0.03, 0.05)):
        alone = solved(carrying(replace(CORNER, mass_kg=kg)))
        assert many.omega_rad_s[i, :6] == pytest.approx(alone.omega_rad_s[:6], rel=1e-6)
        assert many.k2[i, :3] == pytest.approx(alone.k2[:3], rel=1e-3, abs=1e-9)
    bare = solve(made, replace(made.candidate(), patches=(), groups=()), 8)
    assert any(isinstance(f, Odd) for f in bare.section.further.functions)
    assert bare.omega_rad_s[0] / TWO_HERTZ == pytest.approx(F_HZ[0], rel=0.03)


def test_the_base_shakes_it_about_its_axis():
    """Force of a uniform acceleration along every mode is that of a rigid translation."""
    beam = solved(carrying(CORNER))
    force = beam.beam.mode_vectors(12) @ beam.beam.base
    mass = beam.beam.bending.spec.mass_kg.sum() + float((beam.section.mass * beam.mesh.weight_m).sum())
    assert 0.9 * mass < float(force @ force) < mass
    twists = beam.beam.mode_vectors(beam.n_kept)[beam.n_kept - beam.n_twist :]
    centred = solved(carrying(replace(CORNER, y_m=1e-7)))
    still = centred.beam.mode_vectors(centred.n_kept)[centred.n_kept - centred.n_twist :]
    assert abs(twists[0] @ beam.beam.base) > 1e-2 > 1e3 * abs(still[0] @ centred.beam.base)


def test_it_is_told_and_lower_levels_say_that_they_leave_it_out():
    found = predict(carrying(CORNER))
    assert "mass off centre" not in {r.code for r in found.remarks}
    told = prediction_json(carrying(CORNER), found)["torsion"][0]
    assert told["name"] == "T1" and told["k2"] > 1e-6
    assert {m.name for m in found.modes} >= {"B1", "B2", "B3"}
    lower = carrying(CORNER, level="section")
    remark = {r.code: r.text for r in predict(lower).remarks}["mass off centre"]
    assert "lamp lies 50.0 mm off the centreline" in remark and "the level 'across' takes that" in remark
    on = carrying(replace(CORNER, y_m=0.0), level="section")
    assert solved(lower).omega_rad_s == pytest.approx(solved(on).omega_rad_s, rel=1e-12)


def test_the_laboratory_card_says_where_it_lies():
    made = carrying(CORNER, PointMass("clip", 0.1, 0.001, ahead_m=-0.002))
    assert [mass_words(m) for m in made.structure.masses] == [
        "lamp (50.0 mm off the centreline)", "clip (−2.0 mm ahead of where it is fixed)",
    ]  # fmt: skip
