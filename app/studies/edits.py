"""From a study back into the project: pure functions."""

from __future__ import annotations

from msgspec.structs import replace

from core import units
from core.project import edit
from core.project.model import Candidate, Project

ROUND_M = 1e-4
THIN_M = 1e-6


def at_cell(project: Project, patch_id: str, axis: str, start_m: float, size_m: float) -> Project:
    """The project with the patch at a cell of a map; another thickness is another package, named so."""
    candidate = project.candidate()
    patch = next(p for p in candidate.patches if p.id == patch_id)
    start = round(start_m / ROUND_M) * ROUND_M
    if axis == "thickness":
        thickness = round(size_m / THIN_M) * THIN_M
        package = project.package(patch.package)
        stem = package.name.split(", ceramic ")[0]
        name = f"{stem}, ceramic {units.show_with_unit(thickness, 'mm', significant=4)}"
        if thickness != package.ceramic_thickness_m:
            project = edit.with_package(project, replace(package, name=name, ceramic_thickness_m=thickness))
            patch = replace(patch, package=name)
        return edit.with_patch(project, candidate.id, replace(patch, x_start_m=start))
    size = round(size_m / ROUND_M) * ROUND_M
    return edit.with_patch(project, candidate.id, replace(patch, x_start_m=start, **{f"{axis}_m": size}))


def kept(project: Project, found: Candidate) -> tuple[Project, str]:
    """The project with a layout found as its next candidate, and that candidate's letter."""
    letter = edit.next_letter(project)
    starts = " and ".join(
        units.show(p.x_start_m, "mm", significant=4) for p in sorted(found.patches, key=lambda p: p.x_start_m)
    )
    circuits = ", ".join(dict.fromkeys(group.circuit.kind for group in found.groups))
    name = f"at {starts} mm, {circuits}"
    return edit.with_candidate(project, replace(found, id=letter, name=name)), letter
