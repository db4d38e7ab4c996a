"""Which inputs marked 'assumed' a prediction leans on."""

from __future__ import annotations

from collections.abc import Iterator

from core.project.model import Candidate, Constant, Material, Package, Project

_MATERIAL_LABELS = {
    "youngs_modulus_pa": "Young's modulus",
    "density_kg_m3": "density",
    "loss_factor": "loss factor",
    "poisson_ratio": "Poisson's ratio",
}
_CERAMIC_LABELS = {
    "d31_c_n": "d31",
    "eps33t_relative": "permittivity",
    "s11e_1_pa": "compliance s11E",
    "density_kg_m3": "density",
    "tan_delta": "dissipation factor",
}


def assumed_inputs(project: Project, candidate: Candidate) -> tuple[str, ...]:
    """Labels of assumed inputs in use: materials, ceramics, and fields marked by the user."""
    found = dict.fromkeys(
        [*_materials(project, candidate), *_ceramics(project, candidate), *_marked(project)]
    )
    return tuple(found)


def _materials(project: Project, candidate: Candidate) -> Iterator[str]:
    structure = project.structure
    used = {piece.material for layer in structure.layers for piece in layer.pieces}
    for package in _packages(project, candidate):
        used |= {package.lower_skin.material, package.upper_skin.material}
    used |= {patch.bond.material for patch in candidate.patches}
    for material in project.materials:
        if material.name in used:
            yield from _of_material(material, structure.damping.from_loss_factors, structure.wide_strip)


def _of_material(material: Material, loss: bool, wide: bool) -> Iterator[str]:
    for field, label in _MATERIAL_LABELS.items():
        if (field == "loss_factor" and not loss) or (field == "poisson_ratio" and not wide):
            continue
        constant: Constant = getattr(material, field)
        if constant.status == "assumed":
            yield f"{label} of {material.name}"


def _packages(project: Project, candidate: Candidate) -> list[Package]:
    names = {patch.package for patch in candidate.patches}
    return [p for p in project.packages if p.name in names]


def _ceramics(project: Project, candidate: Candidate) -> Iterator[str]:
    for package in _packages(project, candidate):
        for field, label in _CERAMIC_LABELS.items():
            constant: Constant = getattr(package.ceramic, field)
            if constant.status == "assumed":
                yield f"{label} of {package.ceramic.name}"


def _marked(project: Project) -> Iterator[str]:
    for path, origin in project.origins.items():
        if origin.status == "assumed":
            yield path.replace("_", " ").replace(".", ", ")
