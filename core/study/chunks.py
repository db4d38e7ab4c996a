"""Runs chunks of a study on any `concurrent.futures.Executor`, or here when there is none."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from typing import Any

import numpy as np
from numpy.typing import NDArray

Job = tuple[Callable[..., Any], tuple[Any, ...]]

WAIT_S = 0.1
"""How often the wish to stop is looked at while workers are busy."""
AHEAD = 8
"""Chunks handed over and not yet back: enough to keep workers busy, few enough to stop soon."""


def spread(count: int, chunk: int) -> list[NDArray[np.intp]]:
    """Indices 0..count-1 in chunks, each chunk strided over the whole range."""
    n = max(1, -(-count // chunk))
    return [np.arange(k, count, n, dtype=np.intp) for k in range(n) if k < count]


def run_chunks(
    jobs: Sequence[Job], executor: Executor | None = None, cancelled: Callable[[], bool] | None = None
) -> Iterator[tuple[int, Any]]:
    """(index, result) of every job as it comes; ends early when cancelled. Errors are raised."""
    if executor is None:
        for index, (call, arguments) in enumerate(jobs):
            if cancelled is not None and cancelled():
                return
            yield index, call(*arguments)
        return
    waiting: dict[Future[Any], int] = {}
    left = iter(enumerate(jobs))
    try:
        while True:
            if cancelled is not None and cancelled():
                return
            while len(waiting) < AHEAD and (job := next(left, None)) is not None:
                index, (call, arguments) = job
                waiting[executor.submit(call, *arguments)] = index
            if not waiting:
                return
            done, _ = wait(waiting, timeout=WAIT_S, return_when=FIRST_COMPLETED)
            for future in done:
                yield waiting.pop(future), future.result()
    finally:
        for future in waiting:
            future.cancel()
