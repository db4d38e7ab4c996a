"""Changes of patches, groups and loads that touch more than one value; pure, old project in, new out."""

from __future__ import annotations

from typing import Any

import msgspec

from app.panels.paths import replaced_at, value_at
from core.project.model import (
    Candidate,
    Circuit,
    Group,
    Impact,
    Load,
    Member,
    Package,
    Patch,
    Project,
    Release,
    RootAcceleration,
    TipForce,
    Tuning,
)

replace = msgspec.structs.replace


def patch_path(project: Project, patch_id: str) -> str:
    """Path of a patch of the active candidate."""
    return f"candidates[{project.active}].patches[{patch_id}]"


def group_path(project: Project, group_id: str) -> str:
    """Path of a group of the active candidate."""
    return f"candidates[{project.active}].groups[{group_id}]"


def with_active(project: Project, candidate: Candidate) -> Project:
    """The active candidate replaced."""
    return replaced_at(project, f"candidates[{project.active}]", candidate)


# -- patches -------------------------------------------------------------------------------------


def with_package_chosen(project: Project, path: str, name: str) -> Project:
    """The patch made from another package: its length, width and bond are that package's."""
    patch_place = path.rpartition(".")[0]
    patch: Patch = value_at(project, patch_place)
    package = project.package(name)
    new = replace(
        patch, package=name, length_m=package.length_m, width_m=package.width_m, bond=package.bond
    )
    return replaced_at(project, patch_place, new)


def with_start(project: Project, path: str, x_start_m: float) -> Project:
    """The patch moved to start at `x_start_m` from the root, without the dust of a datum's sum."""
    return replaced_at(project, path, round(x_start_m, 12))


def with_new_patch(project: Project) -> tuple[Project, str]:
    """A patch of the first package at the first free place of the top face, in a group of its own."""
    candidate = project.candidate()
    package = project.packages[0]
    length = min(package.length_m, 0.5 * project.structure.span_m)
    start = _free_start(project, candidate, package, length)
    patch = Patch(
        id=_new_id(candidate.patches, "P"), package=package.name, x_start_m=start, length_m=length,
        width_m=package.width_m, bond=package.bond,
    )  # fmt: skip
    return with_active(project, _with_patch_and_group(candidate, patch)), patch.id


def with_patch_copied(project: Project, patch_id: str) -> tuple[Project, str]:
    """A copy of a patch, tipwards of it where there is room, in a group of its own."""
    candidate = project.candidate()
    old: Patch = value_at(project, patch_path(project, patch_id))
    package = project.package(old.package)
    start = _free_start(project, candidate, package, old.length_m, from_m=old.x_start_m)
    patch = replace(old, id=_new_id(candidate.patches, "P"), x_start_m=start)
    return with_active(project, _with_patch_and_group(candidate, patch)), patch.id


def without_patch(project: Project, patch_id: str) -> Project:
    """The patch away; groups lose it, and an empty group goes too."""
    candidate = project.candidate()
    groups = (
        replace(group, members=tuple(m for m in group.members if m.patch != patch_id))
        for group in candidate.groups
    )
    return with_active(
        project,
        replace(
            candidate,
            patches=tuple(patch for patch in candidate.patches if patch.id != patch_id),
            groups=tuple(group for group in groups if group.members),
        ),
    )


def _with_patch_and_group(candidate: Candidate, patch: Patch) -> Candidate:
    group = Group(id=_new_id(candidate.groups, "G"), members=(Member(patch.id),))
    return replace(
        candidate, patches=(*candidate.patches, patch), groups=(*candidate.groups, group)
    )


def _free_start(
    project: Project, candidate: Candidate, package: Package, length_m: float, from_m: float = 0.0
) -> float:
    """The first start (in steps of 1 mm) clear of the other patches and keep-outs of the top face."""
    margin = package.margin_m
    taken = [
        (p.x_start_m - project.package(p.package).margin_m, p.x_end_m + project.package(p.package).margin_m)
        for p in candidate.patches
    ]
    zones = project.structure.keep_outs
    taken += [(zone.x_start_m, zone.x_end_m) for zone in zones if zone.face != "underside"]
    last = max(int(1e3 * (project.structure.span_m - length_m - margin)), 0)
    first = int(1e3 * max(from_m, margin)) + 1
    for step in (*range(first, last + 1), *range(int(1e3 * margin) + 1, first)):
        start = step * 1e-3
        if all(start + length_m + margin <= a or start - margin >= b for a, b in taken):
            return round(start, 6)
    return round(min(max(from_m, margin), project.structure.span_m - length_m), 6)


def _new_id(items: tuple[Any, ...], letter: str) -> str:
    used = {item.id for item in items}
    number = 1
    while f"{letter}{number}" in used:
        number += 1
    return f"{letter}{number}"


# -- groups ---------------------------------------------------------------------------------------


def group_of(project: Project, patch_id: str | None) -> Group | None:
    """The group of the active candidate that holds the patch."""
    for group in project.candidate().groups:
        if any(member.patch == patch_id for member in group.members):
            return group
    return None


def with_polarity_turned(project: Project, group_id: str, patch_id: str) -> Project:
    """The patch's leads exchanged in its group."""
    group: Group = value_at(project, group_path(project, group_id))
    members = tuple(
        replace(m, polarity=-m.polarity) if m.patch == patch_id else m for m in group.members
    )
    return replaced_at(project, f"{group_path(project, group_id)}.members", members)


def with_groups_joined(project: Project, into_id: str, other_id: str) -> Project:
    """The members of `other_id` added to `into_id`, whose wiring and circuit stay."""
    candidate = project.candidate()
    other: Group = value_at(project, group_path(project, other_id))
    groups = tuple(
        replace(group, members=group.members + other.members) if group.id == into_id else group
        for group in candidate.groups
        if group.id != other_id
    )
    return with_active(project, replace(candidate, groups=groups))


def with_patch_split_off(project: Project, patch_id: str) -> Project:
    """The patch in a group of its own, with a copy of the circuit it had."""
    candidate = project.candidate()
    old = group_of(project, patch_id)
    if old is not None and len(old.members) < 2:
        return project
    kept = tuple(
        replace(group, members=tuple(m for m in group.members if m.patch != patch_id))
        for group in candidate.groups
    )
    new = Group(
        id=_new_id(candidate.groups, "G"), members=(Member(patch_id),),
        circuit=old.circuit if old else Circuit(),
    )  # fmt: skip
    return with_active(project, replace(candidate, groups=(*kept, new)))


def with_tuning(project: Project, path: str, follows: bool, in_effect: dict[str, float]) -> Project:
    """The circuit following the model, or fixed at the values now in effect."""
    circuit: Circuit = value_at(project, path)
    if follows:
        return replaced_at(project, path, replace(circuit, tuning=circuit.tuning or Tuning()))
    return replaced_at(project, path, replace(circuit, tuning=None, values={**circuit.values, **in_effect}))


# -- loads ----------------------------------------------------------------------------------------


def new_load(kind: str, name: str, band_hz: tuple[float, float]) -> Load:
    """A load of that kind with everyday values."""
    if kind == "root acceleration":
        return RootAcceleration(name, 1.0, band_hz)
    if kind == "release":
        return Release(name, 0.005, band_hz)
    if kind == "impact":
        return Impact(name, 0.01, 1e-3, band_hz)
    return TipForce(name, 1.0, band_hz)


def load_kind(load: Load) -> str:
    """The load's kind by the word of the project file."""
    return str(load.__struct_config__.tag)
