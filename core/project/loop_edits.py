"""Changes to the active loop of a candidate: closed, opened, its groups and its values."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from core.project.candidate import USUAL_INPUT, Candidate, Circuit, CircuitName, Group
from core.project.edit import with_candidate
from core.project.loop import LoopDesign
from core.project.model import Project


def with_loop(project: Project, loop: LoopDesign | None = None, **changes: Any) -> Project:
    """The project with another loop in its active candidate, or with fields of its own changed. A closed loop moves to
    the groups it is said to have; who takes the other's group sends that one to the first that is left."""
    candidate = project.candidate()
    made = replace(loop or candidate.loop, **changes)
    for one, other in (("driven", "sensing"), ("sensing", "driven")):
        if one in changes and changes[one] and changes[one] == getattr(made, other):
            made = replace(made, **{other: ""})
    after, ends = replace(candidate, loop=made), candidate.loop_ends
    if (made.driven, made.sensing) != (candidate.loop.driven, candidate.loop.sensing) and candidate.loop_is_closed and ends:
        opened = _with_circuit(after, candidate.groups[ends[1]].id, "shorted")
        if "driven" not in changes and made.sensing != candidate.groups[ends[1]].id:
            opened = replace(opened, loop=replace(made, driven=candidate.groups[ends[1]].id))
        wanted = opened.loop_ends
        after = after if wanted is None else _closed(opened, *wanted)
    return with_candidate(project, after)


def close_loop(project: Project) -> Project:
    """The loop closed in the active candidate: the driven group's leads hang on the amplifier, those of the group that
    listens on an input. KeyError without two groups for it."""
    candidate = project.candidate()
    ends = candidate.loop_ends
    if ends is None:
        raise KeyError("a loop needs two groups")
    return with_candidate(project, _closed(candidate, *ends))


def open_loop(project: Project) -> Project:
    """The loop no longer part of the active candidate: the leads it drove are shorted, its design stays."""
    candidate = project.candidate()
    for group in candidate.groups:
        if group.circuit.kind == "loop":
            named = replace(candidate.loop, driven=group.id)
            candidate = _with_circuit(replace(candidate, loop=named), group.id, "shorted")
    return with_candidate(project, candidate)


def as_closed(candidate: Candidate) -> Candidate | None:
    """The candidate with its loop closed, whether it is or not; None without two groups for it."""
    ends = candidate.loop_ends
    return None if ends is None else _closed(candidate, *ends)


def _closed(candidate: Candidate, sensing: int, driven: int) -> Candidate:
    groups = list(candidate.groups)
    listens = groups[sensing]
    if listens.circuit.kind != "open" or listens.instrument is None:
        groups[sensing] = replace(listens, circuit=Circuit("open"), instrument=listens.instrument or USUAL_INPUT)
    if groups[driven].circuit.kind != "loop":
        groups[driven] = replace(groups[driven], circuit=Circuit("loop"))
    return replace(candidate, groups=tuple(groups))


def _with_circuit(candidate: Candidate, group_id: str, kind: CircuitName) -> Candidate:
    def changed(group: Group) -> Group:
        return replace(group, circuit=Circuit(kind)) if group.id == group_id else group

    return replace(candidate, groups=tuple(map(changed, candidate.groups)))
