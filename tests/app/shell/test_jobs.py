"""Background work: the newest request wins, and nobody has to wait for an outdated one."""

from __future__ import annotations

import threading

import pytest
import shiboken6

from app.shell.jobs import NewestJob
from core.stopping import may_stop


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
