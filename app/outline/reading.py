"""A file to what the import preview shows of it, off the window's thread: read, joined, first shape."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path

from PySide6.QtGui import QImage

from app.outline.state import ImportState, Outcome
from app.outline.tracing import load_picture
from core.outline.apart import read_apart
from core.outline.drawing import OutlineError
from core.outline.readers import PICTURES
from core.project.model import Project


@dataclass(frozen=True, eq=False)
class Found:
    """What a file holds: a state with its outcome, a picture, or the words why there is none."""

    name: str
    state: ImportState | None = None
    outcome: Outcome = field(default_factory=Outcome)
    image: QImage | None = None
    words: str = ""


def read_file(path: Path, project: Project, stop: threading.Event) -> Found:
    """The drawing or the picture in that file; nothing of it once stopped."""
    try:
        if path.suffix.lower() in PICTURES:
            return Found(path.name, image=load_picture(path))
        drawing = read_apart(path, stop.is_set)
        if drawing is None or stop.is_set():
            return Found(path.name)
        state = ImportState(project, drawing)
        return Found(path.name, state, state.outcome())
    except OutlineError as error:
        return Found(path.name, words=str(error))
