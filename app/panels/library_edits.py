"""Changes of a project's own materials and packages; pure, old project in, new out."""

from __future__ import annotations

from typing import Any

import msgspec

from app.panels.paths import lies_in
from core.project import library
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Bond, Package
from core.project.structure import Layer

replace = msgspec.structs.replace


def free_name(wanted: str, used: set[str]) -> str:
    """The wanted name, with a number behind it when it is taken."""
    if wanted not in used:
        return wanted
    number = 2
    while f"{wanted} {number}" in used:
        number += 1
    return f"{wanted} {number}"


# -- materials -----------------------------------------------------------------------------------


def material_users(project: Project, name: str) -> list[str]:
    """What is made of the material, in words."""
    users = [
        f"layer {layer.name}" for layer in project.structure.layers
        if any(piece.material == name for piece in layer.pieces)
    ]
    for package in project.packages:
        if name in (package.lower_skin.material, package.upper_skin.material, package.bond.material):
            users.append(f"package {package.name}")
    users += [
        f"bond of {candidate.id} {patch.id}"
        for candidate in project.candidates for patch in candidate.patches if patch.bond.material == name
    ]
    return users


def with_material_added(project: Project, material: Material) -> tuple[Project, str]:
    """The project with one more material, renamed when its name is taken; and its name."""
    name = free_name(material.name, {m.name for m in project.materials})
    return replace(project, materials=(*project.materials, replace(material, name=name))), name


def material_options(project: Project) -> list[tuple[str, str]]:
    """(name, text) of the project's materials, then of the library's that it does not have yet."""
    return _options(project.materials, library.materials())


def with_material_at_hand(project: Project, name: str) -> Project:
    """The project with the library's material of that name, if it has none of it."""
    entry = _missing(project.materials, library.materials(), name)
    return project if entry is None else with_material_added(project, entry)[0]


def package_options(project: Project) -> list[tuple[str, str]]:
    """(name, text) of the project's packages, then of the library's that it does not have yet."""
    return _options(project.packages, library.packages())


def with_package_at_hand(project: Project, name: str) -> Project:
    """The project with the library's package of that name, if it has none of it."""
    entry = _missing(project.packages, library.packages(), name)
    return project if entry is None else with_package_added(project, entry)[0]


def _options(own: tuple[Any, ...], offered: tuple[Any, ...]) -> list[tuple[str, str]]:
    names = {entry.name for entry in own}
    more = [(entry.name, f"{entry.name} (library)") for entry in offered if entry.name not in names]
    return [(entry.name, entry.name) for entry in own] + more


def _missing(own: tuple[Any, ...], offered: tuple[Any, ...], name: str) -> Any:
    if any(entry.name == name for entry in own):
        return None
    return next((entry for entry in offered if entry.name == name), None)


def with_material_renamed(project: Project, old: str, new: str) -> Project:
    """The material under another name, in every place that names it."""
    def named(name: str) -> str:
        return new if name == old else name

    def bond(value: Bond) -> Bond:
        return replace(value, material=named(value.material))

    def layer(value: Layer) -> Layer:
        pieces = tuple(replace(piece, material=named(piece.material)) for piece in value.pieces)
        return replace(value, pieces=pieces)

    def package(value: Package) -> Package:
        return replace(
            value,
            lower_skin=replace(value.lower_skin, material=named(value.lower_skin.material)),
            upper_skin=replace(value.upper_skin, material=named(value.upper_skin.material)),
            bond=bond(value.bond),
        )

    structure = replace(project.structure, layers=tuple(layer(value) for value in project.structure.layers))
    candidates = tuple(
        replace(c, patches=tuple(replace(patch, bond=bond(patch.bond)) for patch in c.patches))
        for c in project.candidates
    )
    materials = tuple(replace(m, name=named(m.name)) for m in project.materials)
    renamed = replace(
        project, structure=structure, candidates=candidates, materials=materials,
        packages=tuple(package(value) for value in project.packages),
    )  # fmt: skip
    return _with_said_moved(renamed, f"materials[{old}]", f"materials[{new}]")


def _with_said_moved(project: Project, old: str, new: str) -> Project:
    """What was said of inputs (origin, tolerance) under a path that has changed, under the new one."""
    def moved(said: dict[str, Any]) -> dict[str, Any]:
        return {new + path[len(old):] if lies_in(path, old) else path: value for path, value in said.items()}

    return replace(project, origins=moved(project.origins), tolerances=moved(project.tolerances))


def without(project: Project, what: str, name: str) -> Project:
    """The material or package (`what` is the project's field) of that name taken away."""
    kept = tuple(item for item in getattr(project, what) if item.name != name)
    return replace(project, **{what: kept})


# -- packages ------------------------------------------------------------------------------------


def package_users(project: Project, name: str) -> list[str]:
    """The patches made from the package, in words."""
    return [
        f"{candidate.id} {patch.id}"
        for candidate in project.candidates for patch in candidate.patches if patch.package == name
    ]


def with_package_added(project: Project, package: Package) -> tuple[Project, str]:
    """The project with one more package and the library's materials it names; and its name."""
    name = free_name(package.name, {p.name for p in project.packages})
    known = {material.name for material in project.materials}
    missing = tuple(m for m in library.materials_of(package) if m.name not in known)
    return replace(
        project,
        packages=(*project.packages, replace(package, name=name)),
        materials=(*project.materials, *missing),
    ), name


def with_package_renamed(project: Project, old: str, new: str) -> Project:
    """The package under another name, in every patch made from it."""
    def patch(value: Any) -> Any:
        return replace(value, package=new) if value.package == old else value

    candidates = tuple(replace(c, patches=tuple(patch(p) for p in c.patches)) for c in project.candidates)
    packages = tuple(replace(p, name=new) if p.name == old else p for p in project.packages)
    renamed = replace(project, candidates=candidates, packages=packages)
    return _with_said_moved(renamed, f"packages[{old}]", f"packages[{new}]")


def with_package_in_patches(project: Project, name: str) -> Project:
    """Every patch made from the package given the package's size and bond again."""
    package = project.package(name)

    def patch(value: Any) -> Any:
        if value.package != name:
            return value
        return replace(value, length_m=package.length_m, width_m=package.width_m, bond=package.bond)

    return replace(
        project,
        candidates=tuple(replace(c, patches=tuple(patch(p) for p in c.patches)) for c in project.candidates),
    )
