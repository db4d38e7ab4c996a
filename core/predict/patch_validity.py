"""Remarks on each patch: its bond, its size against the structure, where it hangs over."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from core.piezo.layout import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.leads import Leads
from core.predict.prediction import Remark
from core.project.article import size_remark
from core.project.model import Candidate, Patch, Structure
from core.project.on_part import overhang
from core.project.plan import (
    Polygon,
    faces,
    keep_out_outline,
    lead_outline,
    overlap_m,
    package_outline,
    profile_at,
)

THICK_SHARE = 1 / 3
"""Package over structure thickness beyond which shear through the patch matters."""
_ALONG = np.linspace(0.0, 1.0, 41)
LAG_SHARE = 0.1
"""Shear-lag length over patch length beyond which the bond's stiffness decides."""


def patch_remarks(beam: CoupledBeam, candidate: Candidate, structure: Structure) -> Iterator[Remark]:
    """Remarks on every patch, each once; of a pair the first ceramic that has one."""
    by_id = {p.id: p for p in candidate.patches}
    seen: set[tuple[str, str]] = set()
    for plate in beam.plates:
        patch = by_id[plate.patch]
        for remark in (
            *_of_patch(beam, plate, patch, structure),
            *_of_lead_room(beam, plate, candidate, structure),
        ):
            if (plate.patch, remark.code) not in seen:
                seen.add((plate.patch, remark.code))
                yield remark


def _of_patch(beam: CoupledBeam, plate: CeramicPlate, patch: Patch, structure: Structure) -> Iterator[Remark]:
    special = size_remark(patch, plate.package)
    if special:
        yield Remark("special size", special)
    yield from _of_bond(plate, patch)
    yield from _of_size(beam, plate, patch, structure)
    yield from _of_place(plate, patch)
    yield from _of_lead(plate, patch, structure)


def _of_place(plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    """What the offset and the turn of a patch would change, as the model takes neither."""
    if patch.y_m != 0:
        yield Remark(
            "off centre",
            f"{patch.id} lies {abs(patch.y_m) * 1e3:.3g} mm off the centreline and is calculated on it: its "
            "coupling to bending is the same there; that it also twists the part is not modelled.",
            "note",
            plate.x_a_m,
        )
    if patch.angle_rad != 0:
        turn = abs(math.remainder(patch.angle_rad, math.pi))
        share = math.cos(turn) ** 2
        yield Remark(
            "turned",
            f"{patch.id} is turned by {math.degrees(turn):.3g}° and is calculated straight: strain along it is "
            f"about cos² of that, {share:.3g} of what is shown, so K² and the damping it gives come out up "
            f"to {100 * (1 - share**2):.2g} % too high for a narrow ceramic.",
            "note" if share > 0.95 else "caution",
            plate.x_a_m,
        )


def _of_lead(plate: CeramicPlate, patch: Patch, structure: Structure) -> Iterator[Remark]:
    """A lead that has to bend over a zone where nothing may lie."""
    stub = lead_outline(patch, plate.package)
    for zone in structure.keep_outs:
        if faces(zone.face) & faces(patch.face) and overlap_m(stub, keep_out_outline(zone)) > 1e-6:
            yield Remark(
                "lead over keep-out",
                f'The lead of {patch.id} leaves {patch.lead_exit} over the keep-out "{zone.name}" within its '
                f"bend radius of {plate.package.lead_bend_radius_m * 1e3:.3g} mm. Choose another exit.",
                "caution",
                plate.x_a_m,
            )


def _of_lead_room(
    beam: CoupledBeam, plate: CeramicPlate, candidate: Candidate, structure: Structure
) -> Iterator[Remark]:
    """A lead that has to bend over a long edge or an opening of the part, or over another package."""
    packages = {p.patch: p.package for p in beam.plates}
    patch = next(p for p in candidate.patches if p.id == plate.patch)
    stub, radius = lead_outline(patch, plate.package), plate.package.lead_bend_radius_m * 1e3
    over = [
        f"the package of {other.id}"
        for other in candidate.patches
        if other.id in packages and other.id != patch.id and faces(other.face) & faces(patch.face)
        and overlap_m(stub, package_outline(other, packages[other.id])) > 1e-6
    ]  # fmt: skip
    if _beside_part(structure, stub):
        over.append("an edge or an opening of the part")
    for what in over:
        yield Remark(
            "lead over package" if what.startswith("the") else "lead over edge",
            f"The lead of {patch.id} leaves {patch.lead_exit} over {what} within its bend radius of "
            f"{radius:.3g} mm. Choose another exit.",
            "caution",
            plate.x_a_m,
        )


def _beside_part(structure: Structure, corners: Polygon) -> bool:
    """Whether a strip between the ends of the span lies beside the part."""
    if structure.outline is not None:
        return overhang(structure.outline, corners, structure.span_m) is not None
    inside = [(x, y) for x, y in corners if 0.0 <= x <= structure.span_m]
    return any(abs(y) > profile_at(structure.width_m, structure.stations_m, x) / 2 + 1e-6 for x, y in inside)


def _of_bond(plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    length = plate.x_b_m - plate.x_a_m
    if plate.x_b_eff_m <= plate.x_a_eff_m:
        yield Remark(
            "no working length",
            f"The bond of {patch.id} is too soft or the patch too short: strain needs "
            f"{max(plate.shear_lag_m) * 1e3:.3g} mm at each end to build up and the ceramic is "
            f"{length * 1e3:.3g} mm long, so nothing of it works.",
            "error",
            plate.x_a_m,
        )
    elif max(plate.shear_lag_m) > LAG_SHARE * length:
        yield Remark(
            "shear lag",
            f"The bond of {patch.id} needs {max(plate.shear_lag_m) * 1e3:.3g} mm at an end to build up "
            f"strain, over a tenth of its {length * 1e3:.3g} mm: K² leans on the bond's stiffness.",
            "caution",
            plate.x_a_m,
        )
    if patch.bond.rigid:
        yield Remark(
            "rigid bond",
            f"{patch.id} is taken as rigidly bonded: K² comes out 10 to 12 % too high.",
            "note",
        )


def _of_size(beam: CoupledBeam, plate: CeramicPlate, patch: Patch, structure: Structure) -> Iterator[Remark]:
    spec, package = beam.spec, plate.package
    x_a, x_b = max(plate.x_a_m, 0.0), min(plate.x_b_m, spec.span_m)
    x = x_a + (x_b - x_a) * _ALONG
    thin = float(spec.total_thickness_m(x).min())
    package_m = (
        patch.bond.thickness_m
        + package.lower_skin.thickness_m
        + plate.thickness_m
        + package.upper_skin.thickness_m
    )
    if package_m > THICK_SHARE * thin:
        yield Remark(
            "thick patch",
            f"{patch.id} is {package_m * 1e3:.3g} mm thick on a structure of {thin * 1e3:.3g} mm: "
            "beyond a third, shear through the patch is no longer small.",
            "caution",
            plate.x_a_m,
        )
    reach = 0.5 * plate.width_m + abs(patch.y_m)
    excess = reach - 0.5 * np.minimum(spec.width.at(x), spec.width.at(x, side="left"))
    # With a drawing's outline the true edge is checked, not the model's.
    if structure.outline is None and excess.max() > 1e-9:
        at = float(x[int(excess.argmax())])
        yield Remark(
            "wide patch",
            f"The ceramic of {patch.id} overhangs the net width by {excess.max() * 1e3:.3g} mm at "
            f"{at * 1e3:.4g} mm: the part that hangs over is counted as if it were bonded.",
            "caution",
            at,
        )
    over = max(package.margin_m - plate.x_a_m, plate.x_b_m + package.margin_m - spec.span_m)
    if over > 1e-9:
        yield Remark(
            "margin outside",
            f"The margin of {patch.id} hangs {over * 1e3:.3g} mm past the end of the span.",
            "caution",
            plate.x_a_m,
        )


def open_leads(candidate: Candidate, find_leads: Callable[[], Leads | None]) -> Iterator[Remark]:
    """Groups left open: never without a caution, and what it means for touching them."""
    left_open = [group for group in candidate.groups if group.circuit.kind == "open" and group.members]
    leads = find_leads() if left_open else None
    if leads is None:
        return
    for group in left_open:
        own = leads.of(f"group {group.id}")
        if own is not None:
            yield Remark(
                "open leads",
                f"The leads of group {group.id} are open and give up to {own.up_to} "
                f"({own.largest.cause}). {own.touch}",
                "note" if own.is_safe else "caution",
            )
