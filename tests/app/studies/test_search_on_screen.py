"""The search on screen: asked, answered, kept as a candidate, refused in words."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from app.studies.page import SEARCH, StudyPage
from app.studies.words import circuit_text
from core.project import library
from core.units import words
from tests.levels import beam_example


@pytest.fixture
def page(open_studies):
    return open_studies(beam_example("lab-beam"), SEARCH, (1200, 800))


def searched(qtbot, page):
    qtbot.mouseClick(page.findChild(QPushButton, "searchStart"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.search.progress.bar.isHidden(), timeout=20000)
    return page.search.result


def test_found_layouts_become_candidates_with_one_click(qtbot, page):
    assert "Say on the left" in page.search.verdict.text()
    result = searched(qtbot, page)
    assert len(page.search.cards) == len(result.found) == 5
    before = page.session.project
    qtbot.waitUntil(lambda: page.search.cards[0].isVisible())
    qtbot.mouseClick(page.findChild(QPushButton, "keepFound1"), Qt.MouseButton.LeftButton)
    kept = page.session.project.candidates[-1]
    assert kept.id == "D"
    assert kept.patches == result.found[0].candidate.patches
    assert page.session.project.active == before.active
    assert page.findChild(QPushButton, "keepFound1").text() == "Kept as D"
    prediction, trouble = page.session.predict_candidate("D")
    assert trouble == ""
    assert prediction.modes[0].zeta == pytest.approx(result.found[0].zeta[0], rel=1e-6)
    page.session.undo_stack.undo()
    assert page.session.project == before


def test_what_holds_a_layout_is_told(qtbot, page):
    searched(qtbot, page)
    assert page.search.cards[0].holds.text() == "Held by: the support forbids starting nearer the root."


def test_a_target_out_of_reach_says_no_and_what_would_give(qtbot, page):
    page.search.form.goal.set_value("targets")
    page.search.form.zeta.set_value((0.03,))
    searched(qtbot, page)
    assert page.search.verdict.text().startswith("No layout within these limits")
    assert "series R-L circuit: then the targets can be met" in page.search.gives.text()


def test_a_form_that_allows_nothing_is_told(qtbot, page):
    for field in page.search.form.circuits.values():
        field.set_value(False)
    page.search.search()
    qtbot.waitUntil(lambda: "allows no circuit" in page.search.verdict.text())
    page.search.form.near.set_value(0.2)
    page.search.form.far.set_value(0.1)
    page.search.search()
    assert "ends before it starts" in page.search.verdict.text()


def test_cancel(qtbot, page):
    page.search.search()
    page.search.cancel()
    qtbot.wait(50)
    assert "Cancelled" in page.search.progress.words.text()
    assert page.search.cards == []


def test_the_best_so_far_are_shown_and_may_be_kept_once_it_is_cancelled(qtbot, page):
    from core.study.search.goals import SoFar

    page.search.search()
    candidate = page.session.project.candidate("B")
    page.search._partial.emit(page.search._run, (SoFar(candidate, "damping of mode 1: 0.2 %", False),))
    card = page.search.cards[0]
    assert card.head.text() == "1.  Damping of mode 1: 0.2 %"
    assert not card.keep.isEnabled()
    page.search.cancel()
    assert "best layouts so far" in page.search.verdict.text()
    qtbot.mouseClick(card.keep, Qt.MouseButton.LeftButton)
    assert page.session.project.candidates[-1].patches == candidate.patches
    page.search._partial.emit(page.search._run - 1, ())
    assert page.search.cards == [card]


def test_cards_are_filled_again_by_the_next_search(qtbot, page):
    searched(qtbot, page)
    cards = list(page.search.cards)
    page.search.form.mode.set_value(2)
    searched(qtbot, page)
    assert page.search.cards == cards
    assert "mode 2" in cards[0].head.text()


def test_changed_inputs_age_the_result(qtbot, page):
    from core.project.edit import with_structure
    from core.project.structure import KeepOut

    searched(qtbot, page)
    assert page.search.aged.isHidden()
    zone = KeepOut("label", "top", 0.2, 0.22)
    page.session.apply("Add a zone", with_structure(page.session.project, keep_outs=(zone,)))
    assert not page.search.aged.isHidden()


def test_the_menu_opens_the_studies(window, qtbot):
    window.menus.actions["placementMap"].trigger()
    assert window.findChild(StudyPage).map.isVisible()
    window.menus.actions["findBest"].trigger()
    assert window.findChild(StudyPage).search.isVisible()
    qtbot.keyClick(window.findChild(StudyPage), Qt.Key.Key_Escape)
    assert window.canvas.isVisible()
    window.session.close()


def test_where_the_present_layout_stands_is_said(qtbot, page):
    searched(qtbot, page)
    qtbot.waitUntil(page.search.present.isVisible)
    zeta = page.session.prediction.modes[0].zeta
    better = sum(found.zeta[0] > 1.001 * zeta for found in page.search.result.found)
    text = page.search.present.text()
    assert text.startswith(f"The present layout A: damping of mode 1: {words.damping(zeta)}")
    assert (f"{better} of the 5 found" in text) if better else ("none of those found does better" in text)


def test_a_package_of_the_library_and_another_width_and_thickness_are_looked_at(qtbot, page):
    form = page.search.form
    own = page.session.project.packages[0].name
    there = {package.name for package in page.session.project.packages}
    wanted = min((p for p in library.packages() if p.name not in there), key=lambda p: p.width_m)
    assert form._packages[wanted.name].text().endswith("(library)")
    for name, switch in form._packages.items():
        switch.set_value(name == wanted.name)
    form.thicknesses.set_value((0.5 * wanted.ceramic_thickness_m,))
    form.widths.set_value((0.8 * wanted.width_m,))
    looked_at, request = form.request(page.session.project)
    assert len(request.limits.packages) == 4
    sizes = {(p.width_m, p.ceramic_thickness_m) for p in looked_at.packages if p.name in request.limits.packages}
    assert len(sizes) == 4
    before = page.session.project
    searched(qtbot, page)
    qtbot.waitUntil(lambda: page.search.cards[0].isVisible())
    page.search.keep(0)
    kept = page.session.project.candidates[-1]
    assert kept.patches[0].package in request.limits.packages
    assert not page.session.predict_candidate(kept.id)[1]
    assert own in {p.name for p in page.session.project.packages}
    page.session.undo_stack.undo()
    assert page.session.project == before


def test_a_circuit_is_told_in_one_prefix():
    candidate = beam_example("lab-beam").candidates[0]
    group = candidate.groups[0]
    held = replace(group, circuit=replace(group.circuit, values={"resistance_ohm": 122300.0}))
    assert circuit_text(replace(candidate, groups=(held,))).endswith(": 122.3 kΩ")


@pytest.fixture
def louvre(open_studies):
    return open_studies(beam_example("louvre-blade"), SEARCH, (1200, 800))


def test_it_starts_from_the_face_the_patches_lie_on_and_keeps_what_is_ticked(louvre, qtbot):
    page = louvre
    faces = page.search.form.faces
    ticked = {key for key, field in faces.items() if field.value()}
    assert ticked == {"underside"}  # the top lies in the air stream
    qtbot.mouseClick(faces["top"], Qt.MouseButton.LeftButton, pos=faces["top"].rect().center())
    now = {key for key, field in faces.items() if field.value()}
    page.session.apply("Rename", replace(page.session.project, name="Another"))
    assert {key for key, field in faces.items() if field.value()} == now
