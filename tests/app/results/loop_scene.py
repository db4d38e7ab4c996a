"""The lab beam with a second patch under the first, in a group of its own."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.candidate import Circuit, Group, Instrument, Member
from core.project.model import Project
from tests.levels import beam_example


def two_groups() -> Project:
    project = beam_example("lab-beam")
    candidate = project.candidate("A")
    below = replace(candidate.patches[0], id="P2", face="underside")
    listens = Group("G2", (Member("P2", -1),), circuit=Circuit("open"), instrument=Instrument("input", 10e6, 20e-12))
    made = replace(candidate, patches=(*candidate.patches, below), groups=(*candidate.groups, listens))
    return replace(project, candidates=(made, *project.candidates[1:]))
