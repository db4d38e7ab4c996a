"""What is bought for a patch: the package of the catalogue, or a special size that is none.

Length and width of a patch may be changed on the drawing. What then lies there is no longer the package
it began as, and no paper may call it by that name.
"""

from __future__ import annotations

from msgspec.structs import replace

from core import units
from core.project import edit
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.sheet import Sheet

SAME_SIZE_M = 1e-6
"""Sizes that differ by less are one size."""


def is_catalogue_size(patch: Patch, package: Package) -> bool:
    """Whether the ceramic drawn is the one the package holds."""
    off = max(abs(patch.length_m - package.length_m), abs(patch.width_m - package.width_m))
    return off < SAME_SIZE_M


def size_words(length_m: float, width_m: float) -> str:
    """ "142.9 x 60 mm"."""
    return f"{units.show(length_m, 'mm', significant=5)} x {units.show_with_unit(width_m, 'mm', significant=5)}"


def article_name(patch: Patch, package: Package) -> str:
    """The package's name; of another size what it is: "SPECIAL SIZE 142.9 x 60 mm, build-up of ..."."""
    return _named(package.name, patch, package)


def specification(sheet: Sheet, patch: Patch, package: Package) -> str:
    """What the title block names: the sheet's specification, else the package; a special size as that."""
    return _named(sheet.patch_specification.strip() or package.name, patch, package)


def _named(name: str, patch: Patch, package: Package) -> str:
    if is_catalogue_size(patch, package):
        return name
    return f"SPECIAL SIZE {size_words(patch.length_m, patch.width_m)}, build-up of {name}"


def size_remark(patch: Patch, package: Package) -> str:
    """What a reader must know of a special size; empty for the catalogue's."""
    if is_catalogue_size(patch, package):
        return ""
    drawn, own = size_words(patch.length_m, patch.width_m), size_words(package.length_m, package.width_m)
    return (
        f"The ceramic of {patch.id} is {drawn}; the package {package.name} has {own}. It is a special size: "
        "nothing of the catalogue, to be made and ordered as such. Make a package of it to give it a name."
    )


def with_package_of_size(project: Project, candidate_id: str, patch_id: str) -> Project:
    """The project with a package of the patch's own size, which the patch is then made from.

    A package of that build-up and size that is there already serves. The package it began as stays.
    KeyError for an unknown candidate or patch.
    """
    candidate = project.candidate(candidate_id)
    patch = candidate.patch(patch_id)
    old = project.package(patch.package)
    if is_catalogue_size(patch, old):
        return project
    wanted = replace(
        old, name=_size_name(old, patch), length_m=patch.length_m, width_m=patch.width_m,
        note=f"{old.note} Special size, built up as {old.name}.".strip(),
    )  # fmt: skip
    there = [p for p in project.packages if replace(p, name=wanted.name, note=wanted.note) == wanted]
    if there:
        wanted = there[0]
    else:
        taken, stem = {p.name for p in project.packages}, wanted.name
        names = (stem, *(f"{stem} ({n})" for n in range(2, len(taken) + 3)))
        wanted = replace(wanted, name=next(name for name in names if name not in taken))
        project = edit.with_package(project, wanted)
    return edit.with_patch(project, candidate_id, replace(patch, package=wanted.name))


def _size_name(package: Package, patch: Patch) -> str:
    """ "Type II, 142.9 x 60 x 0.4" of "Type II, 60 x 60 x 0.4"."""
    kind = package.name.partition(",")[0]
    sizes = (patch.length_m, patch.width_m, package.ceramic_thickness_m)
    return f"{kind}, {' x '.join(units.show(size, 'mm', significant=5) for size in sizes)}"
