"""Everything that keeps a candidate from being predicted: of the project's values and of its circuits."""

from __future__ import annotations

from core.circuit.checks import circuit_problems
from core.predict.remarks.temperature_checks import temperature_problems
from core.project import problems as of_values
from core.project.checking import Problem
from core.project.model import Project

__all__ = ["UNSOLVED", "Problem", "blocks_prediction", "find_problems", "problems_of"]


UNSOLVED = (
    "This layout could not be predicted: its numbers are too far apart to be solved together. "
    "Look for an input with the wrong unit."
)
"""What is said where the equations fail all the same."""


def find_problems(project: Project) -> tuple[Problem, ...]:
    """Every problem of the project, by the path of the value it hangs on; empty if it can be predicted."""
    found = of_values.find_problems(project)
    for candidate in project.candidates:
        found += circuit_problems(candidate)
    if not found:
        found = temperature_problems(project.materials, project.packages, project.service)
    return found


def problems_of(project: Project, candidate_id: str) -> tuple[Problem, ...]:
    """The project's problems without those of its other candidates."""
    others = tuple(f"candidates[{c.id}]" for c in project.candidates if c.id != candidate_id)
    return tuple(p for p in find_problems(project) if not (others and p.path.startswith(others)))


def blocks_prediction(problem: Problem) -> bool:
    """Trouble with the sheet's title block or datum, or with what was measured on parts, keeps nothing from being predicted."""
    return not problem.path.startswith(("sheet", "measurements", "bonded"))
