"""Problems and cautions of the patches of one candidate: size, place, keep-outs, overlaps."""

from __future__ import annotations

import math
from itertools import combinations

from core import units
from core.project.checking import Found, mm, number, tell, unique
from core.project.fields import ACROSS, FIELDS, PLAN
from core.project.material_checks import check_bond
from core.project.model import Candidate, KeepOut, Material, Outline, Package, Patch, Structure
from core.project.on_part import overhang
from core.project.plan import (
    faces,
    keep_out_outline,
    overlap_m,
    package_margins,
    package_outline,
)

TOUCHING_M = 1e-9
"""Packages that meet, or meet a keep-out, to the rounding of a millimetre value are apart."""


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
    by_name = {p.name: p for p in packages}
    names = {m.name for m in materials}
    placed: list[tuple[Patch, Package]] = []
    for patch in candidate.patches:
        here = f"{path}[{patch.id}]"
        package = by_name.get(patch.package)
        if package is None:
            tell(
                found,
                f"{here}.package",
                f'Patch {patch.id} names the package "{patch.package}", which the '
                "project does not hold. Choose one of the list or add it.",
            )
        check_bond(found, f"{here}.bond", f"The bond of patch {patch.id}", patch.bond, names)
        if _size(found, here, patch) and stations_fine and _on_span(found, here, patch, structure.span_m):
            placed += [(patch, package)] if package is not None and _finite_margins(package) else []
    check_keep_outs(found, path, placed, structure.keep_outs)
    check_overlaps(found, path, placed)
    if structure.outline is not None:
        check_on_part(found, path, placed, structure.outline, structure.span_m)


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


def _on_span(found: Found, here: str, patch: Patch, span_m: float) -> bool:
    if patch.x_start_m < -TOUCHING_M:
        tell(
            found,
            f"{here}.x_start_m",
            f"Patch {patch.id} starts at {mm(patch.x_start_m)}, before the support at 0.0 mm. "
            "Move it towards the tip.",
        )
        return False
    if patch.x_end_m > span_m + TOUCHING_M:
        tell(
            found,
            f"{here}.x_start_m",
            f"Patch {patch.id} ends at {mm(patch.x_end_m)}, past the tip at {mm(span_m)}. "
            "Move it or shorten it.",
        )
        return False
    return True


def _finite_margins(package: Package) -> bool:
    return all(math.isfinite(m) for m in package_margins(package))


def check_keep_outs(
    found: Found, path: str, placed: list[tuple[Patch, Package]], zones: tuple[KeepOut, ...]
) -> None:
    for patch, package in placed:
        outline = package_outline(patch, package)
        for zone in zones:
            if not (faces(zone.face) & faces(patch.face)) or not _drawable(zone):
                continue
            depth = overlap_m(outline, keep_out_outline(zone))
            if depth > TOUCHING_M:
                tell(
                    found,
                    f"{path}[{patch.id}].x_start_m",
                    f'The package of patch {patch.id} lies {_depth(depth)} over the keep-out "{zone.name}" '
                    f"({mm(zone.x_start_m)} to {mm(zone.x_end_m)}). Move it or choose the other face.",
                )


def _drawable(zone: KeepOut) -> bool:
    if zone.polygon_m is not None:
        return len(zone.polygon_m) >= 3 and all(math.isfinite(v) for corner in zone.polygon_m for v in corner)
    return zone.x_end_m > zone.x_start_m


def check_overlaps(found: Found, path: str, placed: list[tuple[Patch, Package]]) -> None:
    for (one, one_package), (two, two_package) in combinations(placed, 2):
        shared = faces(one.face) & faces(two.face)
        if not shared:
            continue
        depth = overlap_m(package_outline(one, one_package), package_outline(two, two_package))
        if depth > TOUCHING_M:
            face = "both faces" if len(shared) == 2 else f"the {next(iter(shared))} face"
            tell(
                found,
                f"{path}[{two.id}].x_start_m",
                f"The packages of patches {one.id} and {two.id} overlap by {_depth(depth)} on {face}. "
                "Move one of them or put it on the other face.",
            )


def check_on_part(
    found: Found, path: str, placed: list[tuple[Patch, Package]], outline: Outline, span_m: float
) -> None:
    for patch, package in placed:
        beside = overhang(outline, package_outline(patch, package), span_m)
        if beside is not None:
            where = "lies over an opening of" if beside.in_hole else "hangs over the edge of"
            tell(
                found,
                f"{path}[{patch.id}].{'y_m' if patch.y_m else 'x_start_m'}",
                f"The package of patch {patch.id} {where} the part by {_depth(round(beside.depth_m, 4))} "
                f"at x = {mm(round(beside.x_m, 4))}. Move or turn it, or choose a smaller one.",
            )


def _depth(depth_m: float) -> str:
    return mm(depth_m) if depth_m >= 5e-5 else f"{units.show(depth_m, 'um', significant=2)} µm"
