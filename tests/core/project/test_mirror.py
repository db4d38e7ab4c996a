"""The mirrored part resonates and couples as the part as drawn."""

import numpy as np
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_structure
from core.project.mirror import mirrored
from core.project.structure import PointMass


def test_a_mass_off_the_centreline_changes_sides_with_the_patch():
    """Left behind on its side it lay across from the patch, and the third mode's K^2 was told 2 % too high."""
    made = library.example("lab-beam")
    candidate = made.candidate()
    aside = replace(candidate, patches=tuple(replace(patch, y_m=0.002) for patch in candidate.patches))
    arm = PointMass("arm", 0.9 * made.structure.span_m, 0.004, y_m=0.02)
    made = replace(with_structure(made, level="across", masses=(arm,)), candidates=(aside,))
    other = mirrored(made)
    assert other.structure.masses[0].y_m == -0.02
    assert mirrored(other) == made
    here, there = solve(made, made.candidate()), solve(other, other.candidate())
    np.testing.assert_allclose(there.omega_rad_s[:4], here.omega_rad_s[:4], rtol=1e-8)
    np.testing.assert_allclose(there.k2[:4], here.k2[:4], rtol=1e-6)
