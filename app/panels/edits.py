"""Changes of patches, groups and loads that touch more than one value; pure, old project in, new out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

from app.panels.library_edits import with_material_at_hand, with_package_at_hand
from app.panels.paths import replaced_at, value_at
from core.circuit.registry import CIRCUITS
from core.project import edit
from core.project.absorber_edits import add_absorber
from core.project.candidate import Circuit, Group, Tuning
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.free_place import free_start, with_free_exit
from core.project.served import served_mode
from core.project.service import (
    BaseShock,
    BaseStep,
    Impact,
    Load,
    RandomBase,
    Release,
    RootAcceleration,
    TipForce,
)
from core.project.structure import Support
from core.study.tolerance.uncertain import clamp_stiffness

if TYPE_CHECKING:
    from core.predict.prediction import Prediction

replace = msgspec.structs.replace

GOOD_CLAMP = 50.0
"""k_r L / EI of a good clamp: mode 1 of a strip falls by 4 %."""


def patch_path(project: Project, patch_id: str) -> str:
    """Path of a patch of the active candidate."""
    return f"candidates[{project.active}].patches[{patch_id}]"


def group_path(project: Project, group_id: str) -> str:
    """Path of a group of the active candidate."""
    return f"candidates[{project.active}].groups[{group_id}]"


def absorber_path(project: Project, absorber_id: str) -> str:
    """Path of a tuned mass of the active candidate."""
    return f"candidates[{project.active}].absorbers[{absorber_id}]"


# -- tuned masses ----------------------------------------------------------------------------------

SHARE_OF_PART = 0.02
"""A new tuned mass weighs so much of the bare part."""
LEAST_MASS_KG = 1e-3


def with_new_absorber(
    project: Project, prediction: Prediction | None, x_m: float | None = None
) -> tuple[Project, str]:
    """A tuned mass more, at `x_m` or where the mode that is served moves most; and its id."""
    mass, place = 10 * LEAST_MASS_KG, project.structure.span_m
    if prediction is not None:
        mass = max(float(f"{SHARE_OF_PART * prediction.bare_mass_kg:.1g}"), LEAST_MASS_KG)
        shapes, mode = prediction.shapes, served_mode(project, project.candidate()) - 1
        if mode < len(shapes.deflection):
            place = round(float(shapes.x_m[np.abs(shapes.deflection[mode]).argmax()]), 4)
    return add_absorber(project, project.active, place if x_m is None else x_m, mass)


# -- patches -------------------------------------------------------------------------------------


def with_package_chosen(project: Project, path: str, name: str) -> Project:
    """The patch made from another package, the library's as well: its length, width and bond are that package's."""
    project = with_package_at_hand(project, name)
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
    """A patch more at the first free place, in a group of its own; and its id."""
    added = edit.add_patch(project, project.active)
    return added, added.candidate().patches[-1].id


def with_patch_copied(project: Project, patch_id: str) -> tuple[Project, str]:
    """A copy of a patch at the first free place (beside it where there is none), with a circuit like its
    own; and its id."""
    candidate = project.candidate()
    old: Patch = value_at(project, patch_path(project, patch_id))
    new_id = edit.next_patch_id(candidate)
    patch = replace(old, id=new_id, x_start_m=old.x_end_m)
    lies = replace(patch, x_start_m=free_start(project, candidate, patch) or old.x_end_m)
    copied = edit.with_patch(project, project.active, with_free_exit(project, candidate, lies))
    model, own = group_of(project, patch_id), group_of(copied, new_id)
    if model is not None and own is not None:
        copied = edit.with_group(copied, copied.active, replace(own, circuit=model.circuit))
    return copied, new_id


def with_material_chosen(project: Project, path: str, name: str) -> Project:
    """Another material in that place, the library's as well."""
    return replaced_at(with_material_at_hand(project, name), path, name)


# -- supports ------------------------------------------------------------------------------------


def with_support_kind(project: Project, path: str, kind: str) -> Project:
    """The support of another kind; one made elastic for the first time gets stiffnesses to start from.

    These are 50 EI/L against turning (a good clamp; mode 1 of a strip falls by 4 %) and
    10 000 EI/L^3 sideways, with EI at that end.
    """
    place = path.rpartition(".")[0]
    support: Support = value_at(project, place)
    new = replace(support, kind=kind)
    if kind == "elastic" and support.k_t_n_m == 0.0 and support.k_r_nm_rad == 0.0:
        new = _good_clamp(project, place, new)
    return replaced_at(project, place, new)


def with_good_clamp(project: Project, place: str) -> Project:
    """The elastic support at `place` with the stiffnesses that a new one starts from, for the part as it is now."""
    return replaced_at(project, place, _good_clamp(project, place, value_at(project, place)))


def clamping(project: Project, place: str) -> float:
    """k_r L / EI of the support at `place`, with EI at that end: how far it is a clamp (0: a hinge)."""
    support: Support = value_at(project, place)
    return support.k_r_nm_rad / _unit(project, place)


def _good_clamp(project: Project, place: str, support: Support) -> Support:
    unit, span = _unit(project, place), project.structure.span_m
    k_r, k_t = _rounded(GOOD_CLAMP * unit), _rounded(1e4 * unit / span**2)
    return replace(support, k_r_nm_rad=k_r, k_t_n_m=k_t)


def _unit(project: Project, place: str) -> float:
    """EI/L of the structure at the end whose support is at `place`, N m/rad."""
    return float(clamp_stiffness(project, "root" if place.endswith("root") else "tip", 1.0))


def _rounded(value: float) -> float:
    """The value to three figures: a start, not a finding."""
    return float(f"{value:.3g}")


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
    members = tuple(replace(m, polarity=-m.polarity) if m.patch == patch_id else m for m in group.members)
    return edit.with_group(project, project.active, replace(group, members=members))


def tuning_for(kind: str, old: Circuit) -> Tuning | None:
    """How a circuit just made that kind follows the model; None where there is nothing to tune.

    The mode and goal stay. A resonant circuit starts at the optimum of the model: its closed form
    knows no dielectric loss, and 2 % of that costs it a third of the damping.
    """
    if kind not in CIRCUITS or CIRCUITS[kind].closed_form is None:
        return None
    tuning = old.tuning or Tuning()
    was_resonant = old.kind in CIRCUITS and CIRCUITS[old.kind].resonates
    if CIRCUITS[kind].resonates and not (was_resonant and old.tuning is not None):
        return replace(tuning, rule="optimum")
    return tuning


def with_tuning(project: Project, path: str, follows: bool, in_effect: dict[str, float]) -> Project:
    """The circuit following the model, or fixed at the values now in effect."""
    circuit: Circuit = value_at(project, path)
    if follows:
        return replaced_at(project, path, replace(circuit, tuning=tuning_for(circuit.kind, circuit)))
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
    if kind == "base shock":
        return BaseShock(name, 100.0, 0.011, band_hz)
    if kind == "random base":
        return RandomBase(name, tuple((f, 1.0) for f in band_hz))
    if kind == "base step":
        return BaseStep(name, 1.0, band_hz)
    return TipForce(name, 1.0, band_hz)


def load_kind(load: Load) -> str:
    """The load's kind by the word of the project file."""
    return str(load.__struct_config__.tag)
