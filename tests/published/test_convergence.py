"""Frequencies to 1e-7 and K^2 to 1e-6 (down to 1e-10) at every mode shown, wherever the patch lies, and right
by an independent route.

The finer solution has twice the elements, more points in each, and eight moments more.

The route writes EI(x), m(x) and g(x) down anew and solves with scikit-fem's cubic Hermite
elements: no code shared with the core but the saved values. It has every layer free across by itself
(level 'plain'); what the section's own freedom changes is held in test_section_level.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import MODES_BEYOND
from core.project import library
from core.project.candidate import Candidate
from core.project.structure import CutOut, PointMass
from tests.levels import together
from tests.published.build import plain
from tests.reference import hermite_route
from tests.reference.lamination import Lamination

KEYS = [key for key, _ in library.examples()]
LAYOUTS = [(key, candidate.id) for key in KEYS for candidate in library.example(key).candidates]
LAYOUT = pytest.mark.parametrize(("key", "candidate"), LAYOUTS, ids=[" ".join(pair) for pair in LAYOUTS])


@LAYOUT
def test_first_eight_modes_are_converged(key, candidate):
    project = together(library.example(key))
    layout = project.candidate(candidate)
    usual = solve(project, layout)
    better = solve(project, layout, finer=1)
    assert usual.omega_rad_s[:8] == pytest.approx(better.omega_rad_s[:8], rel=1e-6)
    assert usual.k2[:8] == pytest.approx(better.k2[:8], rel=1e-6)
    assert usual.group_free_f == pytest.approx(better.group_free_f, rel=1e-9)


def promised(project, layout, modes):
    """What a prediction of so many modes takes, against the finer solution."""
    usual, better = solve(project, layout, modes + MODES_BEYOND), solve(project, layout, modes + 20, finer=1)
    assert usual.omega_rad_s[:modes] == pytest.approx(better.omega_rad_s[:modes], rel=1e-7)
    clear = better.group_k2[:modes] > 1e-10
    assert usual.group_k2[:modes][clear] == pytest.approx(better.group_k2[:modes][clear], rel=1e-6)
    return usual


def moved(layout, **changes):
    return replace(layout, patches=(replace(layout.patches[0], **changes), *layout.patches[1:]))


@LAYOUT
def test_the_promise_holds_at_random_places(key, candidate):
    """Of the first patch; modes shown five to eight, as they come."""
    project = together(library.example(key))
    layout = project.candidate(candidate)
    random = np.random.default_rng(sum(map(ord, key + candidate)))
    last = project.structure.span_m - layout.patches[0].length_m
    for start in random.uniform(0.0, last, 6):
        promised(project, moved(layout, x_start_m=float(start)), int(random.integers(5, 9)))


@pytest.mark.parametrize("key", KEYS)
def test_the_promise_holds_for_a_patch_over_nearly_the_whole_span(key):
    project = together(library.example(key))
    span = project.structure.span_m
    for short in (0.02, 0.005, 1e-7):
        layout = moved(project.candidates[0], x_start_m=0.5 * short * span, length_m=(1.0 - short) * span)
        promised(project, layout, 8)


@pytest.mark.parametrize("key", KEYS)
def test_the_promise_holds_with_a_tip_mass_and_beside_a_sliver(key):
    """A mass of the part's own weight; a patch that ends a nanometre before it or a station."""
    project = together(library.example(key))
    span, mass = project.structure.span_m, solve(project, Candidate("bare", "")).total_mass_kg
    heavy = replace(project.structure, masses=(PointMass("tip", span, mass, 1e-5 * mass),))
    layout = project.candidates[0]
    for gap in (0.0, 1e-9, 1e-6):
        beside = moved(layout, x_start_m=span - layout.patches[0].length_m - gap)
        promised(replace(project, structure=heavy), beside, 6)


@pytest.mark.parametrize("modes", [10, 20, 40])
@pytest.mark.parametrize("key", KEYS)
def test_the_promise_holds_for_many_modes(key, modes):
    project = together(library.example(key))
    promised(project, project.candidate("A"), modes)


def test_a_round_hole_is_taken_by_its_true_chord():
    """Against a hole of 600 slots as wide as the mean chord of their slice."""
    project = together(library.example("lab-beam"))
    layout, radius, centre = project.candidate("A"), 0.009, 0.031
    hole = replace(project.structure, cut_outs=(CutOut("hole", centre, diameter_m=2 * radius),))
    angle = np.linspace(np.pi, 0.0, 601)
    ends = radius * np.cos(angle)
    area = radius**2 * (np.pi - angle) + ends * np.sqrt(np.maximum(radius**2 - ends**2, 0.0))
    chords = np.diff(area) / np.diff(ends)
    slots = tuple(
        CutOut("slot", centre + 0.5 * (a + b), length_m=b - a, width_m=float(w))
        for a, b, w in zip(ends[:-1].tolist(), ends[1:].tolist(), chords, strict=True)
    )
    sliced = solve(replace(project, structure=replace(project.structure, cut_outs=slots)), layout, 8)
    found = promised(replace(project, structure=hole), layout, 5)
    assert found.omega_rad_s[:5] == pytest.approx(sliced.omega_rad_s[:5], rel=1e-6)
    assert found.k2[:5] == pytest.approx(sliced.k2[:5], rel=1e-5)
    whole = solve(project, layout, 8)
    assert np.abs(found.omega_rad_s[:5] / whole.omega_rad_s[:5] - 1).max() > 1e-3


@pytest.mark.parametrize("key", KEYS)
def test_bare_structures_are_converged(key):
    project = together(library.example(key))
    bare = Candidate("bare", "no patch")
    usual, better = solve(project, bare), solve(project, bare, finer=1)
    assert usual.omega_rad_s[:8] == pytest.approx(better.omega_rad_s[:8], rel=1e-6)


@LAYOUT
def test_hermite_elements_find_the_same(key, candidate):
    """Frequencies of eight modes from 200 cubic elements. K^2 from 100: that route subtracts two
    eigenvalues, whose rounding grows with the fourth power of the element count."""
    project = plain(library.example(key))
    layout = project.candidate(candidate)
    # the route takes every constant as it stands, at its own reference of 20 degC
    beam = solve(project, layout, temperature_c=20.0)
    written_anew = Lamination(project, layout).as_beam()
    coarse, other = (hermite_route.solve(written_anew, elements=n) for n in (100, 200))
    assert beam.omega_rad_s[:8] == pytest.approx(other.omega_rad_s[:8], rel=5e-7)
    assert np.abs(beam.group_theta[:5, 0]) == pytest.approx(np.abs(other.theta[:5]), rel=1e-5)
    assert beam.k2[:5] == pytest.approx(coarse.k2[:5], rel=3e-5, abs=5e-8)
    assert beam.group_free_f[0, 0] == pytest.approx(other.free_capacitance_f, rel=1e-7)
