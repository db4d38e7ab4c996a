"""Background work: the newest request wins, and nobody has to wait for an outdated one."""

from __future__ import annotations

import threading

import pytest
import shiboken6

from app.shell import jobs
from app.shell.jobs import NewestJob
from app.shell.settings import Settings
from app.shell.start import FirstPicture, make_window
from core.stopping import may_stop
from tests.app.conftest import discard_changes


@pytest.fixture
def job(qapp):
    made = NewestJob()
    yield made
    if shiboken6.isValid(made):
        made.close()


def test_only_the_newest_request_is_told(job, qtbot):
    told, let_go = [], threading.Event()
    job.finished.connect(lambda revision, result: told.append(result))
    job.request(lambda stop: let_go.wait(5) and "first")
    job.request(lambda stop: "second")
    job.request(lambda stop: "third")
    let_go.set()
    with qtbot.waitSignal(job.finished):
        pass
    assert told == ["third"]
    assert not job.busy


def test_an_outdated_request_is_asked_to_stop(job):
    asked = []
    started = threading.Event()

    def work(stop):
        started.set()
        asked.append(stop.wait(5))

    job.request(work)
    assert started.wait(5)
    job.close()
    assert asked == [True]


def test_closing_waits_for_no_more_than_one_evaluation(job):
    """Work that never looks at its event ends where the engine does: between two evaluations."""
    started, ended = threading.Event(), []

    def work(stop):
        started.set()
        try:
            while True:
                may_stop()
        finally:
            ended.append("ended")

    job.request(work)
    assert started.wait(5)
    job.close()
    assert ended == ["ended"]


def test_work_that_was_stopped_lets_the_newest_one_start(job, qtbot):
    def endless(stop):
        while True:
            may_stop()

    job.request(endless)
    with qtbot.waitSignal(job.finished) as told:
        job.request(lambda stop: "newest")
    assert told.args[1] == "newest"


def test_what_goes_wrong_is_told(job, qtbot):
    def work(stop):
        raise ValueError("no such layout")

    with qtbot.waitSignal(job.failed) as told:
        job.request(work)
    assert str(told.args[1]) == "no such layout"


def test_an_owner_deleted_while_it_works_does_not_wait(job):
    """A pool would wait here for ever: its destructor holds the interpreter the work needs."""
    started, let_go, ended = threading.Event(), threading.Event(), threading.Event()

    def work(stop):
        started.set()
        let_go.wait(5)
        ended.set()

    job.request(work)
    assert started.wait(5)
    shiboken6.delete(job)
    assert not ended.is_set()
    let_go.set()
    assert ended.wait(5)


def workers():
    return [thread for thread in threading.enumerate() if thread.name == "quietspan work"]


@pytest.fixture
def held():
    jobs.hold()
    yield
    jobs.release()


def test_held_work_begins_with_the_release_and_only_the_newest_is_told(job, qtbot, held):
    told = []
    job.finished.connect(lambda revision, result: told.append(result))
    job.request(lambda stop: "first")
    job.request(lambda stop: "second")
    assert job.busy and not workers()
    with qtbot.waitSignal(job.finished):
        jobs.release()
    assert told == ["second"] and not job.busy


def test_held_work_of_an_owner_that_is_closed_never_begins(job, held):
    began = []
    job.request(lambda stop: began.append(stop))
    job.close()
    jobs.release()
    assert not workers() and not began


def test_as_the_program_starts_the_picture_comes_before_any_work(qtbot, held):
    window = make_window(settings=Settings())
    qtbot.addWidget(window, before_close_func=discard_changes)
    FirstPicture(window.canvas.surface)
    window.show()
    assert not workers() and window.session.strip is None
    qtbot.waitUntil(lambda: window.session.strip is not None, timeout=20_000)
