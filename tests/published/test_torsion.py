"""Torsion of plates and strips, and bending of plates at the level 'across'.

Square cantilever plate, nu = 0.3: omega a^2 sqrt(rho h/D) = 3.4917, 8.5246, 21.429, 27.331 (Leissa 1969, NASA SP-160, table
4.1, Ritz, upper bounds, from memory); the plate's own limit is 3.471, 8.507, 21.29, 27.20, of which 8.507 is torsion.
A slender strip twists at sqrt(6 (1 - nu)) pi a/b in the same measure (GJ = G b h^3/3, rho I = rho h b^3/12). Half board and
bracket: a laminated plate of its own gave T1 82, T2 253 Hz and 413 Hz.
"""

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.optimize import brentq

from core.beam.mesh import base_mesh, mesh_on
from core.beam.section import base_section
from core.beam.section_further import everywhere
from core.beam.spec import beam_spec
from core.beam.torsion import odd_functions, torsion, torsion_hz
from core.piezo.layout import solve
from core.piezo.twist import torsion_of
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library
from core.project.edit import with_structure
from core.project.record import Constant
from core.project.structure import PointMass
from tests.published.build import bare, material, strip

E, RHO, NU = 70e9, 2700.0, 0.3


def plate(ratio: float, width: float = 0.3, depth: float = 0.002):
    """A strip `ratio` times as long as wide, stiff in shear, and what makes its omega dimensionless."""
    metal = replace(material("metal", E, RHO, NU), shear_modulus_through_pa=Constant(1e5 * E))
    span = ratio * width
    scale = span**2 * np.sqrt(RHO * depth / (E * depth**3 / (12 * (1 - NU**2))))
    return strip(span, width, [("metal", depth)], level="across"), metal, scale


def test_square_cantilever_plate():
    made, metal, scale = plate(1.0)
    bends = bare(made, [metal]).omega_rad_s[:3] * scale
    twists = 2 * np.pi * torsion_hz(beam_spec(made, (metal,)))[0] * scale
    assert bends == pytest.approx([3.4710, 21.285, 27.199], rel=1e-3)
    assert twists == pytest.approx(8.507, rel=5e-3)
    assert np.all(np.array([*bends, twists]) >= [3.471, 21.285, 27.199, 8.507])
    assert np.all(bends < [3.4917, 21.429, 27.331])


def test_broad_cantilever_plate():
    """Span over width 2.5, as the laminated plate of tests/reference, 1,833 unknowns, has it: bending and the first mode that
    curves across."""
    made, metal, scale = plate(2.5)
    bends = bare(made, [metal]).omega_rad_s[:5] * scale
    assert bends == pytest.approx([3.428, 21.397, 60.124, 117.845, 143.708], rel=1e-3)
    twists = 2 * np.pi * np.array(torsion_hz(beam_spec(made, (metal,)))[:2]) * scale
    assert twists == pytest.approx([17.963, 57.219], rel=5e-3)


def test_slender_strip():
    made, metal, scale = plate(50.0, 0.02, 0.5e-3)
    twists = 2 * np.pi * np.array(torsion_hz(beam_spec(made, (metal,)))) * scale
    assert twists / (np.pi * 50.0 * np.sqrt(6 * (1 - NU))) == pytest.approx([1.0, 3.0, 5.0], rel=7e-3)
    bends = bare(made, [metal]).omega_rad_s[:3] * scale
    beam = np.array([1.8751, 4.6941, 7.8548]) ** 2 * np.sqrt(1 - NU**2)
    assert bends == pytest.approx(beam, rel=4e-3)


@pytest.mark.parametrize(("key", "hz"), [("half-board", (82.0, 253.0)), ("gantry-bracket", (413.0,))])
def test_examples_against_a_plate(key, hz):
    """The plate has the patch on it: within 1 % where it is small, 3 % on the bracket."""
    project = library.example(key)
    found = torsion_hz(beam_spec(project.structure, project.materials))
    assert found[: len(hz)] == pytest.approx(hz, rel=0.01 if key == "half-board" else 0.03)


@pytest.mark.parametrize(
    ("key", "candidate", "hz"),
    [("lab-beam", "A", (372.36, 1111.2)), ("lab-beam", "B", (358.33, 1065.8)), ("half-board", "A", (82.84, 254.25)),
     ("half-board", "B", (84.14, 253.13))],
)  # fmt: skip
def test_layouts_against_a_plate(key, candidate, hz):
    """Packages twist with the part: the laminated plate of tests/reference with them on it, within 1 %."""
    project = with_structure(library.example(key), level="across")
    beam = solve(project, project.candidate(candidate), temperature_c=20.0)
    found = torsion_of(beam)
    assert found.frequency_hz[:2] == pytest.approx(hz, rel=0.01)
    first = found.edge[0]
    assert np.abs(first).max() == 1.0 and first[0] == 0.0


def test_short_elements_hold_nothing():
    """Boundaries a ten thousandth of the span apart change no frequency."""
    made, metal, _ = plate(3.0)
    spec = beam_spec(made, (metal,))
    base = base_mesh(spec, 8)
    short = mesh_on(spec, base, np.array([0.4, 0.4 + 1.2e-4 * spec.span_m]))
    sections = [everywhere(spec, mesh, base_section(spec, mesh), odd_functions(spec), None) for mesh in (base, short)]
    found = [torsion(spec, mesh, at).frequency_hz for mesh, at in zip((base, short), sections, strict=True)]
    assert found[1] == pytest.approx(found[0], rel=2e-3)


def test_a_mass_turns_with_its_own_inertia():
    """A mass at the tip of a slender strip, about the inertia of its own width: tan(a) a = J_strip/J_mass (rod in torsion)."""
    made, metal, _ = plate(50.0, 0.02, 0.5e-3)
    rod = RHO * 0.5e-3 * 0.02**3 / 12 * made.span_m
    bare_hz = torsion_hz(beam_spec(made, (metal,)))[0]
    for share in (0.5, 4.0):
        mass = PointMass("head", made.span_m, 1e-3, roll_inertia_kg_m2=share * rod)
        found = torsion_hz(beam_spec(replace(made, masses=(mass,)), (metal,)))[0]
        a = brentq(lambda a, share=share: a * np.tan(a) - 1 / share, 1e-6, np.pi / 2 - 1e-6)
        assert found / bare_hz == pytest.approx(a / (np.pi / 2), rel=5e-3)
    spread = PointMass("bar", made.span_m, 0.01)
    same = PointMass("bar", made.span_m, 0.01, roll_inertia_kg_m2=0.01 * 0.02**2 / 12)
    hz = [torsion_hz(beam_spec(replace(made, masses=(m,)), (metal,)))[0] for m in (spread, same)]
    assert hz[1] == pytest.approx(hz[0], rel=1e-3)


def test_nothing_is_said_where_nothing_holds_the_roll():
    made, metal, _ = plate(5.0)
    free = replace(made, root=replace(made.root, kind="free"))
    assert torsion_hz(beam_spec(free, (metal,))) == ()


def test_torsion_is_told_with_its_frequency():
    section = with_structure(library.example("half-board"), level="section")
    remarks = {r.code: r.text for r in predict(section).remarks}
    assert "T1 at 81.83 Hz, T2 at 253.3 Hz" in remarks["torsion"] and "does not reach that" in remarks["torsion"]
    plain = with_structure(library.example("half-board"), level="plain")
    assert "expected near" in {r.code: r.text for r in predict(plain).remarks}["torsion"]


def test_torsion_stands_among_the_modes_across():
    project = with_structure(library.example("half-board"), level="across")
    found = predict(project)
    names = [t.name for t in found.torsion]
    assert names == ["T1", "T2", "T3"] and [t.f_hz for t in found.torsion] == pytest.approx([83.0, 256.4, 508.5], rel=0.01)
    modes = prediction_text(project, found).split("Modes")[1].split("Poles")[0].splitlines()
    order = [line.split()[1] if line.split()[0].isdigit() else line.split()[0] for line in modes[2:] if line.strip()]
    assert order[:5] == ["B1", "T1", "B2", "T2", "C1"]
    assert "Torsion: T1 " in prediction_text(project, found)
    assert "cannot be reached by a centred patch" in {r.code: r.text for r in found.remarks}["torsion"]
    first = prediction_json(project, found)["torsion"][0]
    assert first["k2"] is None and first["k2_note"] == "cannot be reached by a centred patch"
    assert len(first["edge_x_m"]) == len(first["edge_deflection"]) and max(map(abs, first["edge_deflection"])) == 1.0
    without = with_structure(project, level="section")
    assert predict(without).torsion == () and prediction_json(without, predict(without))["torsion"] == []


def test_torsion_is_told_in_terminal_and_json():
    project = with_structure(library.example("half-board"), level="section")
    found = predict(project)
    first, second = prediction_json(project, found)["torsion_hz"][:2]
    assert (first, second) == pytest.approx((82.0, 253.0), rel=0.02)
    assert f"Torsion, bare: T1 {first:.2f} Hz, T2 {second:.1f} Hz" in prediction_text(project, found)
