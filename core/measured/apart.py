"""Reading a measurement in a process of its own, that can be stopped, takes no more memory than it may, and falls alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from core.measured.readers import read_recording
from core.measured.record import MeasuredError, Recording
from core.project.apart import ReaderApart
from core.project.measurement import Told

LONGEST_S = 60.0
"""A file that is not read by then is refused; ten million samples take two seconds."""
MOST_BYTES = 4_000_000_000
"""Memory for one file."""

_reader = ReaderApart(
    read_recording,
    MeasuredError,
    MOST_BYTES,
    cure="Export it again, as plain text or with fewer channels.",
    late="Cut the record, or export it as a binary universal file or as WAV.",
)


def read_apart(
    path: Path, stopped: Callable[[], bool], told: Told | None = None, longest_s: float = LONGEST_S
) -> Recording | None:
    """The recording in that file, None if stopped meanwhile; MeasuredError in words where there is none."""
    found = _reader.ask(path, stopped, longest_s, told)
    return found if isinstance(found, Recording) else None
