"""The shipped examples with one thing changed: short names for tests."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.candidate import Candidate, Group, Member
from core.project.model import Project
from core.project.patch import Patch
from tests.levels import beam_example


def lab() -> Project:
    return beam_example("lab-beam")


def placed(project: Project, candidate_id: str = "A", **changes: object) -> tuple[Project, Candidate]:
    """The candidate with its first patch changed."""
    candidate = project.candidate(candidate_id)
    patch = replace(candidate.patches[0], **changes)
    return project, replace(candidate, patches=(patch, *candidate.patches[1:]))


def one_group(candidate: Candidate, *polarity: int, wiring: str = "parallel") -> Candidate:
    """All patches of the candidate in one group with these polarities."""
    signs = polarity or (1,) * len(candidate.patches)
    members = tuple(Member(p.id, s) for p, s in zip(candidate.patches, signs, strict=True))
    return replace(candidate, groups=(replace(candidate.groups[0], members=members, wiring=wiring),))


def two_faces(project: Project) -> Candidate:
    """One patch on the top, an equal one under it, each in its own group."""
    candidate = project.candidate("A")
    first = replace(candidate.patches[0], face="top")
    second: Patch = replace(first, id="P2", face="underside")
    groups = (
        Group("G1", (Member(first.id),)),
        Group("G2", (Member("P2"),)),
    )
    return replace(candidate, patches=(first, second), groups=groups)
