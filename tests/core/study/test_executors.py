"""Chunks on executors: order, cancelling, errors, and jobs lost with their worker."""

from __future__ import annotations

import os
import threading
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor

import pytest

from core.study.executors import Progress, Stopwatch, local_executor, run_chunks


def _square(value: int) -> int:
    return value * value


def _jobs(n: int, call=_square):
    return [(call, (i,)) for i in range(n)]


class Dying(Executor):
    """Loses the first so many jobs with their workers."""

    _max_workers = 2

    def __init__(self, losses: int) -> None:
        self.losses, self.given = losses, 0

    def submit(self, call, /, *arguments):
        self.given += 1
        future: Future = Future()
        if self.losses > 0:
            self.losses -= 1
            future.set_exception(BrokenExecutor("a worker died"))
        else:
            future.set_result(call(*arguments))
        return future


class Gone(Executor):
    def submit(self, call, /, *arguments):
        raise BrokenExecutor("no worker is left")


def test_here_and_on_threads_give_the_same():
    expected = {i: i * i for i in range(20)}
    assert dict(run_chunks(_jobs(20))) == expected
    with local_executor("threads", 2) as pool:
        assert dict(run_chunks(_jobs(20), pool)) == expected


@pytest.mark.parametrize("executor", [Dying(3), Dying(1000), Gone()])
def test_lost_jobs_are_computed_again(executor):
    assert dict(run_chunks(_jobs(6), executor)) == {i: i * i for i in range(6)}


def test_a_job_that_fails_by_itself_is_told():
    def fails(value: int) -> int:
        raise ZeroDivisionError(value)

    with ThreadPoolExecutor(1) as pool, pytest.raises(ZeroDivisionError):
        list(run_chunks(_jobs(3, fails), pool))


def test_cancelling_ends_it_early():
    stop = threading.Event()
    seen = []
    with ThreadPoolExecutor(1) as pool:
        for index, _ in run_chunks(_jobs(200), pool, stop.is_set):
            seen.append(index)
            if len(seen) == 3:
                stop.set()
    assert len(seen) < 200


def test_progress_tells_the_share_done():
    assert Progress(0, 0, 0.0).share == 1.0
    watch = Stopwatch(10)
    assert watch.finished(4).share == 0.4 and watch.finished(6).share == 1.0


def _die_once(path: str, value: int) -> int:
    """Kills its own process the first time any worker comes here."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return value
    os._exit(1)


@pytest.mark.slow
def test_a_process_killed_in_the_middle(tmp_path):
    mark = str(tmp_path / "died")
    with local_executor("processes", 2) as pool:
        found = dict(run_chunks([(_die_once, (mark, i)) for i in range(6)], pool))
    assert found == {i: i for i in range(6)}
