"""The laminated plate that the model is held against, held itself against published plates and the solid.

Square cantilever plate, nu = 0.3: omega a^2 sqrt(rho h/D) = 3.4917, 8.5246, 21.429, 27.331 (Leissa 1969,
NASA SP-160, table 4.1, Ritz with beam functions, upper bounds); the plate's own limit is 3.471, 8.507, 21.29,
27.20 (modes 1, 3, 4 symmetric across, 2 antisymmetric). Values from memory.
"""

import numpy as np
import pytest

from tests.published.build import ceramic, material, package, place, project, strip
from tests.reference.elasticity_strip import EPS0, Isotropic
from tests.reference.laminate_plate import solve_plate
from tests.reference.solid_strip import Box, SolidCeramic, solve_solid

pytestmark = pytest.mark.slow


def test_square_cantilever_plate():
    side, depth, e, rho, nu = 0.3, 0.002, 70e9, 2700.0, 0.3
    made = project(strip(side, side, [("metal", depth)]), [material("metal", e, rho, nu)])
    scale = side**2 * np.sqrt(rho * depth / (e * depth**3 / (12 * (1 - nu**2))))
    even = 2 * np.pi * solve_plate(made, modes=3).f_short_hz * scale
    odd = 2 * np.pi * solve_plate(made, modes=1, torsion=True).f_short_hz * scale
    found = np.array([even[0], odd[0], even[1], even[2]])
    assert found == pytest.approx([3.471, 8.507, 21.29, 27.20], rel=1e-3)
    leissa = np.array([3.4917, 8.5246, 21.429, 27.331])
    assert np.all(found < leissa)
    assert found == pytest.approx(leissa, rel=8e-3)


@pytest.mark.parametrize(("start", "within"), [(0.005, 0.10), (0.120, 0.06)])
def test_plate_and_solid_agree(start, within):
    """A ceramic rigidly on the strip: the plate has no build-up at its ends, which costs the solid about 0.4 mm
    at each, so its K^2 is 4 to 9 % higher."""
    solid = solve_solid([
        Box(Isotropic(70e9, 0.33, 2700.0), 0.0, 0.3, 0.0, 0.015, 0.0, 0.002),
        Box(SolidCeramic(), start, start + 0.05, 0.0, 0.0125, 0.002, 0.00225),
    ], along=(1e-3, 2.0, 15e-3), across=(2e-3, 2.0, 7e-3))  # fmt: skip
    plate = package(ceramic(eps_r=SolidCeramic().eps33t / EPS0, nu=0.35), 0.05, 0.025, 0.25e-3)
    made = project(
        strip(0.3, 0.03, [("metal", 0.002)]), [material("metal", 70e9, 2700.0, 0.33)], [plate],
        [place(plate, start)],
    )  # fmt: skip
    found = solve_plate(made, modes=3)
    assert found.f_short_hz == pytest.approx(solid.f_short_hz, rel=4e-3)
    told = solid.k2 > 5e-4
    assert found.k2[told] == pytest.approx(solid.k2[told], rel=within)
    assert found.free_capacitance_f == pytest.approx(solid.free_capacitance_f, rel=0.015)
