"""Converged to 1e-6 on every shipped example, and right by an independent route.

The route writes EI(x), m(x) and g(x) down anew and solves with scikit-fem's cubic Hermite
elements: no code shared with the core but the saved values.
"""

import numpy as np
import pytest

from core.piezo.layout import solve
from core.project import library
from core.project.model import Candidate
from tests.reference import hermite_route
from tests.reference.lamination import Lamination

KEYS = [key for key, _ in library.examples()]
LAYOUTS = [(key, candidate.id) for key in KEYS for candidate in library.example(key).candidates]
LAYOUT = pytest.mark.parametrize(("key", "candidate"), LAYOUTS, ids=[" ".join(pair) for pair in LAYOUTS])


@LAYOUT
def test_first_eight_modes_are_converged(key, candidate):
    project = library.example(key)
    layout = project.candidate(candidate)
    usual = solve(project, layout)
    better = solve(project, layout, finer=1)
    assert usual.omega_rad_s[:8] == pytest.approx(better.omega_rad_s[:8], rel=1e-6)
    assert usual.k2[:8] == pytest.approx(better.k2[:8], rel=1e-6)
    assert usual.group_free_f == pytest.approx(better.group_free_f, rel=1e-9)


@pytest.mark.parametrize("key", KEYS)
def test_bare_structures_are_converged(key):
    project = library.example(key)
    bare = Candidate("bare", "no patch")
    usual, better = solve(project, bare), solve(project, bare, finer=1)
    assert usual.omega_rad_s[:8] == pytest.approx(better.omega_rad_s[:8], rel=1e-6)


@LAYOUT
def test_hermite_elements_find_the_same(key, candidate):
    """Frequencies of eight modes from 200 cubic elements. K^2 from 100: that route subtracts two
    eigenvalues, whose rounding grows with the fourth power of the element count."""
    project = library.example(key)
    layout = project.candidate(candidate)
    beam = solve(project, layout)
    written_anew = Lamination(project, layout).as_beam()
    coarse, other = (hermite_route.solve(written_anew, elements=n) for n in (100, 200))
    assert beam.omega_rad_s[:8] == pytest.approx(other.omega_rad_s[:8], rel=5e-7)
    assert np.abs(beam.group_theta[:5, 0]) == pytest.approx(np.abs(other.theta[:5]), rel=1e-5)
    assert beam.k2[:5] == pytest.approx(coarse.k2[:5], rel=3e-5, abs=5e-8)
    assert beam.group_free_f[0, 0] == pytest.approx(other.free_capacitance_f, rel=1e-7)
