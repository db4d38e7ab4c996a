"""What of a project concerns one candidate: inputs, problems, and which keep it from being predicted."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.model import Candidate, Project
from core.project.problems import Problem, find_problems


def problems_of(project: Project, candidate_id: str) -> tuple[Problem, ...]:
    """The project's problems without those of its other candidates."""
    others = tuple(f"candidates[{c.id}]" for c in project.candidates if c.id != candidate_id)
    return tuple(p for p in find_problems(project) if not (others and p.path.startswith(others)))


def blocks_prediction(problem: Problem) -> bool:
    """Trouble with the sheet's title block or datum keeps nothing from being predicted."""
    return not problem.path.startswith("sheet")


def predicted_from(project: Project, candidate_id: str | None = None) -> tuple[object, ...]:
    """What the prediction of a candidate (the active one) depends on; equal values predict the same."""
    return (
        project.candidate(candidate_id),
        project.structure,
        project.materials,
        project.packages,
        project.service,
        project.view,
    )


def usable(project: Project) -> Project:
    """The project with an active candidate that exists, as every view needs one."""
    if not project.candidates:
        project = replace(project, candidates=(Candidate("A", "A"),))
    if project.active not in {c.id for c in project.candidates}:
        project = replace(project, active=project.candidates[0].id)
    return project
