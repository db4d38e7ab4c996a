"""Strain at the surfaces of a ceramic, along and across: one law for limits, readings and many layouts."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.ceramic_strain import ceramic_strains
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_structure
from core.project.service import StaticForce
from tests.published.build import ceramic, material, package, place, project, solved, strip

D31 = ceramic(nu=0.31).d31_c_n.value
METAL = material("metal", 70e9, 2700.0, 0.33)


def strains(depth_m, level="section", thickness_m=0.2e-3, told=None):
    """Of a ceramic on a part at a level, as they are told at another where that is given."""
    made = package(ceramic(nu=0.31), 0.05, 0.025, thickness_m)
    beam = solved(project(strip(0.3, 0.03, [("metal", depth_m)], level=level), [METAL], [made], [place(made, 0.05)]))
    element = int(np.searchsorted(beam.mesh.bounds_m, 0.07)) - 1
    (own,) = ceramic_strains(beam.section, beam.sections.bonded, beam.ceramics.thickness_m, told or level, with_volts=True)
    return own.bend[:, element, 0], own.volt[0, :, element, 0]


def test_a_thin_ceramic_contracts_across_with_a_thick_part():
    bend, _ = strains(0.02)
    assert bend[2:] / bend[:2] == pytest.approx([-0.33, -0.33], rel=0.01)
    assert bend[1] < bend[0] < 0.0  # on top: pushed by a curvature up, more at the outside


def test_a_ceramic_on_next_to_nothing_stretches_freely_both_ways():
    """Strain d31 E, along and across, at both sides."""
    volt = strains(2e-7)[1]
    assert volt == pytest.approx(np.full(4, D31 / 0.2e-3), rel=0.02)


def test_where_layers_do_not_hold_each_other_nothing_is_told_across():
    bend, volt = strains(0.002, level="plain", told="section")
    assert not bend[2:].any() and not volt[2:].any() and bend[:2].all() and volt[:2].all()
    along = strains(0.002, level="plain")
    assert np.array_equal(along[0], bend[:2]) and np.array_equal(along[1], volt[:2])


def test_a_push_along_is_a_pull_across_that_counts():
    """The nose landed on: 2645 microstrain of push along pull the ceramic across by 0.31 of that, more than any load
    pulls it along."""
    board = with_structure(library.example("half-board"), level="section")
    up = StaticForce("landed on", 317.0)
    told = predict(replace(board, service=replace(board.service, static_forces=(up,))), "A").limits
    push = next(f for f in told if f.name == "Compressive strain, static")
    pull = next(f for f in told if f.name == "Tensile strain, static")
    assert pull.value == pytest.approx(-0.31 * push.value, rel=0.03)
    assert pull.margin < 1.0
