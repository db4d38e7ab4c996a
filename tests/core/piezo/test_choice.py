"""Which further functions a part asks for."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.functions import Warp
from core.beam.spec import beam_spec
from core.piezo.choice import is_soft, warps
from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_structure
from tests.published.build import bare, material, strip

METAL = material("metal", 70e9, 2700.0, 0.33)


@pytest.mark.parametrize(("depth", "counts"), [(2e-3, True), (0.2e-3, True), (0.02e-3, False)])
def test_shear_and_rotary_inertia_count_where_they_take_a_millionth(depth, counts):
    part = strip(0.3, 0.03, [("metal", depth)], level="shear")
    spec = beam_spec(part, (METAL,))
    assert warps(spec) == counts and not is_soft(spec)
    without = bare(replace(part, level="section"), [METAL]).omega_rad_s[4]
    assert bare(part, [METAL]).omega_rad_s[4] == pytest.approx(without, rel=1e-2 if counts else 1e-12)


def test_what_they_take_is_that_of_a_thick_beam():
    """Slender: f falls by (k h)^2/24 (1 + E/(kappa G)) of mode n's wave number k, kappa 5/6 (Timoshenko's first term)."""
    part = strip(0.3, 0.002, [("metal", 2e-3)], level="shear", root=None)
    free = replace(part, root=replace(part.root, kind="pinned"), tip=replace(part.tip, kind="pinned"))
    thick, thin = (bare(replace(free, level=level), [METAL]).omega_rad_s[:3] for level in ("shear", "section"))
    k = np.pi * np.arange(1, 4) / 0.3
    assert 1 - thick / thin == pytest.approx((k * 2e-3) ** 2 / 24 * (1 + 2.66 * 1.2), rel=0.01)


def test_the_lab_beam_is_nearer_to_the_solid_with_them():
    """Solid: K^2 1.613, 0.852, 0.260 % (known to 2 %); f 19.908, 119.66, 326.7 Hz."""
    lab = with_structure(library.example("lab-beam"), level="across")
    beam = solve(lab, lab.candidate("A"), 8, temperature_c=20.0)
    assert any(isinstance(f, Warp) for f in beam.section.further.functions)
    assert 100 * beam.k2[:3] == pytest.approx([1.613, 0.852, 0.260], rel=0.02)
    assert beam.omega_rad_s[:3] / (2 * np.pi) == pytest.approx([19.908, 119.66, 326.7], rel=1e-3)
