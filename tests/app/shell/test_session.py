"""The session: undo, preview, prediction, and what happens when something cannot be predicted."""

from __future__ import annotations

import threading
import time
from dataclasses import replace as replace_

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtWidgets import QApplication

from app.shell import session as session_module
from app.shell import strip_keeper
from app.shell.best_place import to_best_place
from app.shell.jobs import NewestJob
from app.shell.strip_keeper import depends_on
from core.project import edit, library
from core.project.candidate import Absorber
from tests.levels import beam_example


def moved(project, x_start_m):
    patch = project.candidate().patches[0]
    return edit.with_patch(project, project.active, replace(patch, x_start_m=x_start_m))


def numbers(prediction):
    """Everything drawn from a prediction that must agree to the last digit."""
    return (
        [(m.f_short_hz, m.f_open_hz, m.k2, m.zeta, m.peak_change_db) for m in prediction.modes],
        [value.value for group in prediction.groups for value in group.values],
        prediction.response.after.tobytes(),
        prediction.ring_down.after.tobytes(),
    )


def test_apply_is_one_undo_step_and_undo_brings_the_numbers_back(session):
    before, shown = numbers(session.prediction), session.project
    session.apply("Move P1", moved(session.project, 0.05))
    assert session.undo_stack.count() == 1
    assert session.undo_stack.undoText() == "Move P1"
    assert numbers(session.prediction) != before
    session.undo_stack.undo()
    assert session.project is shown
    assert numbers(session.prediction) == before


def test_applying_the_same_project_is_no_step(session):
    session.apply("Nothing", moved(session.project, session.project.candidate().patches[0].x_start_m))
    assert session.undo_stack.count() == 0


def test_many_previews_in_one_turn_are_predicted_once(session, qtbot):
    seen = []
    session.prediction_changed.connect(lambda: seen.append(session.shown.candidate().patches[0].x_start_m))
    for x in np.linspace(0.01, 0.05, 9):
        session.preview(moved(session.project, float(x)))
    assert seen == []
    QApplication.processEvents()
    assert seen == [0.05]
    assert session.undo_stack.count() == 0


def test_releasing_shows_the_very_numbers_of_dragging(session):
    session.preview(moved(session.project, 0.0375))
    QApplication.processEvents()
    dragging = numbers(session.prediction)
    session.commit_preview("Move P1")
    assert numbers(session.prediction) == dragging
    assert session.undo_stack.count() == 1


def test_releasing_before_the_turn_came_still_predicts_the_released_place(session):
    session.preview(moved(session.project, 0.0375))
    session.commit_preview("Move P1")
    released = numbers(session.prediction)
    session.apply("Away", moved(session.project, 0.1))
    session.apply("Back", moved(session.project, 0.0375))
    assert numbers(session.prediction) == released


def test_cancelling_a_drag_leaves_no_trace(session):
    before = numbers(session.prediction)
    session.preview(moved(session.project, 0.1))
    QApplication.processEvents()
    session.cancel_preview()
    assert not session.previewing
    assert numbers(session.prediction) == before
    assert session.undo_stack.isClean()


def test_a_problem_keeps_the_last_good_prediction_and_says_so(session):
    good = session.prediction
    session.apply("Off the tip", moved(session.project, 0.29))
    assert session.stale
    assert session.prediction is good
    assert any("tip" in problem.message for problem in session.problems)
    session.undo_stack.undo()
    assert not session.stale
    assert session.problems == ()


def test_trouble_of_another_candidate_does_not_stop_this_one(session):
    other = next(c for c in session.project.candidates if c.id != session.project.active)
    patch = replace(other.patches[0], x_start_m=0.29)
    session.apply("Spoil the other", edit.with_patch(session.project, other.id, patch))
    assert not session.stale
    assert session.problems == ()
    prediction, why = session.predict_candidate(other.id)
    assert prediction is None
    assert "tip" in why


def test_an_unexpected_exception_becomes_words_and_is_logged(session, monkeypatch, caplog):
    def broken(*args, **kwargs):
        raise ZeroDivisionError("division by zero")

    good = session.prediction
    monkeypatch.setattr("core.predict.predict.predict", broken)
    session.apply("Move", moved(session.project, 0.02))
    assert session.stale
    assert session.prediction is good
    assert "could not be predicted" in session.problems[0].message
    assert any(record.exc_info for record in caplog.records)
    monkeypatch.undo()
    session.apply("Move on", moved(session.project, 0.03))
    assert not session.stale


def test_the_strip_arrives_and_does_not_change_while_only_the_start_moves(session, qtbot):
    with qtbot.waitSignal(session.strip_changed, timeout=20000):
        pass
    strip = session.strip
    assert strip.zeta.shape == (len(strip.x_start_m), session.project.view.modes_shown)
    session.apply("Move", moved(session.project, 0.07))
    qtbot.wait(50)
    assert session.strip is strip


def test_the_strip_agrees_with_the_prediction_at_its_place(session, qtbot):
    with qtbot.waitSignal(session.strip_changed, timeout=20000):
        pass
    at = int(np.flatnonzero(session.strip.allowed)[3])
    session.apply("Move", moved(session.project, float(session.strip.x_start_m[at])))
    strip, predicted = session.strip.zeta, np.array([m.zeta for m in session.prediction.modes])
    assert (np.abs(strip[at] - predicted) < 1.2e-3 * strip.max(axis=0)).all()  # a strip's places are read between others


def test_the_strip_is_asked_for_again_by_whatever_changes_a_damping_but_the_place(session):
    project, candidate = session.project, session.project.candidate()
    patch = candidate.patches[0].id
    key = depends_on(project, patch)
    assert depends_on(moved(project, 0.07), patch) == key
    for changed in (
        replace(candidate, absorbers=(Absorber("M1", 0.2, 0.003, 12.0),)),
        replace(candidate, build=replace(candidate.build, series="E12")),
        replace(candidate, groups=tuple(replace(g, bleed_ohm=1e6) for g in candidate.groups)),
    ):
        assert depends_on(edit.with_candidate(project, changed), patch) != key


def test_opening_another_project_empties_the_undo_stack(session):
    session.apply("Move", moved(session.project, 0.02))
    session.replace(session.project, None)
    assert session.undo_stack.count() == 0
    assert session.undo_stack.isClean()
    session.replace(session.project, None, unsaved=True)
    assert not session.undo_stack.isClean()


def test_a_project_whose_active_candidate_is_missing_is_shown_with_its_first(session):
    session.replace(replace(session.project, active="Z"), None)
    assert session.project.active == session.project.candidates[0].id
    assert session.prediction is not None


def test_only_the_newest_background_request_is_told(qtbot):
    job, told, go = NewestJob(), [], threading.Event()
    job.finished.connect(lambda revision, result: told.append(result))

    def slow(stop):
        go.wait(5)
        return "old"

    job.request(slow)
    job.request(lambda stop: "middle")
    job.request(lambda stop: "new")
    go.set()
    qtbot.waitUntil(lambda: told != [], timeout=5000)
    qtbot.wait(20)
    assert told == ["new"]
    job.close()


def test_a_background_failure_is_told_and_the_next_request_works(qtbot):
    job, failed, told = NewestJob(), [], []
    job.failed.connect(lambda revision, error: failed.append(str(error)))
    job.finished.connect(lambda revision, result: told.append(result))

    def broken(stop):
        raise ValueError("no such place")

    job.request(broken)
    qtbot.waitUntil(lambda: failed == ["no such place"], timeout=5000)
    job.request(lambda stop: 7)
    qtbot.waitUntil(lambda: told == [7], timeout=5000)
    job.close()


def test_a_long_session_keeps_its_last_steps_and_no_more(qapp, monkeypatch):
    monkeypatch.setattr(session_module, "STEPS_KEPT", 12)
    session = session_module.Session(beam_example("lab-beam"))
    session.want_strip(False)
    for step in range(20):
        session.apply("Rename", replace(session.project, name=f"step {step}"))
    assert session.undo_stack.count() == 12
    for _ in range(12):
        session.undo_stack.undo()
    assert session.project.name == "step 7"
    assert not session.undo_stack.canUndo()
    assert not session.undo_stack.isClean()
    session.close()


@pytest.fixture
def slow_strip(monkeypatch):
    """Strips wait for this to be set."""
    go = threading.Event()
    real = strip_keeper._position_strip

    def waiting(project, patch_id, stop):
        go.wait(20)
        return real(project, patch_id, threading.Event())  # one that does not hear that it should stop

    monkeypatch.setattr(strip_keeper, "_position_strip", waiting)
    yield go
    go.set()


def test_a_strip_of_before_is_told_as_such_and_no_best_place_is_read_off_it(session, qtbot, slow_strip):
    slow_strip.set()
    qtbot.waitUntil(lambda: session.strip is not None, timeout=20_000)
    before = session.strip
    assert not session.strip_is_old
    slow_strip.clear()
    patch = session.project.candidate().patches[0]
    with qtbot.waitSignal(session.strip_aged, timeout=5_000):
        session.apply("Shorten", edit.with_patch(session.project, "A", replace(patch, length_m=0.02)))
        assert session.strip is before and session.strip_is_old
    assert session.strip_is_late
    here = session.project
    assert "still being worked out" in to_best_place(session, patch.id, 2)
    assert session.project is here
    slow_strip.set()
    qtbot.waitUntil(lambda: not session.strip_is_old, timeout=20_000)
    assert session.strip is not before and not session.strip_is_late


@pytest.mark.parametrize(("takes_s", "follows"), [(0.0, True), (2.0 * strip_keeper.QUICK_S, False)])
def test_a_quick_strip_follows_the_hand_and_any_is_that_of_its_rest(session, qtbot, monkeypatch, takes_s, follows):
    one, asked = strip_keeper._position_strip(session.project, session.selected_patch, threading.Event()), []

    def told(project, patch_id, stop):
        asked.append(project)
        until = time.thread_time() + takes_s
        while time.thread_time() < until:
            pass
        return replace_(one)

    monkeypatch.setattr(strip_keeper, "_position_strip", told)
    monkeypatch.setattr(strip_keeper, "PAUSE_MS", 600)  # no frame of a busy machine is taken for a rest
    monkeypatch.setattr(strip_keeper, "TURNS", 1)
    patch, came = session.project.candidate().patches[0], []
    session.apply("Shorten", edit.with_patch(session.project, "A", replace(patch, length_m=0.02)))  # tells how long it takes
    qtbot.waitUntil(lambda: session.strip is not None and not session.strip_is_old, timeout=20_000)
    session.apply("Shorten", edit.with_patch(session.project, "A", replace(patch, length_m=0.021)))
    qtbot.waitUntil(lambda: asked[-1] is session.project and not session.strip_is_old, timeout=20_000)
    session.strip_changed.connect(lambda: came.append(session.strip))
    until = time.perf_counter() + 1.2
    length_m = 0.021
    while time.perf_counter() < until:
        length_m += 1e-5
        session.preview(edit.with_patch(session.project, "A", replace(patch, length_m=length_m)))
        qtbot.wait(10)
    assert len(came) >= 2 if follows else not came
    qtbot.waitUntil(lambda: asked[-1] is session.shown and len(came) > 0 and session.strip is came[-1] and not session.strip_is_old, timeout=20_000)
    resting = len(asked)
    for x_start_m in (0.01, 0.02, 0.03):  # the very same strip wherever the patch stands
        session.preview(edit.with_patch(session.shown, "A", replace(session.shown.candidate().patches[0], x_start_m=x_start_m)))
        qtbot.wait(200)
    assert len(asked) == resting and not session.strip_is_old


def test_a_strip_out_of_sight_is_worked_out_when_it_comes_back(session, qtbot, monkeypatch):
    qtbot.waitUntil(lambda: session.strip is not None, timeout=20_000)
    before, asked, real = session.strip, [], strip_keeper._position_strip
    monkeypatch.setattr(strip_keeper, "_position_strip", lambda *told: asked.append(told) or real(*told))
    session.see_strip(False)
    patch = session.project.candidate().patches[0]
    for length in (0.02, 0.03):
        session.apply("Shorten", edit.with_patch(session.project, "A", replace(patch, length_m=length)))
    qtbot.wait(200)
    assert not asked and session.strip is before and session.strip_is_old
    session.see_strip(True)
    qtbot.waitUntil(lambda: not session.strip_is_old, timeout=20_000)
    assert len(asked) == 1 and session.strip is not before
    session.see_strip(False)
    session.apply("Shorten", edit.with_patch(session.project, "A", replace(patch, length_m=0.02)))
    assert "still being worked out" in to_best_place(session, patch.id, 1)  # and now it is
    qtbot.waitUntil(lambda: not session.strip_is_old, timeout=20_000)


def test_a_strip_of_the_project_closed_never_lies_under_the_one_opened(session, qtbot, slow_strip):
    qtbot.wait(300)  # the strip of the first project is in work
    session.replace(library.blank_project(), None)
    slow_strip.set()
    session._strips._job.close()
    qtbot.wait(50)
    session.apply("Add patch", edit.add_patch(session.project, "A"))
    assert session.selected_patch == "P1"
    assert session.strip is None  # that of the new patch is in work
