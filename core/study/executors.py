"""Studies in chunks on any `concurrent.futures.Executor`: threads, processes, or a cluster.

A study is a function `work(start, stop)` over `total` items. Chunks are given out in order,
finished ones are told at once, and the answer is in the order of the items whoever computed
them and when. A chunk lost with its worker is computed again.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
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
from dataclasses import dataclass
from typing import Any, Literal, Protocol

Work = Callable[[int, int], Any]

AHEAD = 4
"""Chunks given out per worker before an earlier one is back: enough to keep it busy, few enough
that a cancelled study stops at once."""
ATTEMPTS = 3
_LOST_NAMES = ("KilledWorker", "CommClosedError", "FutureCancelledError")
"""How a cluster's library says that a worker is gone; told by name, because it is optional."""


class Stop(Protocol):
    """What `threading.Event` offers: asked between chunks."""

    def is_set(self) -> bool: ...


class Cancelled(Exception):
    """The study was stopped on request; what had been told so far stands."""


@dataclass(frozen=True)
class Progress:
    """How far a study has come."""

    done: int
    total: int
    seconds: float

    @property
    def share(self) -> float:
        return self.done / self.total if self.total else 1.0

    @property
    def seconds_left(self) -> float | None:
        """Expected from the speed so far; None before the first chunk is back."""
        return self.seconds * (self.total - self.done) / self.done if self.done else None


Told = Callable[[int, Any, Progress], None]
"""Called with the first item of a chunk, its result and the progress, on the caller's thread."""


def worker_count() -> int:
    """Processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def local_executor(kind: Literal["threads", "processes"] = "threads", workers: int | None = None) -> Executor:
    """A pool on this machine. Threads start at once and share memory, and numpy's stacked algebra
    runs beside itself in them; processes cost a second to start and serve very long studies."""
    count = workers or worker_count()
    if kind == "threads":
        return ThreadPoolExecutor(count, thread_name_prefix="study")
    import multiprocessing  # needed here only; a forked copy of a window's process would not be safe

    return ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))


def run_chunks(
    work: Work,
    total: int,
    chunk: int,
    *,
    executor: Executor | None = None,
    stop: Stop | None = None,
    told: Told | None = None,
) -> list[Any]:
    """Results of `work(start, end)` over range(total) in steps of `chunk`, in order.

    Without an executor everything runs on the calling thread. Raises `Cancelled` once `stop` is
    set, and whatever `work` raises; a chunk whose worker died is tried `ATTEMPTS` times, the last
    time on the calling thread.
    """
    spans = [(start, min(start + chunk, total)) for start in range(0, total, chunk)]
    run = _Run(work, spans, total, stop, told)
    if executor is None:
        run.here()
    else:
        run.on(executor)
    return run.results


class _Run:
    def __init__(
        self, work: Work, spans: list[tuple[int, int]], total: int, stop: Stop | None, told: Told | None
    ) -> None:
        self._work, self._spans, self._total, self._stop, self._told = work, spans, total, stop, told
        self._begun, self._done = time.perf_counter(), 0
        self.results: list[Any] = [None] * len(spans)

    def here(self) -> None:
        for index in range(len(self._spans)):
            self._look()
            self._take(index, self._work(*self._spans[index]))

    def on(self, executor: Executor) -> None:
        waiting = list(range(len(self._spans)))[::-1]
        attempts = [0] * len(self._spans)
        out: dict[Future[Any], int] = {}
        room = AHEAD * _workers_of(executor)
        try:
            while waiting or out:
                self._look()
                while waiting and len(out) < room:
                    index = waiting.pop()
                    attempts[index] += 1
                    future = self._submit(executor, index, last=attempts[index] >= ATTEMPTS)
                    if future is not None:
                        out[future] = index
                for future in wait(out, timeout=0.05, return_when=FIRST_COMPLETED).done:
                    index = out.pop(future)
                    try:
                        self._take(index, future.result())
                    except Exception as error:
                        if not _is_lost(error):
                            raise
                        waiting.append(index)
        finally:
            for future in out:
                future.cancel()

    def _submit(self, executor: Executor, index: int, *, last: bool) -> Future[Any] | None:
        """The chunk's future; None when it was computed here because nobody else can."""
        span = self._spans[index]
        if not last:
            try:
                return executor.submit(self._work, *span)
            except (BrokenExecutor, RuntimeError):
                pass  # the whole pool is gone; what it lost is computed here
        self._take(index, self._work(*span))
        return None

    def _take(self, index: int, result: Any) -> None:
        start, end = self._spans[index]
        self.results[index] = result
        self._done += end - start
        if self._told is not None:
            seconds = time.perf_counter() - self._begun
            self._told(start, result, Progress(self._done, self._total, seconds))

    def _look(self) -> None:
        if self._stop is not None and self._stop.is_set():
            raise Cancelled


def _is_lost(error: Exception) -> bool:
    return isinstance(error, BrokenExecutor | CancelledError) or type(error).__name__ in _LOST_NAMES


def _workers_of(executor: Executor) -> int:
    return int(getattr(executor, "_max_workers", 0) or 8)
