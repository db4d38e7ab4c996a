"""Projects at a level of the mechanics of their own, for tests that state formulas of beams or promise many digits."""

from __future__ import annotations

from core.project import library
from core.project.edit import with_structure
from core.project.model import Project


def together(project: Project) -> Project:
    """At the level at which layers contract across together and no more."""
    return with_structure(project, level="section")


def beam_example(key: str) -> Project:
    """A shipped example at that level."""
    return together(library.example(key))
