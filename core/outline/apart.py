"""Reading a drawing in a process of its own, that can be stopped, takes no more memory than it may, and falls alone.

The libraries that read DXF and SVG cannot be interrupted, and a file of a kilobyte can keep them
busy for ever. The process stays for a while after a file, so that the next one is read at once.
"""

from __future__ import annotations

import io
import logging
import multiprocessing
import sys
import threading
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from core.outline.drawing import OutlineDrawing, OutlineError
from core.outline.readers import read_drawing

LONGEST_S = 30.0
"""A drawing that is not read by then is refused."""
MOST_BYTES = 500_000_000
"""Memory for one drawing."""
IDLE_S = 30.0
"""How long the process waits for another drawing."""
LOOK_S = 0.02


def read_apart(
    path: Path, stopped: Callable[[], bool], longest_s: float = LONGEST_S
) -> OutlineDrawing | None:
    """The drawing in that file, None if stopped meanwhile; OutlineError in words where there is none."""
    with _lock:
        answer = _reader.ask(path, stopped, longest_s)
    if isinstance(answer, str):
        raise OutlineError(answer)
    return answer


class _Reader:
    """The process and the way to it; started when needed, killed when it is not wanted any more."""

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    def ask(self, path: Path, stopped: Callable[[], bool], longest_s: float) -> OutlineDrawing | str | None:
        """The drawing or the words of an OutlineError; None if stopped."""
        waiting = self._pipe is not None
        try:
            return self._answer(self._pipe or self._start(), path, stopped, longest_s)
        except (EOFError, OSError):
            self._kill()
        if waiting:  # it may have ended just then, tired of waiting
            return self.ask(path, stopped, longest_s)
        return f"{path.name} made the reader fall. Export it again, with only the layers of the outline."

    def _answer(
        self, pipe: Connection, path: Path, stopped: Callable[[], bool], longest_s: float
    ) -> OutlineDrawing | str | None:
        pipe.send(path)
        deadline = time.monotonic() + longest_s
        while not pipe.poll(LOOK_S):
            if stopped():
                self._kill()
                return None
            if time.monotonic() > deadline:
                self._kill()
                return (
                    f"{path.name} was not read within {longest_s:.0f} s. Export only the layers of the outline, "
                    "without blocks, hatching and text."
                )
        answer = pipe.recv()
        return answer if isinstance(answer, OutlineDrawing | str) else None

    def _start(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs,), name="quietspan reader", daemon=True)
        self._process.start()
        theirs.close()
        self._pipe = ours
        return ours

    def _kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None


_lock = threading.Lock()
_reader = _Reader()


def _serve(pipe: Connection) -> None:
    """Read one drawing after the other and send it, or the words why not."""
    _bound_memory()
    logging.disable()  # what the libraries mended in a damaged file is of no use to anybody
    sys.stderr = sys.stdout = io.StringIO()
    while pipe.poll(IDLE_S):
        try:
            path = pipe.recv()
        except EOFError:
            return
        answer: OutlineDrawing | str
        try:
            answer = read_drawing(path)
        except OutlineError as error:
            answer = str(error)
        pipe.send(answer)


def _bound_memory() -> None:
    """No more than `MOST_BYTES` beyond what this process has; where the system cannot, the time is the bound."""
    if sys.platform != "linux":
        return
    import resource

    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + MOST_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
