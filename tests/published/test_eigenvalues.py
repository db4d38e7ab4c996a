"""Natural frequencies of the uniform beam for every support.

Values: Blevins R.D. 1979, Formulas for Natural Frequency and Mode Shape, Table 8-1 (citation
from memory; each number is checked here as a root of its frequency equation).
"""

import mpmath as mp
import numpy as np
import pytest

from tests.published.build import bare, lambdas, strip, support, unit_beam

CLAMPED_FREE = [1.875104069, 4.694091133, 7.854757438, 10.99554073,
                14.13716839, 17.27875953, 20.42035225, 23.5619449]  # fmt: skip
FREE_FREE = [4.730040745, 7.853204624, 10.99560784, 14.13716549,
             17.27875966, 20.42035225, 23.5619449, 26.70353756]  # fmt: skip
PINNED = [3.141592654, 6.283185307, 9.424777961, 12.56637061,
          15.70796327, 18.84955592, 21.99114858, 25.13274123]  # fmt: skip
CLAMPED_PINNED = [3.926602312, 7.068582746, 10.21017612, 13.35176878,
                  16.49336143, 19.63495408, 22.77654674, 25.91813939]  # fmt: skip
CLAMPED_GUIDED = [2.365020372, 5.497803919, 8.639379829, 11.78097245,
                  14.9225651, 18.06415776, 21.20575041, 24.34734307]  # fmt: skip
GUIDED_PINNED = [1.570796327, 4.71238898, 7.853981634, 10.99557429]

CASES = {
    ("clamped", "free"): (CLAMPED_FREE, lambda x: mp.cos(x) + 1 / mp.cosh(x)),
    ("free", "clamped"): (CLAMPED_FREE, lambda x: mp.cos(x) + 1 / mp.cosh(x)),
    ("free", "free"): (FREE_FREE, lambda x: mp.cos(x) - 1 / mp.cosh(x)),
    ("clamped", "clamped"): (FREE_FREE, lambda x: mp.cos(x) - 1 / mp.cosh(x)),
    ("pinned", "pinned"): (PINNED, mp.sin),
    ("clamped", "pinned"): (CLAMPED_PINNED, lambda x: mp.tan(x) - mp.tanh(x)),
    ("pinned", "free"): (CLAMPED_PINNED, lambda x: mp.tan(x) - mp.tanh(x)),
    ("clamped", "guided"): (CLAMPED_GUIDED, lambda x: mp.tan(x) + mp.tanh(x)),
    ("guided", "free"): (CLAMPED_GUIDED, lambda x: mp.tan(x) + mp.tanh(x)),
    ("guided", "guided"): (PINNED, mp.sin),
    ("guided", "pinned"): (GUIDED_PINNED, mp.cos),
}


@pytest.mark.parametrize("ends", CASES, ids="-".join)
def test_printed_values_are_roots_of_the_frequency_equation(ends):
    printed, equation = CASES[ends]
    for value in printed:
        assert float(mp.findroot(equation, value)) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("ends", CASES, ids="-".join)
def test_eigenvalues(ends):
    printed, _ = CASES[ends]
    found = lambdas(unit_beam(root=support(ends[0]), tip=support(ends[1])), len(printed))
    assert found == pytest.approx(printed, rel=1e-7)


@pytest.mark.parametrize(
    ("ends", "rigid"),
    [(("free", "free"), 2), (("pinned", "free"), 1), (("guided", "free"), 1), (("guided", "guided"), 1),
     (("clamped", "free"), 0), (("pinned", "pinned"), 0)],
    ids=lambda value: "-".join(value) if isinstance(value, tuple) else str(value),
)  # fmt: skip
def test_number_of_rigid_body_modes(ends, rigid):
    assert bare(unit_beam(root=support(ends[0]), tip=support(ends[1]))).n_rigid == rigid


def test_aluminium_cantilever_in_hertz():
    """300 x 20 x 2 mm, 70 GPa, 2700 kg/m^3: f = lambda^2/(2 pi L^2) sqrt(EI/m)."""
    beam = bare(strip(0.3, 0.02, [("al", 0.002)]), [("al", 70e9, 2700.0)])
    printed = [18.27826145, 114.5479092, 320.7374626, 628.5174161, 1038.984323]
    assert beam.omega_rad_s[:5] / (2 * np.pi) == pytest.approx(printed, rel=1e-7)
