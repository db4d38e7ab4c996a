"""The beam solver against closed forms it was not built from."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project.structure import CutOut, GroundSpring, PointMass, Support
from tests.core.scenes import lab


def bare(structure_changes: dict, **options):
    project = lab()
    project = replace(project, structure=replace(project.structure, **structure_changes))
    return solve(project, replace(project.candidate("A"), patches=(), groups=()), **options)


def test_static_compliance_of_a_cantilever():
    model = bare({})
    span, ei = 0.3, 70e9 * 0.03 * 0.002**3 / 12
    tip = model.deflection_row(span)
    assert float(tip @ tip) == pytest.approx(span**3 / (3 * ei), rel=1e-10)
    assert float(tip @ model.slope_row(span)) == pytest.approx(span**2 / (2 * ei), rel=1e-10)


def test_modes_are_mass_normalised_and_orthogonal():
    model = bare({"masses": (PointMass("m", 0.2, 0.02, 1e-5),)})
    x, weight = model.mesh.x_m.ravel(), model.mesh.weight_m
    shapes = model.omega_rad_s[:5, None] * (model.units[:5] @ model.deflection_row(x).T)
    mass = (weight * model.section.mass).ravel()
    at = model.omega_rad_s[:5] * (model.units[:5] @ model.deflection_row(0.2))
    slope = model.omega_rad_s[:5] * (model.units[:5] @ model.slope_row(0.2))
    gram = shapes @ (mass[:, None] * shapes.T) + 0.02 * np.outer(at, at) + 1e-5 * np.outer(slope, slope)
    assert gram == pytest.approx(np.eye(5), abs=1e-9)


def test_tip_deflection_is_positive():
    model = bare({})
    tip = model.units[:8] @ model.deflection_row(0.3)
    assert (tip > 0).all()


def test_where_the_tip_cannot_move_its_slope_is_positive():
    model = bare({"tip": Support("pinned")})
    assert (model.units[:8] @ model.slope_row(0.3) > 0).all()


@pytest.mark.parametrize("stiffness", [1e12, 1e20, 1e30])
def test_a_stiff_spring_tends_to_the_support_it_imitates(stiffness):
    pinned = bare({"tip": Support("pinned")})
    sprung = bare({"springs": (GroundSpring("s", 0.3, stiffness),)})
    assert sprung.omega_rad_s[:6] == pytest.approx(pinned.omega_rad_s[:6], rel=1e-5)


def test_an_intermediate_pin_is_a_spring_of_no_compliance():
    # Clamped, pinned at half span and free: checked against a spring a million times stiffer than the beam.
    soft = bare({"springs": (GroundSpring("s", 0.15, 1e10),)})
    hard = bare({"springs": (GroundSpring("s", 0.15, 1e16),)})
    assert soft.omega_rad_s[:4] == pytest.approx(hard.omega_rad_s[:4], rel=1e-4)
    assert abs(hard.units[0] @ hard.deflection_row(0.15)) < 1e-8 * (hard.units[0] @ hard.deflection_row(0.3))


def test_removing_an_attachment_restores_the_numbers_exactly():
    project = lab()
    before = solve(project, project.candidate("A"))
    changed = replace(project, structure=replace(project.structure, cut_outs=(CutOut("hole", 0.2, diameter_m=0.01),)))
    assert solve(changed, changed.candidate("A")).omega_rad_s[0] != before.omega_rad_s[0]
    again = solve(replace(changed, structure=replace(changed.structure, cut_outs=())), project.candidate("A"))
    assert (again.omega_rad_s == before.omega_rad_s).all()


def test_rigid_body_motion_is_kept_apart():
    model = bare({"root": Support("free")})
    assert model.n_rigid == 2
    x, mass = model.mesh.x_m.ravel(), (model.mesh.weight_m * model.section.mass).ravel()
    rigid = model.rigid_deflection(x)
    assert rigid @ (mass[:, None] * rigid.T) == pytest.approx(np.eye(2), abs=1e-9)
    elastic = model.units[:5] @ model.deflection_row(x).T
    assert rigid @ (mass[:, None] * elastic.T) == pytest.approx(np.zeros((2, 5)), abs=1e-9)


def test_base_load_is_minus_the_moved_mass():
    model = bare({"masses": (PointMass("m", 0.3, 0.1),)})
    x, mass = model.mesh.x_m.ravel(), (model.mesh.weight_m * model.section.mass).ravel()
    shapes = model.units[:4] @ model.deflection_row(x).T
    expected = -(shapes @ mass) - 0.1 * (model.units[:4] @ model.deflection_row(0.3))
    assert model.units[:4] @ model.base_row() == pytest.approx(expected, rel=1e-9)
