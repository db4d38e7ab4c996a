"""A tuned mass is placed by the same sheet as a patch, also where there is no patch at all."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.handover.drawing.items import Circle, Dimension, SheetError
from core.handover.sheet.diagram import placement_diagrams
from core.handover.template.template import templates
from core.project import edit, library
from core.project.absorber_edits import add_absorber, find_absorber, with_absorber
from core.project.model import Project
from tests.core.handover.sheet.test_sheet_words import words

X_M = 0.25


def with_mass(patches: bool) -> Project:
    project = library.example("lab-beam")
    if not patches:
        project = edit.with_candidate(project, replace(project.candidate("A"), patches=(), groups=()))
    return add_absorber(project, "A", X_M, 0.01)[0]


@pytest.mark.parametrize("patches", [True, False])
def test_its_axis_is_dimensioned_from_datum_a_and_drawn_to_scale(patches):
    drawing = placement_diagrams(with_mass(patches), "A")[0]
    wanted = [i for i in drawing.items if isinstance(i, Dimension) and i.text.startswith("A to M1")]
    assert [d.text + " " + d.tolerance for d in wanted] == ["A to M1 50.0 ± 1.0"]  # A is the tip edge at 300
    rings = [i for i in drawing.items if isinstance(i, Circle) and i.layer == "mass" and not i.filled]
    (view,) = drawing.views
    assert rings[0].centre == view.at(1e3 * X_M, 0.0)
    assert abs(wanted[0].end[0] - wanted[0].start[0]) == pytest.approx(50.0 * view.scale)


def test_a_sheet_without_a_patch_says_nothing_of_bonding_and_warns_of_the_swing():
    told = " ".join(words(drawing) for drawing in placement_diagrams(with_mass(False), "A"))
    assert "no patch" in told and "axis of the tuned mass" in told
    assert "A tuned mass swings" in told and "Local codes and licensed practice" in told
    for unfit in ("Bond line", "Brittle", "Contains lead", "Package section", "poling", "Capacitance"):
        assert unfit not in told


def test_the_stroke_it_is_allowed_is_to_be_kept_free():
    project = with_mass(True)
    mass = find_absorber(project.candidate("A"), "M1")
    told = words(placement_diagrams(with_absorber(project, "A", replace(mass, allowed_stroke_m=0.004)), "A")[-1])
    assert "Keep 4.0 mm free to either side" in told


def test_the_tolerance_along_ends_where_the_part_ends():
    project = with_mass(False)
    mass = find_absorber(project.candidate("A"), "M1")
    project = with_absorber(project, "A", replace(mass, x_m=project.structure.span_m - 5e-4))
    wanted = [i for d in placement_diagrams(project, "A") for i in d.items if isinstance(i, Dimension) and "M1" in i.text]
    assert [d.tolerance for d in wanted] == ["+1.0/\N{MINUS SIGN}0.5"]


def test_the_underside_has_none_and_papers_for_bonding_refuse_in_words():
    project = with_mass(True)
    flipped = replace(project.candidate("A"), patches=tuple(replace(p, face="underside") for p in project.candidate("A").patches))
    sheets = placement_diagrams(edit.with_candidate(project, flipped), "A")
    with_views = [words(d) for d in sheets if d.views]
    assert ["A to M1" in told for told in with_views] == [True, False]
    with pytest.raises(SheetError, match="no patch: there is nothing to bond"):
        templates(with_mass(False), "A")
