"""Problems and cautions of the patches of one candidate: size, and what the verdict says of their place."""

from __future__ import annotations

from collections.abc import Iterator

from core.project.candidate import Candidate
from core.project.checking import Found, number, tell, unique
from core.project.fields import FIELDS
from core.project.layup_checks import check_baseless
from core.project.material import Material
from core.project.material_checks import check_bond
from core.project.patch import Package, Patch
from core.project.placement.lead import lead_cautions
from core.project.placement.verdict import Touch, verdicts
from core.project.ranges import ACROSS, PLAN
from core.project.structure import Structure


def patch_problems(
    found: Found,
    candidate: Candidate,
    structure: Structure,
    materials: tuple[Material, ...],
    packages: tuple[Package, ...],
    stations_fine: bool,
) -> None:
    """Everything wrong with the patches of a candidate."""
    path = f"candidates[{candidate.id}].patches"
    unique(found, path, "patch", (p.id for p in candidate.patches))
    by_name = {p.name for p in packages}
    names = {m.name for m in materials}
    placed: list[Patch] = []
    for patch in candidate.patches:
        here = f"{path}[{patch.id}]"
        if patch.package not in by_name:
            tell(
                found,
                f"{here}.package",
                f'Patch {patch.id} names the package "{patch.package}", which the '
                "project does not hold. Choose one of the list or add it.",
            )
        check_bond(found, f"{here}.bond", f"The bond of patch {patch.id}", patch.bond, names)
        placed += [patch] if _size(found, here, patch) and stations_fine else []
    if stations_fine:
        check_baseless(found, candidate, structure)
    for patch, touch in _told(structure, packages, candidate):
        if patch in placed and touch.severity == "error":
            tell(found, f"{path}[{patch.id}].{touch.field}", touch.sentence)


def placement_cautions(
    found: Found, candidate: Candidate, structure: Structure, packages: tuple[Package, ...]
) -> None:
    """What of a candidate's placement can be predicted and should not stay: margins that hang over, leads
    that find no room."""
    path = f"candidates[{candidate.id}].patches"
    for patch, touch in _told(structure, packages, candidate):
        if touch.severity == "caution":
            tell(found, f"{path}[{patch.id}].{touch.field}", touch.sentence)
    for patch, _, words in lead_cautions(structure, packages, candidate):
        tell(found, f"{path}[{patch.id}].lead_exit", words)


def _told(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate
) -> Iterator[tuple[Patch, Touch]]:
    """Every touch once: that of two packages with the later patch."""
    before: set[str] = set()
    for patch, touched in zip(candidate.patches, verdicts(structure, packages, candidate), strict=True):
        for touch in touched:
            if touch.obstacle.kind != "package" or touch.obstacle.path in before:
                yield patch, touch
        before.add(patch.id)


def _size(found: Found, here: str, patch: Patch) -> bool:
    name = f"Patch {patch.id}"
    return all(
        [
            number(
                found,
                f"{here}.length_m",
                f"{name}: length",
                patch.length_m,
                PLAN,
                "Type the ceramic's length.",
            ),
            number(
                found, f"{here}.width_m", f"{name}: width", patch.width_m, PLAN, "Type the ceramic's width."
            ),
            number(found, f"{here}.x_start_m", f"{name}: start", patch.x_start_m, FIELDS["patches.x_start_m"].range),
            number(found, f"{here}.y_m", f"{name}: offset across", patch.y_m, ACROSS),
            number(
                found, f"{here}.angle_rad", f"{name}: angle", patch.angle_rad, FIELDS["patches.angle_rad"].range
            ),
        ]
    )
