"""Which drawing this is: number, title and revision of one candidate's papers.

Every candidate is a drawing of its own. Its letter follows the project's number, its name the project's
title, and only the revisions released for it are its revisions. Indices count through the whole project,
so that one index never stands for two states.
"""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec

from core.project.candidate import Candidate
from core.project.model import Project, Released
from core.project.sheet import Revision


def number_of(project: Project, candidate: Candidate) -> str:
    """ "QS-0002-B"; empty where the project has no number."""
    number = project.sheet.number.strip()
    return f"{number}-{candidate.id}" if number else ""


def title_of(project: Project, candidate: Candidate) -> str:
    """ "Fore 172: B beyond the window"; the project's name where no title is given."""
    title = project.sheet.title.strip() or project.name
    name = candidate.name.strip()
    return f"{title}: {candidate.id}" + (f" {name}" if name and name != candidate.id else "")


def releases_of(project: Project, candidate: Candidate) -> tuple[Released, ...]:
    """What was released of this candidate, oldest first."""
    return tuple(r for r in project.releases if r.candidate.id == candidate.id)


def revisions_of(project: Project, candidate: Candidate) -> tuple[Revision, ...]:
    """The lines of the revision table that are of this candidate, oldest first.

    A line entered without a frozen copy tells nobody's: it counts for the first candidate.
    """
    owners = {r.index: r.candidate.id for r in project.releases}
    first = project.candidates[0].id
    return tuple(line for line in project.sheet.revisions if owners.get(line.index, first) == candidate.id)


def revision_index(project: Project, candidate: Candidate) -> str:
    """The index of the candidate's papers: its last revision, with a mark where the model has been
    changed since that was released; "draft" before the first."""
    revisions = revisions_of(project, candidate)
    if not revisions:
        return "draft"
    released = next((r for r in project.releases if r.index == revisions[-1].index), None)
    if released is not None and released.fingerprint != fingerprint(project, candidate):
        return f"{revisions[-1].index}, changed"
    return revisions[-1].index


def fingerprint(project: Project, candidate: Candidate) -> str:
    """Eight hexadecimal digits of what the placement follows from: structure, materials, packages
    and candidate. Any change of them changes it; notes and title block fields do not.

    Fields at their default do not count, so that a field added later leaves it as it was.
    """
    content = _said((project.structure, project.materials, project.packages, candidate))
    digest = hashlib.sha256(msgspec.json.encode(content, order="deterministic")).hexdigest()
    return f"{digest[:4]} {digest[4:8]}"


def _said(value: Any) -> Any:
    """A saved value as plain data without what stands at its default."""
    if isinstance(value, msgspec.Struct):
        told = {}
        for field in msgspec.structs.fields(type(value)):
            given = getattr(value, field.name)
            default = field.default
            if field.default_factory is not msgspec.NODEFAULT:
                default = field.default_factory()
            if default is msgspec.NODEFAULT or given != default:
                told[field.name] = _said(given)
        return told
    if isinstance(value, tuple):
        return [_said(entry) for entry in value]
    if isinstance(value, dict):
        return {key: _said(entry) for key, entry in value.items()}
    return value
