"""Changes to the active loop of a candidate: closed, opened, its groups and its values."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from core.project.candidate import USUAL_INPUT, Candidate, Circuit, Group, Leads
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
        opened = _opened(after)
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
    """The loop no longer part of the active candidate: what hung on the leads before hangs on them again, and leads
    that had nothing else are shorted. Its design stays."""
    candidate = project.candidate()
    driven = next((group.id for group in candidate.groups if group.circuit.kind == "loop"), candidate.loop.driven)
    return with_candidate(project, _opened(replace(candidate, loop=replace(candidate.loop, driven=driven))))


def as_closed(candidate: Candidate) -> Candidate | None:
    """The candidate with its loop closed, whether it is or not; None without two groups for it."""
    ends = candidate.loop_ends
    return None if ends is None else _closed(candidate, *ends)


def _closed(candidate: Candidate, sensing: int, driven: int) -> Candidate:
    groups = list(candidate.groups)
    listens, drives = groups[sensing], groups[driven]
    if listens.circuit.kind != "open" or listens.instrument is None:
        groups[sensing] = replace(
            listens, circuit=Circuit("open"), instrument=listens.instrument or USUAL_INPUT, before_loop=_leads(listens)
        )
    elif not candidate.loop_is_closed:
        groups[sensing] = replace(listens, before_loop=None)
    if drives.circuit.kind != "loop":
        groups[driven] = replace(drives, circuit=Circuit("loop"), before_loop=_leads(drives))
    return replace(candidate, groups=tuple(groups))


def _opened(candidate: Candidate) -> Candidate:
    return replace(candidate, groups=tuple(map(_let_go, candidate.groups)))


def _leads(group: Group) -> Leads:
    return Leads(group.circuit, group.instrument is not None)


def _let_go(group: Group) -> Group:
    """The group without the loop. What a hand put on leads that listened stays on them."""
    driven, before = group.circuit.kind == "loop", group.before_loop
    if before is not None and (driven or group.circuit.kind == "open"):
        instrument = group.instrument if before.listened else None
        return replace(group, circuit=before.circuit, instrument=instrument, before_loop=None)
    return replace(group, circuit=Circuit("shorted") if driven else group.circuit, before_loop=None)
