"""Work that may be told to end early: whoever starts it says when, the engine asks between two evaluations.

    with until(stop.is_set):
        temperature_study(project)

raises `Stopped` at the next evaluation once `stop` is set. Outside of it nothing is ever stopped, and no result depends
on it. Each thread has its own say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_asked: ContextVar[Callable[[], bool] | None] = ContextVar("asked", default=None)


class Stopped(BaseException):
    """Nobody waits for the result any more. No `Exception`, so that nothing on the way takes it for a fault to mend."""


@contextmanager
def until(is_over: Callable[[], bool]) -> Iterator[None]:
    """Work inside ends once `is_over` says so."""
    token = _asked.set(is_over)
    try:
        yield
    finally:
        _asked.reset(token)


def may_stop() -> None:
    """To be called where work may end: between two evaluations, each of some milliseconds."""
    is_over = _asked.get()
    if is_over is not None and is_over():
        raise Stopped
