"""Whatever the part: the general-purpose route finds the same modes, coupling and capacitance."""

import numpy as np
from hypothesis import assume, given

from tests.laws.drawn import law, modes, patched
from tests.reference import hermite_route
from tests.reference.lamination import Lamination


@law
@given(patched())
def test_hermite_elements_agree_on_drawn_parts(made):
    """Own lamination, cubic Hermite elements, scipy: frequencies of six modes to 5e-5, coupling and
    free capacitance. Not K^2, nor patch ends close to a station: that route subtracts eigenvalues and
    a short element leaves it few digits; the exact transfer matrix judges those elsewhere."""
    written_anew = Lamination(made, made.candidate()).as_beam()
    assume(np.diff(written_anew.breaks_m).min() > 3e-4 * made.structure.span_m)
    beam = modes(made)
    other = hermite_route.solve(written_anew, elements=100)
    np.testing.assert_allclose(beam.omega_rad_s[:6], other.omega_rad_s[:6], rtol=5e-5)
    ours, theirs = np.abs(beam.group_theta[:6, 0]), np.abs(other.theta[:6])
    np.testing.assert_allclose(ours, theirs, rtol=1e-3, atol=1e-4 * theirs.max())
    np.testing.assert_allclose(beam.group_free_f[0, 0], other.free_capacitance_f, rtol=1e-6)
