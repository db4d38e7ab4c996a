"""Tuned masses of a candidate put, added and taken away; pure, old project in, new out."""

from __future__ import annotations

from msgspec.structs import replace

from core.project import edit
from core.project.candidate import Absorber, Candidate, Tuning
from core.project.model import Project
from core.project.served import served_mode

START_HZ = 20.0
"""Stands in the file until a rule or a person says otherwise."""


def find_absorber(candidate: Candidate, absorber_id: str | None) -> Absorber | None:
    """The tuned mass of that id."""
    return next((one for one in candidate.absorbers if one.id == absorber_id), None)


def with_absorber(project: Project, candidate_id: str, absorber: Absorber) -> Project:
    """The candidate with this tuned mass added, or in place of the one of the same id."""
    candidate = project.candidate(candidate_id)
    known = any(one.id == absorber.id for one in candidate.absorbers)
    kept = tuple(absorber if one.id == absorber.id else one for one in candidate.absorbers)
    return edit.with_candidate(project, replace(candidate, absorbers=kept if known else (*kept, absorber)))


def add_absorber(project: Project, candidate_id: str, x_m: float, mass_kg: float) -> tuple[Project, str]:
    """One more tuned mass, at its best on the mode the candidate serves; and its id."""
    candidate = project.candidate(candidate_id)
    taken = {one.id for one in candidate.absorbers}
    new_id = next(f"M{n}" for n in range(1, len(taken) + 2) if f"M{n}" not in taken)
    tuning = Tuning(mode=served_mode(project, candidate), rule="optimum", goal="damping")
    new = Absorber(new_id, x_m, mass_kg, START_HZ, tuning=tuning)
    return with_absorber(project, candidate_id, new), new_id


def without_absorber(project: Project, candidate_id: str, absorber_id: str) -> Project:
    """The candidate without that tuned mass."""
    candidate = project.candidate(candidate_id)
    kept = tuple(one for one in candidate.absorbers if one.id != absorber_id)
    return edit.with_candidate(project, replace(candidate, absorbers=kept))
