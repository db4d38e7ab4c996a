"""The revision trail: what is frozen, what is told to have changed, where the clouds lie."""

from __future__ import annotations

from itertools import combinations

import pytest
from msgspec.structs import replace

from core.handover.drawing.items import Drawing, Item, Polyline, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import strokes
from core.handover.releases import (
    changes,
    difference,
    follow_revisions,
    frozen_project,
    is_released,
    next_index,
    reference,
    release,
)
from core.handover.sheet.diagram import placement_diagrams
from core.handover.sheet.identity import fingerprint
from core.project import library, store
from core.project.model import Project
from core.project.sheet import Revision
from tests.core.handover.sheet_scenes import lab, patch
from tests.core.predict.loop.scene import closed, designed


def unreleased() -> Project:
    return replace(lab(), sheet=replace(lab().sheet, revisions=()))


def shifted(project: Project) -> Project:
    active = replace(project.candidate(), patches=(patch(project, x_start_m=0.009),))
    return replace(project, candidates=(active, *project.candidates[1:]))


def clouds(drawing: Drawing) -> list[Item]:
    return [i for i in drawing.items if isinstance(i, Polyline) and i.layer == "revision"]


def words(drawing: Drawing) -> str:
    return " ".join(p.text for i in drawing.items for p in strokes(i) if isinstance(p, Text))


def test_a_release_freezes_what_its_documents_are_made_from():
    project = release(unreleased(), "first issue", "2026-03-02")
    (frozen,) = project.releases
    assert (frozen.index, frozen.date, frozen.reason) == ("A", "2026-03-02", "first issue")
    assert frozen.fingerprint == fingerprint(project, project.candidate())
    moved = shifted(project)
    assert frozen_project(moved, moved.releases[0]).candidate() == project.candidate()
    before = placement_diagrams(project)
    assert placement_diagrams(frozen_project(moved, moved.releases[0])) == before


def test_releases_survive_the_file(tmp_path):
    project = release(shifted(release(unreleased(), "first issue", "2026-03-02")), "moved", "2026-03-09")
    store.save(project, tmp_path / "p.quietspan")
    assert store.load(tmp_path / "p.quietspan") == project


def test_later_states_list_what_changed():
    project = release(unreleased(), "first issue", "2026-03-02")
    assert changes(project, project.releases[0]) == ()
    later = shifted(project)
    later = replace(
        later,
        sheet=replace(later.sheet, tolerance_x_m=0.002),
        structure=replace(later.structure, width_m=0.031),
    )
    found = {d.label: (d.reference, d.other) for d in changes(later, project.releases[0])}
    assert found == {
        "P1 ceramic starts at": ("5 mm", "9 mm"),
        "Width along the span": ("30 mm", "31 mm"),
        "Tolerance along": ("1 mm", "2 mm"),
    }


def test_only_what_changed_gets_a_cloud():
    project = release(unreleased(), "first issue", "2026-03-02")
    first = placement_diagrams(project)[0]
    assert clouds(first) == [] and "Cloud" not in words(first)
    draft = placement_diagrams(shifted(project))[0]
    both = placement_diagrams(shifted(project))
    assert sum(len(clouds(d)) for d in both) == 3  # the distance from A, its check, how near the clamp is
    assert "Cloud: changed since revision A." in words(draft) and "A, changed" in words(draft)
    second = placement_diagrams(release(shifted(project), "moved", "2026-03-09"))[0]
    assert len(clouds(second)) >= 2 and "A, changed" not in words(second)
    cured = replace(project, sheet=replace(project.sheet, cure="Cure 50 °C 4 h under 60 kPa."))
    assert sum(len(clouds(drawing)) for drawing in placement_diagrams(cured)) == 1


def test_another_paper_for_one_print_is_no_change():
    project = release(unreleased(), "first issue", "2026-03-02")
    for paper in ("A3", "Letter"):
        for drawing in placement_diagrams(project, paper=paper):
            assert drawing.paper == paper and clouds(drawing) == [] and "Cloud" not in words(drawing)


def test_the_reference_is_the_last_state_that_differs():
    first = release(unreleased(), "first issue", "2026-03-02")
    assert is_released(first, first.candidate()) and reference(first, first.candidate()) is None
    moved = shifted(first)
    assert reference(moved, moved.candidate()) == first.releases[0]
    second = release(moved, "moved", "2026-03-09")
    assert reference(second, second.candidate()) == first.releases[0]


def test_releases_follow_the_revision_table():
    project = unreleased()
    line = Revision("A", "2026-03-02", "first issue")
    entered = replace(project, sheet=replace(project.sheet, revisions=(line,)))
    followed = follow_revisions(entered, ())
    assert [r.index for r in followed.releases] == ["A"] and followed.sheet.date == "2026-03-02"
    assert follow_revisions(followed, (line,)) == followed
    taken_back = replace(followed, sheet=replace(followed.sheet, revisions=()))
    assert follow_revisions(taken_back, (line,)).releases == ()


def test_a_release_needs_a_reason():
    with pytest.raises(ValueError, match="needs a reason"):
        release(unreleased(), "  ", "2026-03-02")


def test_indexes_count_on():
    def after(*indexes: str) -> str:
        return next_index(tuple(Revision(i, "", "") for i in indexes))

    assert [after(), after("A"), after("Z"), after("AZ"), after("7"), after("?")] == [
        "A",
        "B",
        "AA",
        "BA",
        "8",
        "A",
    ]


def test_what_is_not_placement_leaves_the_fingerprint():
    project = library.example("touring-ski")
    before = fingerprint(project, project.candidate())
    assert fingerprint(replace(project, notes="x", origins={}), project.candidate()) == before


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
def test_the_words_on_the_cloud_keep_clear_of_the_guard(paper):
    project = release(library.example("louvre-blade"), "again", "2026-04-01")
    candidate = project.candidate()
    one = replace(candidate.patches[0], x_start_m=candidate.patches[0].x_start_m + 0.002)
    moved = replace(project, candidates=(replace(candidate, patches=(one,)), *project.candidates[1:]))
    for drawing in placement_diagrams(moved, paper=paper):
        texts = [p for i in drawing.items for p in strokes(i) if isinstance(p, Text)]
        head = sorted((t for t in texts if t.at[1] < 25.0), key=lambda t: text_box(t)[0])
        assert any(t.text.startswith("Cloud: changed since revision") for t in head)
        for a, b in combinations(head, 2):
            x, y = text_box(a), text_box(b)
            assert x[2] <= y[0] or y[2] <= x[0] or x[3] <= y[1] or y[3] <= x[1], (a.text, b.text)


def test_what_hung_on_leads_before_the_loop_is_told_once():
    told = [entry.label for entry in difference(designed(), closed())]
    assert "Circuit of group G1 in candidate A" in told and len(set(told)) == len(told)
    assert not any("before" in label.lower() for label in told)
