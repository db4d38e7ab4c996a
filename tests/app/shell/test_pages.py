"""The row of pages and the candidates above all of them: keys, what is kept, what is told."""

from __future__ import annotations

import time

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget

from app.fields import TextField
from app.shell import actions
from app.shell.candidate_bar import CandidateButton
from app.shell.page_row import PAGES
from app.shell.status import HINT, HINT_AWAY, HINTS_EMPTY
from core.predict.asked import answer
from core.project import edit, store
from core.project.service import Asked
from tests.app.conftest import message

CTRL = Qt.KeyboardModifier.ControlModifier


def page_shown(window) -> str:
    return next(name for name, _ in PAGES if window.bar.pages.button(name).isChecked())


def page_seen(window) -> QWidget:
    """The page itself; the circuit stands between inputs and answer, as the drawing does."""
    return window.pages.circuit if page_shown(window) == "circuit" else window.pages.currentWidget()


def press_page(qtbot, window, place: int) -> None:
    qtbot.keyClick(window, Qt.Key(Qt.Key.Key_0 + place), CTRL)


def test_every_page_has_its_key_and_its_button(window, qtbot):
    for place, (name, _) in enumerate(PAGES, 1):
        press_page(qtbot, window, place)
        assert page_shown(window) == name
        shown = page_seen(window)
        press_page(qtbot, window, 1)
        assert page_shown(window) == "drawing", name
        qtbot.mouseClick(window.bar.pages.button(name), Qt.MouseButton.LeftButton)
        assert page_shown(window) == name
        assert page_seen(window) is shown and shown.isVisible(), name
        press_page(qtbot, window, 1)


def test_escape_goes_back_and_the_hint_goes_with_the_page(window, qtbot):
    assert window._status._hint.text() == HINT
    for place in (2, 3, 4, 5, 6):
        press_page(qtbot, window, place)
        assert window._status._hint.text() == HINT_AWAY
        page = page_seen(window)
        qtbot.keyClick(page, Qt.Key.Key_Escape)
        assert page_shown(window) == "drawing"
        assert window._status._hint.text() == HINT


def test_the_keyboard_begins_on_the_drawing(window, qtbot):
    """It was on the link that keeps a placement, where a space bar made a candidate and no arrow moved the patch."""
    assert window.focusWidget() is window.canvas.surface
    start = window.session.project.candidate().patches[0].x_start_m
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: not window.session.previewing)
    assert window.session.project.candidate().patches[0].x_start_m == pytest.approx(start + 1e-3)
    window.session.undo_stack.setClean()
    window.bar.setFocus()
    window.document.new()
    assert window.focusWidget() is window.canvas.surface


def test_without_a_patch_the_hint_says_how_to_add_one(window, qtbot):
    window.document.new()
    assert window._status._hint.text() == HINTS_EMPTY[0]
    qtbot.keyClick(window, Qt.Key.Key_N, CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert window.session.project.candidate().patches
    assert window._status._hint.text() == HINT


def test_a_page_is_left_as_it_was(window, qtbot):
    window.pages.find_best()
    press_page(qtbot, window, 1)
    press_page(qtbot, window, 3)
    assert window.pages.studies.tabs.currentIndex() == 1
    press_page(qtbot, window, 6)
    papers = window.pages.papers.papers
    papers.open_at("template")
    press_page(qtbot, window, 1)
    press_page(qtbot, window, 6)
    assert window.pages.papers.papers is papers
    assert papers.bar.kind().key == "template"


def test_what_was_typed_on_the_papers_is_kept_when_they_are_left(window, qtbot):
    press_page(qtbot, window, 6)
    field = window.pages.papers.papers.findChild(TextField, "field Title")
    field.selectAll()
    qtbot.keyClicks(field, "Left strip")
    press_page(qtbot, window, 1)
    assert window.session.project.sheet.title == "Left strip"
    assert window.session.undo_stack.count() == 1
    press_page(qtbot, window, 6)
    window.session.undo_stack.undo()
    assert window.pages.papers.papers.form.sheet() == window.session.project.sheet


def test_what_is_typed_on_the_papers_is_saved_and_asked_about(window, qtbot, tmp_path):
    """A save left it out and said nothing, and a window that was closed took it along."""
    file = tmp_path / "strip.quietspan"
    window.document.saver.save(file, lambda: None)
    window.document.saver.finish()
    press_page(qtbot, window, 6)
    field = window.pages.papers.papers.findChild(TextField, "field Title")
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "Left strip")
    qtbot.keyClick(field, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    window.document.saver.finish()
    assert store.load(file).sheet.title == "Left strip"
    qtbot.keyClicks(field, " 2")
    window.close()
    assert window.isVisible() and message(window, "unsavedGuard")
    assert window.session.project.sheet.title == "Left strip 2"
    message(window, "unsavedGuard").reject()


def test_leaving_the_papers_releases_nothing(window, qtbot):
    before = window.session.project
    press_page(qtbot, window, 6)
    window.pages.papers.papers.form.revisions.findChildren(TextField)[-1].setText("as discussed")
    press_page(qtbot, window, 1)
    assert window.session.project.releases == before.releases
    assert window.session.project.sheet.revisions == before.sheet.revisions


def test_a_page_that_was_opened_before_opens_within_100_ms(window, qtbot):
    for place in (2, 3, 4, 5, 6, 1):
        press_page(qtbot, window, place)
        qtbot.wait(50)
    times = []
    for place in (2, 3, 4, 5, 6):
        press_page(qtbot, window, 1)
        start = time.process_time()
        press_page(qtbot, window, place)
        page_seen(window).grab()
        times.append(time.process_time() - start)
    assert max(times) < 0.4  # a page that computed its content anew would take seconds


def test_every_candidate_tells_circuit_result_and_verdict(window, qtbot):
    project = window.session.project
    qtbot.waitUntil(lambda: all(window.candidate_results.of(c.id) for c in project.candidates), timeout=20000)
    for candidate in project.candidates:
        told = window.candidate_results.of(candidate.id)
        found = answer(project, candidate.id)
        assert told.met is found.met
        assert f"{100 * found.verdicts[0].reached:.2f} %" in told.result
        button = window.bar.findChild(CandidateButton, f"candidate{candidate.id}")
        assert told.line in button.toolTip()
        assert ("met" if found.met else "missed") in button.toolTip()


def test_another_target_changes_what_the_candidates_tell(window, qtbot):
    candidates = window.session.project.candidates
    qtbot.waitUntil(lambda: all(window.candidate_results.of(c.id) for c in candidates), timeout=20000)
    assert window.candidate_results.of("A").met is True
    service = window.session.project.service
    asked = Asked((1,), "damping", (0.5,))
    window.session.apply("Ask", edit.with_service(window.session.project, replace(service, asked=asked)))
    qtbot.waitUntil(lambda: {window.candidate_results.of(c.id).met for c in candidates} == {False}, timeout=20000)


def test_the_candidates_stay_above_every_page(window, qtbot):
    for place in (1, 2, 3, 4):
        press_page(qtbot, window, place)
        assert window.bar.isVisible()
        assert window.bar.findChild(QWidget, "candidateA").isVisible()


def test_no_two_entries_of_a_menu_share_their_letter(window):
    for entries in (actions.edit_entries, actions.candidate_entries, actions.study_entries, actions.help_entries):
        texts = [entry.text for entry in entries(window) if entry is not None and "&" in entry.text]
        letters = [text[text.index("&") + 1].lower() for text in texts]
        assert texts and len(letters) == len(set(letters)), texts


def test_only_the_drawing_has_damping_against_position_worked_out(window, qtbot):
    qtbot.waitUntil(lambda: window.session.strip is not None, timeout=20_000)
    place = [name for name, _ in PAGES].index("circuit") + 1
    press_page(qtbot, window, place)
    patch = window.session.project.candidate().patches[0]
    window.session.apply("Shorten", edit.with_patch(window.session.project, window.session.project.active, replace(patch, length_m=0.9 * patch.length_m)))
    qtbot.wait(50)
    assert window.session.strip_is_old
    press_page(qtbot, window, 1)
    qtbot.waitUntil(lambda: not window.session.strip_is_old, timeout=20_000)


def test_a_long_word_of_the_status_line_is_read_to_its_end(window, qtbot):
    """"P1 starts at 21.5 mm, best for mode 1; the hole at x = 15.0 mm forbids s" was all that was seen."""
    status = window._status
    long = "P1 starts at 21.5 mm, best for mode 1; the hole at x = 15.0 mm forbids starting nearer the root"
    for text in ("Copied", long):
        status.say(text)
        QApplication.processEvents()
        assert status._file.width() >= status._file.fontMetrics().horizontalAdvance(f"  {text}")
    assert not status._hint.isVisible()
    status.show_file()
    assert status._hint.isVisible()
