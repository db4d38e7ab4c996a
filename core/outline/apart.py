"""Reading a drawing in a process of its own, that can be stopped, takes no more memory than it may, and falls alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from core.outline.drawing import OutlineDrawing, OutlineError
from core.outline.readers import read_drawing
from core.project.apart import ReaderApart

LONGEST_S = 30.0
"""A drawing that is not read by then is refused."""
MOST_BYTES = 500_000_000
"""Memory for one drawing."""

_reader = ReaderApart(
    read_drawing,
    OutlineError,
    MOST_BYTES,
    cure="Export it again, with only the layers of the outline.",
    late="Export only the layers of the outline, without blocks, hatching and text.",
)


def read_apart(
    path: Path, stopped: Callable[[], bool], longest_s: float = LONGEST_S
) -> OutlineDrawing | None:
    """The drawing in that file, None if stopped meanwhile; OutlineError in words where there is none."""
    found = _reader.ask(path, stopped, longest_s)
    return found if isinstance(found, OutlineDrawing) else None
