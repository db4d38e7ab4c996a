"""Edits made on the drawing, as pure functions from project to project."""

from __future__ import annotations

from msgspec.structs import replace

from app.drawing.patch_view import zone_ends
from core.project import edit
from core.project.candidate import Group
from core.project.model import Project
from core.project.patch import Patch
from core.project.structure import DatumFeature, KeepOut


def find_patch(project: Project, patch_id: str) -> Patch | None:
    """The patch of the active candidate with that id."""
    return next((p for p in project.candidate().patches if p.id == patch_id), None)


def put_patch(project: Project, patch: Patch) -> Project:
    """The active candidate with `patch` in place of the one of the same id."""
    return edit.with_patch(project, project.active, patch)


def group_of(project: Project, patch_id: str) -> Group | None:
    """The group of the active candidate that the patch is wired into."""
    return next((g for g in project.candidate().groups if any(m.patch == patch_id for m in g.members)), None)


def switch_polarity(project: Project, patch_id: str) -> Project:
    """The patch's leads swapped within its group."""
    group = group_of(project, patch_id)
    if group is None:
        return project
    members = tuple(replace(m, polarity=-m.polarity) if m.patch == patch_id else m for m in group.members)
    return edit.with_group(project, project.active, replace(group, members=members))


def flip_face(project: Project, patch_id: str) -> Project:
    """Top to underside and back; a pair stays where it is."""
    patch = find_patch(project, patch_id)
    if patch is None or patch.face == "both":
        return project
    return put_patch(project, replace(patch, face="underside" if patch.face == "top" else "top"))


def move_patch(project: Project, patch_id: str, x_start_m: float) -> Project:
    """The patch with its ceramic starting at `x_start_m`."""
    patch = find_patch(project, patch_id)
    return project if patch is None else put_patch(project, replace(patch, x_start_m=x_start_m))


def put_keep_outs(project: Project, zones: tuple[KeepOut, ...]) -> Project:
    """The structure with these keep-outs."""
    return edit.with_structure(project, replace(project.structure, keep_outs=zones))


def add_keep_out(project: Project, zone: KeepOut) -> Project:
    return put_keep_outs(project, (*project.structure.keep_outs, zone))


def put_keep_out(project: Project, index: int, zone: KeepOut) -> Project:
    zones = list(project.structure.keep_outs)
    zones[index] = zone
    return put_keep_outs(project, tuple(zones))


def remove_keep_out(project: Project, index: int) -> Project:
    zones = project.structure.keep_outs
    return put_keep_outs(project, zones[:index] + zones[index + 1 :])


def add_datum(project: Project, x_m: float) -> Project:
    """A touchable datum feature at `x_m` with a free name."""
    datums = project.structure.datums
    name = free_name("datum", {d.name for d in datums})
    return edit.with_structure(project, replace(project.structure, datums=(*datums, DatumFeature(name, x_m))))


def forget_outline(project: Project) -> Project:
    """The structure without its true outline; stations and cut-outs stay as they are."""
    return edit.with_structure(project, outline=None)


def free_name(stem: str, taken: set[str]) -> str:
    """`stem` and the smallest number not in `taken`."""
    return next(f"{stem} {n}" for n in range(1, len(taken) + 2) if f"{stem} {n}" not in taken)


def stretched_zone(zone: KeepOut, low_m: float, high_m: float) -> KeepOut:
    """The keep-out with its ends at `low_m` and `high_m`, its corners moved in proportion."""
    old_low, old_high = zone_ends(zone)
    polygon = zone.polygon_m
    if polygon:
        scale = (high_m - low_m) / (old_high - old_low) if old_high > old_low else 1.0
        polygon = tuple((low_m + (x - old_low) * scale, y) for x, y in polygon)
    return replace(zone, x_start_m=low_m, x_end_m=high_m, polygon_m=polygon)
