"""A free place for a new patch or a new hole: clear of everything, with a little room around."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.model import Candidate, Patch, Project
from core.project.placement.lead import free_exits
from core.project.placement.room import free_starts

GAP_M = 1e-3
"""Kept to what is in the way, where there is room for it."""


def free_start(project: Project, candidate: Candidate, patch: Patch) -> float | None:
    """The smallest x_start_m at which the whole package of `patch` lies free; None where it does nowhere."""
    for low, high in free_starts(project, candidate, patch):
        start = round(low + GAP_M, 9)
        if start <= high:
            return start
    return next((low for low, _ in free_starts(project, candidate, patch)), None)


def with_free_exit(project: Project, candidate: Candidate, patch: Patch) -> Patch:
    """The patch with its lead leaving where it finds room; unchanged where it does, or nowhere."""
    exits = free_exits(project.structure, project.packages, candidate, patch)
    return patch if not exits or patch.lead_exit in exits else replace(patch, lead_exit=exits[0])
