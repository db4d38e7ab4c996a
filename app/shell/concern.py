"""What of a project concerns one candidate."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.candidate import Candidate
from core.project.model import Project


def predicted_from(project: Project, candidate_id: str | None = None) -> tuple[object, ...]:
    """What the prediction of a candidate (the active one) depends on; equal values predict the same."""
    return (
        project.candidate(candidate_id),
        project.structure,
        project.materials,
        project.packages,
        project.service,
        project.view,
        project.sense,
        project.drive,
    )


def usable(project: Project) -> Project:
    """The project with an active candidate that exists, as every view needs one."""
    if not project.candidates:
        project = replace(project, candidates=(Candidate("A", "A"),))
    if project.active not in {c.id for c in project.candidates}:
        project = replace(project, active=project.candidates[0].id)
    return project
