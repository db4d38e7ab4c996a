"""Changes of one patch that are more than a value: paired with the other face, split in two; pure."""

from __future__ import annotations

from msgspec.structs import replace

from core.project import edit
from core.project.candidate import Member
from core.project.model import Project
from core.project.patch import Patch
from core.project.plan import package_margins
from core.units.words import millimetres

GAP_M = 1e-3
"""Between the packages of a split patch."""


def paired(project: Project, candidate_id: str, patch_id: str) -> Project:
    """The patch with a second one like it at the same place on the other face, wired for bending."""
    patch = _patch(project, candidate_id, patch_id)
    return edit.with_patch(project, candidate_id, replace(patch, face="both", pair_bending=True))


def split_at(project: Project, candidate_id: str, patch_id: str, x_m: float) -> Project:
    """The patch as two on both sides of `x_m`, their packages clear of each other, the second one's
    leads exchanged in the same group so that the charges of a strain that changes sign there add.

    ValueError in words where one of the two would have no length.
    """
    candidate = project.candidate(candidate_id)
    patch = _patch(project, candidate_id, patch_id)
    clear = package_margins(project.package(patch.package))[0] + 0.5 * GAP_M
    left = round(x_m - clear - patch.x_start_m, 6)
    start = round(x_m + clear, 6)
    right = round(patch.x_end_m - start, 6)
    if min(left, right) <= 0.0:
        raise ValueError(f"{patch_id} is too short to be split at {millimetres(x_m)}: its packages would overlap.")
    new_id = edit.next_patch_id(candidate)
    places = candidate.patches.index(patch)
    halves = (replace(patch, length_m=left), replace(patch, id=new_id, x_start_m=start, length_m=right))
    patches = (*candidate.patches[:places], *halves, *candidate.patches[places + 1 :])
    groups = []
    for group in candidate.groups:
        own = next((m for m in group.members if m.patch == patch_id), None)
        if own is not None:
            other = Member(new_id, -1 if own.polarity == 1 else 1)
            group = replace(group, members=(*group.members, other))
        groups.append(group)
    return edit.with_candidate(project, replace(candidate, patches=patches, groups=tuple(groups)))


def _patch(project: Project, candidate_id: str, patch_id: str) -> Patch:
    return project.candidate(candidate_id).patch(patch_id)
