"""The project a search looks at: with packages of the library, and ceramics of other widths and thicknesses; pure."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from app.panels.library_edits import with_package_at_hand
from app.studies.edits import COPY
from core import units
from core.project import edit
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Package


def with_choices(
    project: Project, names: Sequence[str], widths_m: Sequence[float], thicknesses_m: Sequence[float]
) -> tuple[Project, tuple[str, ...]]:
    """The project with those packages (the library's where it has none of that name), and with each of them for
    every width and thickness given; and the names of all that a search is to look at."""
    found: list[str] = []
    for name in names:
        project = with_package_at_hand(project, name)
        own = project.package(name)
        for width in (own.width_m, *widths_m):
            for thickness in (own.ceramic_thickness_m, *thicknesses_m):
                made = _made(own, width, thickness)
                if made.name not in {p.name for p in project.packages}:
                    project = edit.with_package(project, made)
                if made.name not in found:
                    found.append(made.name)
    return project, tuple(found)


def with_packages_of(project: Project, searched: Project, candidate: Candidate) -> Project:
    """The project with the packages of a layout found, and the materials these name."""
    for name in dict.fromkeys(patch.package for patch in candidate.patches):
        if any(package.name == name for package in project.packages):
            continue
        package = searched.package(name)
        named = {package.lower_skin.material, package.upper_skin.material, package.bond.material}
        project = edit.with_package(project, package, tuple(m for m in searched.materials if m.name in named))
    return project


def _made(own: Package, width_m: float, thickness_m: float) -> Package:
    """The package with another ceramic, named so; itself where the ceramic is its own."""
    parts = []
    if abs(width_m - own.width_m) > 1e-7:
        parts.append(f"{units.show_with_unit(width_m, 'mm', significant=4)} wide")
    if abs(thickness_m - own.ceramic_thickness_m) > 1e-9:
        parts.append(units.show_with_unit(thickness_m, "mm", significant=4))
    if not parts:
        return own
    name = f"{own.name.split(COPY)[0]}{COPY}{', '.join(parts)}"
    return replace(own, name=name, width_m=width_m, ceramic_thickness_m=thickness_m)
