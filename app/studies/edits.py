"""From a study back into the project: pure functions."""

from __future__ import annotations

from msgspec.structs import replace

from core import units
from core.project import edit
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch

ROUND_M = 1e-4
THIN_M = 1e-6
COPY = ", ceramic "
"""Stands in the name of a package made for another thickness of the ceramic."""


def at_cell(project: Project, patch_id: str, axis: str, across_m: float, size_m: float, over: str = "start") -> Project:
    """The project with the patch at a cell of a map; another thickness is another package, named so."""
    candidate = project.candidate()
    patch = candidate.patch(patch_id)
    moved = replace(patch, **{"length_m" if over == "length" else "x_start_m": round(across_m / ROUND_M) * ROUND_M})
    if axis == "thickness":
        return _of_thickness(project, moved, round(size_m / THIN_M) * THIN_M)
    size = round(size_m / ROUND_M) * ROUND_M
    return edit.with_patch(project, candidate.id, replace(moved, **{f"{axis}_m": size}))


def _of_thickness(project: Project, patch: Patch, thickness_m: float) -> Project:
    """The project with the patch in the package of that ceramic: the catalogue's own where it has
    this thickness, else a copy named so. A copy that no patch uses any more is taken out."""
    old = project.package(patch.package)
    stem = old.name.split(COPY)[0]
    name = f"{stem}{COPY}{units.show_with_unit(thickness_m, 'mm', significant=4)}"
    same = [p for p in project.packages if p.name in (stem, name) and _is(p.ceramic_thickness_m, thickness_m)]
    if same:
        name = same[0].name
    elif not _is(old.ceramic_thickness_m, thickness_m):
        project = edit.with_package(project, replace(old, name=name, ceramic_thickness_m=thickness_m))
    else:
        name = old.name
    project = edit.with_patch(project, project.active, replace(patch, package=name))
    used = {p.package for candidate in project.candidates for p in candidate.patches}
    if COPY in old.name and old.name not in used:
        project = replace(project, packages=tuple(p for p in project.packages if p.name != old.name))
    return project


def _is(one_m: float, other_m: float) -> bool:
    return abs(one_m - other_m) < 0.5 * THIN_M


def kept(project: Project, found: Candidate) -> tuple[Project, str]:
    """The project with a layout found as its next candidate, and that candidate's letter."""
    letter = edit.next_letter(project)
    starts = " and ".join(
        units.show(p.x_start_m, "mm", significant=4) for p in sorted(found.patches, key=lambda p: p.x_start_m)
    )
    circuits = ", ".join(dict.fromkeys(group.circuit.kind for group in found.groups))
    name = f"at {starts} mm, {circuits}"
    return edit.with_candidate(project, replace(found, id=letter, name=name)), letter
