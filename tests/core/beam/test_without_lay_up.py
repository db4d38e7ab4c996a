"""A part that is ceramics only: two films on each other, nothing between them."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.handover.drawing.items import Text
from core.handover.sheet.diagram import placement_diagrams
from core.predict.predict import predict
from core.predict.remarks.problems import find_problems
from core.project.placement.many import judge
from core.study.tolerance.uncertain import uncertain_inputs
from tests.published.build import EPS0, ceramic, group, package, place, project, strip
from tests.published.experiments import project_of

SPAN, WIDTH, THICK = 0.1, 0.005, 0.0005
E, E31, EPS = 2e9, 0.046, 1.062e-10
FILM = package(
    ceramic(s11e=1 / E, d31=E31 / E, eps_r=(EPS + E31**2 / E) / EPS0, rho=1800.0, nu=0.0), SPAN, WIDTH, THICK
)


def films(layers=(), length=SPAN):
    pair = [place(FILM, 0.0, id="P1", length=length), place(FILM, 0.0, face="underside", id="P2", length=length)]
    base = strip(SPAN, WIDTH, list(layers))
    return project(base, [("filler", 1e9, 1000.0)], [FILM], pair, [group(("P1", 1), ("P2", -1), wiring="series")])


def test_two_films_bend_as_theory_says():
    """Tip 3 e31 L^2 V/(2 E h^2 (1 + K^2/4)) with h the whole height and K^2 = e31^2/(E eps), the field linear in
    each film; frequency of a homogeneous cantilever whose films are stiffened by that field."""
    found = predict(films())
    stiffer = 1.0 + 0.25 * E31**2 / (E * EPS)
    tip = 1.5 * E31 / E * (SPAN / (2 * THICK)) ** 2 / stiffer
    assert abs(found.groups[0].tip_m_per_v) == pytest.approx(tip, rel=1e-7)
    f1 = 1.8751040687**2 / (2 * np.pi * SPAN**2) * 2 * THICK * np.sqrt(E * stiffer / 1800.0 / 12.0)
    assert found.modes[0].f_short_hz == pytest.approx(f1, rel=1e-7)
    assert found.bare_mass_kg == 0.0 and found.tip_stiffness_n_m is None
    assert found.total_mass_kg == pytest.approx(2 * SPAN * WIDTH * THICK * 1800.0, rel=1e-8)
    assert all(mode.layer_shares == () for mode in found.modes)


def test_nothing_is_the_limit_of_a_thin_layer():
    thin = predict(films([("filler", 1e-9)]))
    none = predict(films())
    for a, b in zip(thin.modes, none.modes, strict=True):
        assert a.f_short_hz == pytest.approx(b.f_short_hz, rel=3e-6)
        assert a.k2 == pytest.approx(b.k2, rel=3e-6, abs=1e-9)


def test_its_placement_diagram_shows_that_it_has_no_base():
    sheets = placement_diagrams(project_of("films"))
    assert "without a base" in " ".join(item.text for sheet in sheets for item in sheet.items if isinstance(item, Text))


def test_no_place_is_offered_that_leaves_it_in_pieces():
    project = replace(films(), candidates=(replace(films().candidate(), patches=films().candidate().patches[:1]),))
    patch = project.candidate().patches[0]
    judged = judge(project, project.candidate(), patch, np.array([0.0, 0.01]))
    assert judged.allowed.tolist() == [True, False] and judged.error.tolist() == [False, True]
    assert not any("Position" in item.label for item in uncertain_inputs(films(), films().candidate()))


def test_where_nothing_holds_the_part_together_is_told():
    (problem,) = (p for p in find_problems(films(length=0.06)) if not p.path.startswith("materials"))
    assert problem.path == "structure.layers"
    assert "no ceramic lies at x = 60.0 mm" in problem.message and "Add a layer" in problem.message
    bare = films()
    found = find_problems(replace(bare, view=replace(bare.view, before="bare structure")))
    (problem,) = (p for p in found if not p.path.startswith("materials"))
    assert problem.path == "view.before" and "no bare structure" in problem.message
