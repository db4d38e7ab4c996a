"""Reading a foreign file in a process of its own: stopped at once, bounded in time and memory, falling alone.

Libraries that read drawings and measurements cannot be interrupted, and a file of a kilobyte can keep
them busy for ever. The process stays for a while after a file, so that the next one is read at once.
"""

from __future__ import annotations

import io
import logging
import multiprocessing
import pickle
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

IDLE_S = 30.0
"""How long the process waits for another file."""
LOOK_S = 0.02


@dataclass
class ReaderApart:
    """A reading function at work in a process of its own, started when needed.

    `read` is a function of a module (it is found there by the process), called with what `ask` was
    given; what it raises as `refusal` comes back as its words. `cure` tells what to do with a file that
    made it fall, `late` with one that took too long.
    """

    read: Callable[..., Any]
    refusal: type[Exception]
    most_bytes: int
    cure: str
    late: str
    _process: BaseProcess | None = field(default=None, init=False)
    _pipe: Connection | None = field(default=None, init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, init=False)

    def ask(self, path: Path, stopped: Callable[[], bool], longest_s: float, *more: object) -> Any:
        """What `read(path, *more)` returns; None if stopped meanwhile. Raises `refusal` in words."""
        with self._lock:
            good, answer = self._ask(path, stopped, longest_s, more)
        if not good:
            raise self.refusal(answer)
        return answer

    def _ask(
        self, path: Path, stopped: Callable[[], bool], longest_s: float, more: tuple[object, ...]
    ) -> tuple[bool, Any]:
        waiting = self._pipe is not None
        try:
            return self._answer(self._pipe or self._start(), path, stopped, longest_s, more)
        except (EOFError, OSError):
            self._kill()
        if waiting:  # it may have ended just then, tired of waiting
            return self._ask(path, stopped, longest_s, more)
        return False, f"{path.name} made the reader fall. {self.cure}"

    def _answer(
        self, pipe: Connection, path: Path, stopped: Callable[[], bool], longest_s: float, more: tuple[object, ...]
    ) -> tuple[bool, Any]:
        pipe.send((path, *more))
        deadline = time.monotonic() + longest_s
        while not pipe.poll(LOOK_S):
            if stopped():
                self._kill()
                return True, None
            if time.monotonic() > deadline:
                self._kill()
                return False, f"{path.name} was not read within {round(longest_s)} s. {self.late}"
        good, answer = received(pipe)
        return good, answer

    def _start(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve,
            args=(theirs, self.read, self.refusal, self.most_bytes),
            name="quietspan reader",
            daemon=True,
        )
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


def _serve(pipe: Connection, read: Callable[..., Any], refusal: type[Exception], most_bytes: int) -> None:
    """Read one file after the other and send what is in it, or the words why not."""
    _bound_memory(most_bytes)
    logging.disable()  # what the libraries mended in a damaged file is of no use to anybody
    sys.stderr = sys.stdout = io.StringIO()
    while pipe.poll(IDLE_S):
        try:
            path, *more = pipe.recv()
        except EOFError:
            return
        try:
            answer = (True, read(path, *more))
        except refusal as error:
            answer = (False, str(error))
        send(pipe, answer)


def send(pipe: Connection, answer: tuple[bool, Any]) -> None:
    """Arrays go beside the pickle as they lie in memory: a long record is not copied into it first."""
    beside: list[pickle.PickleBuffer] = []
    told = pickle.dumps(answer, protocol=5, buffer_callback=beside.append)
    pieces = [piece.raw() for piece in beside]
    pipe.send((told, [piece.nbytes for piece in pieces]))
    for piece in pieces:
        if piece.nbytes:
            pipe.send_bytes(piece)


def received(pipe: Connection) -> tuple[bool, Any]:
    """What `send` sent."""
    told, sizes = pipe.recv()
    pieces = [bytearray(size) for size in sizes]
    for piece in pieces:
        if piece:
            pipe.recv_bytes_into(piece)
    good, answer = pickle.loads(told, buffers=pieces)
    return bool(good), answer


def _bound_memory(most_bytes: int) -> None:
    """No more than that beyond what this process has; where the system cannot, the time is the bound."""
    if sys.platform != "linux":
        return
    import resource

    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + most_bytes
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
