"""Studies in chunks on any `concurrent.futures.Executor`: threads, processes, or a cluster.

A study is a list of jobs, pure functions with picklable arguments. Jobs are given out in order and
their results told as they come, so that a partial answer can be drawn; whoever computed them and
when changes no number. A job lost with its worker is computed again.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from dataclasses import dataclass, field
from typing import Any, Literal

Job = tuple[Callable[..., Any], tuple[Any, ...]]

WAIT_S = 0.1
"""How often the wish to stop is looked at while workers are busy."""
AHEAD = 4
"""Jobs given out per worker before one is back: enough to keep it busy, few enough to stop soon."""
ATTEMPTS = 3
"""How often a job is tried on workers that die; after that it is computed here."""
_LOST = ("KilledWorker", "CommClosedError", "FutureCancelledError")
"""How a cluster's library says that a worker is gone; told by name, because it is optional."""


@dataclass(frozen=True)
class Progress:
    """How far a study has come; `seconds` since its start."""

    done: int
    total: int
    seconds: float

    @property
    def share(self) -> float:
        return self.done / self.total if self.total else 1.0


@dataclass
class Stopwatch:
    """Counts finished items and tells the progress."""

    total: int
    done: int = 0
    begun: float = field(default_factory=time.perf_counter)

    def finished(self, items: int) -> Progress:
        self.done += items
        return Progress(self.done, self.total, time.perf_counter() - self.begun)


def worker_count() -> int:
    """Processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def local_executor(kind: Literal["threads", "processes"] = "threads", workers: int | None = None) -> Executor:
    """A pool on this machine. Threads start at once, and numpy's stacked algebra lets others run;
    processes cost a second to start and pay on studies of many seconds."""
    count = workers or worker_count()
    if kind == "threads":
        return ThreadPoolExecutor(count, thread_name_prefix="study")
    import multiprocessing  # needed here only; a forked copy of a window's process would not be safe

    return ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))


def run_chunks(
    jobs: Sequence[Job], executor: Executor | None = None, cancelled: Callable[[], bool] | None = None
) -> Iterator[tuple[int, Any]]:
    """(index, result) of every job as it comes; ends early when cancelled.

    Without an executor the jobs run here, one after the other. Raises what a job raises; a job
    whose worker died is given out again, and computed here when no worker holds it.
    """
    run = _Run(jobs, cancelled)
    return run.here() if executor is None else run.on(executor)


class _Run:
    def __init__(self, jobs: Sequence[Job], cancelled: Callable[[], bool] | None) -> None:
        self._jobs = jobs
        self._cancelled = cancelled
        self._left = list(range(len(jobs)))[::-1]
        self._attempts = [0] * len(jobs)

    def _stops(self) -> bool:
        return self._cancelled is not None and self._cancelled()

    def _compute(self, index: int) -> Any:
        call, arguments = self._jobs[index]
        return call(*arguments)

    def here(self) -> Iterator[tuple[int, Any]]:
        while self._left and not self._stops():
            index = self._left.pop()
            yield index, self._compute(index)

    def on(self, executor: Executor) -> Iterator[tuple[int, Any]]:
        out: dict[Future[Any], int] = {}
        room = AHEAD * int(getattr(executor, "_max_workers", 0) or 8)
        try:
            while (self._left or out) and not self._stops():
                while self._left and len(out) < room:
                    index = self._left.pop()
                    future = self._hand_out(executor, index)
                    if future is None:
                        yield index, self._compute(index)
                        break
                    out[future] = index
                for future in wait(out, timeout=WAIT_S, return_when=FIRST_COMPLETED).done:
                    index = out.pop(future)
                    try:
                        result = future.result()
                    except Exception as error:
                        if not _is_lost(error):
                            raise
                        self._left.append(index)
                    else:
                        yield index, result
        finally:
            for future in out:
                future.cancel()

    def _hand_out(self, executor: Executor, index: int) -> Future[Any] | None:
        """The job's future; None when no worker takes it."""
        self._attempts[index] += 1
        if self._attempts[index] > ATTEMPTS:
            return None
        call, arguments = self._jobs[index]
        try:
            return executor.submit(call, *arguments)
        except RuntimeError:  # broken, or closed meanwhile
            return None


def _is_lost(error: Exception) -> bool:
    return isinstance(error, BrokenExecutor | CancelledError) or type(error).__name__ in _LOST
