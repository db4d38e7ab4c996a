"""Where the inputs are from: measured, data sheet or assumed, and which assumed ones a result leans on.

A constant of a material or a ceramic carries its own status; every other input is looked up by
its path in `Project.origins`, and counts as assumed where nobody spoke for it. An origin given
for a whole ("structure.root") holds for the values in it ("structure.root.k_r_nm_rad").
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from msgspec.structs import replace

from core.project.at_path import replaced_at, value_at
from core.project.candidate import Candidate
from core.project.checking import by_identity
from core.project.fields import FIELDS
from core.project.labels import label_of
from core.project.material import Material
from core.project.model import Origin, Project
from core.project.patch import Package
from core.project.record import Constant, Status
from core.project.service import (
    BaseShock,
    BaseStep,
    Impact,
    Load,
    RandomBase,
    Release,
    RootAcceleration,
    Service,
    TipForce,
)
from core.project.structure import Level, Structure, Support
from core.units.sentence import inside

_LAST_STEP = re.compile(r"(\.[^.\[\]]+|\[[^\]]*\])$")


@dataclass(frozen=True)
class Input:
    """An input a result leans on, with its standing; `path` as in problems."""

    path: str
    label: str
    status: Status
    source: str
    tolerance: float | None


Inputs = tuple[Input, ...]


def origin_of(origins: dict[str, Origin], path: str) -> Origin:
    """The origin given for a path or for the nearest whole it belongs to; assumed where there is none."""
    while path:
        if path in origins:
            return origins[path]
        path = _LAST_STEP.sub("", path) if _LAST_STEP.search(path) else ""
    return Origin("assumed")


def inputs(project: Project, candidate_id: str | None = None) -> Inputs:
    """Every input that carries an origin and that the candidate's prediction uses.

    Places and sizes of patches are decisions, not inputs, and are not listed.
    """
    candidate = project.candidate(candidate_id)
    names = tuple(sorted({patch.package for patch in candidate.patches}))
    bonds = tuple(sorted({patch.bond.material for patch in candidate.patches}))
    return (
        *_structure_inputs(project.structure, project.origins),
        *_material_inputs(project.structure, project.materials, project.packages, _one(names), _one(bonds)),
        *_package_inputs(project.packages, _one(names), project.origins),
        *_candidate_inputs(candidate, project.origins),
        *_service_inputs(project.service, project.origins),
    )


def with_origin(project: Project, path: str, status: Status, source: str) -> Project:
    """The project with the standing of one input changed, in its constant or among the origins."""
    try:
        value = value_at(project, path)
    except LookupError:
        value = None
    if isinstance(value, Constant):
        return replaced_at(project, path, replace(value, status=status, source=source))
    origin = replace(origin_of(project.origins, path), status=status, source=source)
    return replace(project, origins={**project.origins, path: origin})


def assumed(project: Project, candidate_id: str | None = None) -> tuple[str, ...]:
    """Labels of the assumed inputs the candidate's prediction leans on."""
    return tuple(entry.label for entry in inputs(project, candidate_id) if entry.status == "assumed")


def strongest_first(project: Project, candidate_id: str, effects: Mapping[str, float]) -> Inputs:
    """The assumed inputs of a candidate by falling effect, given by path; those without one come last."""
    rows = [row for row in inputs(project, candidate_id) if row.status == "assumed"]
    return tuple(sorted(rows, key=lambda row: -effects.get(row.path, -1.0)))


def gathered(labels: tuple[str, ...]) -> tuple[str, ...]:
    """Labels with the constants of one material in one line: "Steel: Young's modulus, density"."""
    lines: dict[str, list[str]] = {}
    for label in labels:
        constant, _, owner = label.partition(" of ")
        known = constant in _CONSTANTS
        lines.setdefault(owner if known else label, []).extend([constant] if known else [])
    return tuple(f"{owner}: {_listed(parts)}" if parts else owner for owner, parts in lines.items())


CERAMIC_CONSTANTS = ("d31_c_n", "eps33t_relative", "s11e_1_pa", "poisson_ratio", "density_kg_m3", "tan_delta", "pyroelectric_c_m2_k")
_SHEAR = ("shear_modulus_pa", "shear_modulus_through_pa")
_ELASTIC_CONSTANTS = ("youngs_modulus_pa", "density_kg_m3", "poisson_ratio", "loss_factor")
_CONSTANTS = {FIELDS[name].label for name in (*_ELASTIC_CONSTANTS, *CERAMIC_CONSTANTS)}


def _label(key: str) -> str:
    return FIELDS[key].label


def _listed(parts: list[str]) -> str:
    first, *rest = parts
    return ", ".join([first, *map(inside, rest)])


_names_seen: dict[tuple[str, ...], tuple[str, ...]] = {}


def _one(names: tuple[str, ...]) -> tuple[str, ...]:
    """One object per set of names, so that the memo by identity finds it again."""
    if len(_names_seen) > 64:
        _names_seen.clear()
    return _names_seen.setdefault(names, names)


def _looked_up(origins: dict[str, Origin], rows: list[tuple[str, str]]) -> Inputs:
    found = []
    for path, label in rows:
        origin = origin_of(origins, path)
        found.append(Input(path, label, origin.status, origin.source, origin.tolerance))
    return tuple(found)


def _constant(path: str, label: str, value: Constant) -> Input:
    return Input(path, label, value.status, value.source, value.tolerance)


@by_identity
def _structure_inputs(structure: Structure, origins: dict[str, Origin]) -> Inputs:
    rows = [(path, _label(path)) for path in ("structure.stations_m", "structure.width_m")]
    for i, layer in enumerate(structure.layers):
        rows.append((f"structure.layers[{i}].thickness_m", f"{_label('layers.thickness_m')} of {layer.name}"))
        for j, piece in enumerate(layer.pieces):
            if piece.width_m is not None:
                label = f"{_label('pieces.width_m')} of {piece.material} in {layer.name}"
                rows.append((f"structure.layers[{i}].pieces[{j}].width_m", label))
    rows += [(f"structure.cut_outs[{i}]", f"Cut-out {i + 1}") for i in range(len(structure.cut_outs))]
    rows += _support_rows("structure.root", "root", structure.root)
    rows += _support_rows("structure.tip", "tip", structure.tip)
    for i, mass in enumerate(structure.masses):
        rows.append((f"structure.masses[{i}].mass_kg", f"{_label('masses.mass_kg')} of {mass.name}"))
        for name in ("rotary_inertia_kg_m2", "roll_inertia_kg_m2", "ahead_m", "y_m"):
            if getattr(mass, name):
                rows.append((f"structure.masses[{i}].{name}", f"{_label(f'masses.{name}')} of {mass.name}"))
    for i, spring in enumerate(structure.springs):
        for field, value in (("k_t_n_m", spring.k_t_n_m), ("k_r_nm_rad", spring.k_r_nm_rad)):
            if value:
                rows.append((f"structure.springs[{i}].{field}", f"{_label(field)} of {spring.name}"))
    if not structure.damping.from_loss_factors:
        rows.append(("structure.damping.ratios", _label("damping.ratios")))
    return _looked_up(origins, rows)


def _support_rows(path: str, end: str, support: Support) -> list[tuple[str, str]]:
    if support.kind == "free":
        return []
    if support.kind != "elastic":
        return [(f"{path}.kind", f"Support at the {end} ({support.kind}, taken as rigid)")]
    return [
        (f"{path}.k_t_n_m", f"{_label('k_t_n_m')} of the {end}"),
        (f"{path}.k_r_nm_rad", f"{_label('k_r_nm_rad')} of the {end}"),
    ]


@by_identity
def _material_inputs(
    structure: Structure,
    materials: tuple[Material, ...],
    packages: tuple[Package, ...],
    package_names: tuple[str, ...],
    bond_materials: tuple[str, ...],
) -> Inputs:
    used = {piece.material for layer in structure.layers for piece in layer.pieces} | set(bond_materials)
    for package in packages:
        if package.name in package_names:
            used |= {package.lower_skin.material, package.upper_skin.material}
    found: list[Input] = []
    for material in materials:
        if material.name in used:
            found += _elastic(material, structure.level, structure.damping.from_loss_factors)
    return tuple(found)


def _elastic(material: Material, level: Level, with_loss: bool) -> list[Input]:
    path, name = f"materials[{material.name}]", material.name
    found = [
        _constant(f"{path}.youngs_modulus_pa", f"{_label('youngs_modulus_pa')} of {name}", material.youngs_modulus_pa),
        _constant(f"{path}.density_kg_m3", f"{_label('density_kg_m3')} of {name}", material.density_kg_m3),
    ]
    if level != "plain":
        found.append(_constant(f"{path}.poisson_ratio", f"{_label('poisson_ratio')} of {name}", material.poisson_ratio))
        also = _SHEAR if level in ("shear", "across") else ()
        for key in ("youngs_modulus_across_pa", *also):
            constant = getattr(material, key)
            if constant is not None:
                found.append(_constant(f"{path}.{key}", f"{_label(key)} of {name}", constant))
    if with_loss:
        found.append(_constant(f"{path}.loss_factor", f"{_label('loss_factor')} of {name}", material.loss_factor))
    return found


@by_identity
def _package_inputs(
    packages: tuple[Package, ...], names: tuple[str, ...], origins: dict[str, Origin]
) -> Inputs:
    found: list[Input] = []
    for package in packages:
        if package.name not in names:
            continue
        found += _looked_up(origins, [(f"packages[{package.name}]", f"Build-up of package {package.name}")])
        path, ceramic = f"packages[{package.name}].ceramic", package.ceramic
        for field in CERAMIC_CONSTANTS:
            found.append(
                _constant(f"{path}.{field}", f"{_label(field)} of {ceramic.name}", getattr(ceramic, field))
            )
    unique = {entry.label: entry for entry in found}
    return tuple(unique.values())


def _candidate_inputs(candidate: Candidate, origins: dict[str, Origin]) -> Inputs:
    rows = []
    base = f"candidates[{candidate.id}]"
    for patch in candidate.patches:
        path = f"{base}.patches[{patch.id}].bond"
        rows.append((f"{path}.thickness_m", f"{_label('bond.thickness_m')} of {patch.id}"))
        label = (
            f"{_label('bond.rigid' if patch.bond.rigid else 'bond.shear_modulus_pa')} of {patch.id}"
        )
        rows.append((f"{path}.rigid" if patch.bond.rigid else f"{path}.shear_modulus_pa", label))
    for group in candidate.groups:
        path = f"{base}.groups[{group.id}]"
        if group.circuit.tuning is None:
            for name in group.circuit.values:
                rows.append((f"{path}.circuit.values.{name}", label_of(f"circuit.values.{name}") + f" of group {group.id}"))
        if group.instrument is not None:
            rows.append((f"{path}.instrument.resistance_ohm", f"{_label('instrument.resistance_ohm')} on group {group.id}"))
            rows.append((f"{path}.instrument.capacitance_f", f"{_label('instrument.capacitance_f')} on group {group.id}"))
        if group.bleed_ohm is not None:
            rows.append((f"{path}.bleed_ohm", f"{_label('groups.bleed_ohm')} on group {group.id}"))
    return _looked_up(origins, rows)


@by_identity
def _service_inputs(service: Service, origins: dict[str, Origin]) -> Inputs:
    active = service.active_load if service.active_load < len(service.loads) else 0
    load = service.loads[active]
    rows = [(f"service.loads[{active}].{_size_field(load)}", f"Load: {load.name}")]
    rows += [
        (f"service.static_forces[{i}].force_n", f"Static force: {force.name}")
        for i, force in enumerate(service.static_forces)
    ]
    rows += [
        ("service.cold_c", "Cold end of the service range"),
        ("service.hot_c", "Hot end of the service range"),
    ]
    rows += [
        (f"service.{key}", label_of(f"service.{key}"))
        for key in ("ramp_span_k", "ramp_rate_k_s")
        if getattr(service, key) is not None
    ]
    return _looked_up(origins, rows)


def _size_field(load: Load) -> str:
    return _SIZE_FIELDS[type(load)]


_SIZE_FIELDS: dict[type[Load], str] = {
    TipForce: "force_n",
    RootAcceleration: "level_m_s2",
    Release: "deflection_m",
    Impact: "impulse_n_s",
    BaseShock: "peak_m_s2",
    RandomBase: "spectrum_hz_m2_s3",
    BaseStep: "level_m_s2",
}
"""The field that says how large a load is."""
