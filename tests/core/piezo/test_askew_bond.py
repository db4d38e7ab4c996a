"""Where strain builds up in a turned patch: at the edges that lie across the strain of the part."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project.edit import with_structure
from tests.core.scenes import lab, placed

SIDE_M = 0.02


def square(degrees: float):
    """A square patch amid the part on an adhesive so soft that a fifth of it does not work."""
    project = with_structure(lab(), level="across")
    project = replace(project, packages=tuple(replace(p, bond=replace(p.bond, shear_modulus_pa=2e7)) for p in project.packages))
    return solve(*placed(project, x_start_m=0.14, length_m=SIDE_M, width_m=SIDE_M, angle_rad=np.radians(degrees)))


def test_a_square_turned_by_a_right_angle_works_over_as_much_of_itself():
    """What its ends lost its sides lose, and what does not work keeps the capacitance of a free ceramic."""
    straight, turned = square(0.0), square(90.0)
    along, across = straight.ceramics, turned.ceramics
    lost = SIDE_M - (along.x_b_eff_m - along.x_a_eff_m)
    assert 0.1 * SIDE_M < lost[0] < 0.4 * SIDE_M
    assert along.working_width_m == pytest.approx(SIDE_M) and across.x_b_eff_m - across.x_a_eff_m == pytest.approx(SIDE_M)
    assert across.working_width_m == pytest.approx(SIDE_M - lost, rel=1e-3)
    assert turned.blocked_f == pytest.approx(straight.blocked_f, rel=5e-3)
