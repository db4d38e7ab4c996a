"""Remarks on each patch: its bond, its size against the structure, where it lies and its lead leaves."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from core.piezo.coupled_beam import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.prediction import Remark
from core.predict.solved import Solved
from core.project.article import size_remark
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.lead import lead_cautions
from core.project.placement.verdict import verdicts
from core.units import show_with_unit
from core.units.words import share as share_words
from core.units.words import size

THICK_SHARE = 1 / 3
"""Package over structure thickness beyond which shear through the patch matters."""
_ALONG = np.linspace(0.0, 1.0, 41)
OVER = {
    "root": "margin outside",
    "tip": "margin outside",
    "edge": "wide patch",
    "hole": "over a hole",
    "keep-out": "over a keep-out",
    "package": "over a package",
}
"""Code of the remark on a package that lies over each kind of thing."""
LEAD_OVER = {"root": "support", "tip": "support", "hole": "edge"}
LAG_SHARE = 0.1
"""Shear-lag length over patch length beyond which the bond's stiffness decides."""


def patch_remarks(beam: CoupledBeam, candidate: Candidate) -> Iterator[Remark]:
    """Remarks on every patch, each once; of a pair the first ceramic that has one."""
    by_id = {p.id: p for p in candidate.patches}
    seen: set[tuple[str, str]] = set()
    for plate in beam.plates:
        patch = by_id[plate.patch]
        for remark in _of_patch(beam, plate, patch):
            if (plate.patch, remark.code) not in seen:
                seen.add((plate.patch, remark.code))
                yield remark


def placement_remarks(project: Project, candidate: Candidate) -> Iterator[Remark]:
    """What the verdict says of where the packages lie and their leads leave: for the designer to settle
    before anything goes to a shop."""
    yield from touch_remarks(project, candidate)
    structure, packages = project.structure, project.packages
    for patch, run, words in lead_cautions(structure, packages, candidate):
        kind = run.kind or ""
        code = f"lead over {LEAD_OVER.get(kind, kind)}"
        yield Remark(code, words, "caution", patch.x_start_m, for_designer=True)


def touch_remarks(project: Project, candidate: Candidate) -> Iterator[Remark]:
    """What the packages lie over."""
    for touched in verdicts(project.structure, project.packages, candidate):
        for touch in touched:
            code = OVER[touch.obstacle.kind]
            yield Remark(code, touch.sentence, touch.severity, touch.x_m[0], for_designer=True)


def _of_patch(beam: CoupledBeam, plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    special = size_remark(patch, plate.package)
    if special:
        yield Remark("special size", special)
    yield from _of_bond(plate, patch)
    yield from _of_size(beam, plate, patch)
    yield from _of_place(beam, plate, patch)


def _of_place(beam: CoupledBeam, plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    """What the offset and the turn of a patch would change where they are left out."""
    if beam.ceramics.is_askew:
        return
    cure = "the level 'across' takes that" if beam.spec.holds_roll else "nothing keeps this part from rolling"
    if patch.y_m != 0:
        yield Remark(
            "off centre",
            f"{patch.id} lies {size(abs(patch.y_m))} off the centreline and is calculated on it: its "
            f"coupling to bending is about the same there, but it also twists the part; {cure}.",
            "note",
            plate.x_a_m,
        )
    if patch.angle_rad != 0:
        turn = abs(math.remainder(patch.angle_rad, math.pi))
        share = math.cos(turn) ** 2
        yield Remark(
            "turned",
            f"{patch.id} is turned by {show_with_unit(turn, 'deg')} and is calculated straight: strain along it is "
            f"about cos² of that, {share_words(share)} of what is shown, so that of K² and the damping it gives as little as "
            f"{share_words(share**2)} is there with a narrow ceramic; {cure}.",
            "note" if share > 0.95 else "caution",
            plate.x_a_m,
        )


def _of_bond(plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    length = plate.x_b_m - plate.x_a_m
    if plate.x_b_eff_m <= plate.x_a_eff_m:
        yield Remark(
            "no working length",
            f"The bond of {patch.id} is too soft or the patch too short: strain needs "
            f"{size(max(plate.shear_lag_m))} at each end to build up and the ceramic is "
            f"{size(length)} long, so nothing of it works.",
            "error",
            plate.x_a_m,
        )
    elif max(plate.shear_lag_m) > LAG_SHARE * length:
        yield Remark(
            "shear lag",
            f"The bond of {patch.id} needs {size(max(plate.shear_lag_m))} at an end to build up "
            f"strain, over a tenth of its {size(length)}: K² leans on the bond's stiffness.",
            "caution",
            plate.x_a_m,
        )
    if patch.bond.rigid:
        yield Remark(
            "rigid bond",
            f"{patch.id} is taken as rigidly bonded: K² comes out 10 to 12 % too high.",
            "note",
        )


def _of_size(beam: CoupledBeam, plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
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
    if spec.has_lay_up and package_m > THICK_SHARE * thin:
        yield Remark(
            "thick patch",
            f"{patch.id} is {size(package_m)} thick on a structure of {size(thin)}: "
            "beyond a third, shear through the patch is no longer small.",
            "caution",
            plate.x_a_m,
        )


def open_leads(solved: Solved) -> Iterator[Remark]:
    """Groups left open: never without a caution, and what it means for touching them."""
    left_open = [group for group in solved.candidate.groups if group.circuit.kind == "open" and group.members]
    for group in left_open:
        own = solved.leads.of(f"group {group.id}") if solved.leads else None
        if own is None:
            yield Remark(
                "open leads",
                f"The leads of group {group.id} are open and nothing is given that makes a voltage: hundreds of volts are "
                "usual. Keep them shorted or bled.",
                "caution",
            )
        else:
            yield Remark(
                "open leads",
                f"The leads of group {group.id} are open and give up to {own.up_to} "
                f"({own.largest.cause}). {own.touch}",
                "note" if own.is_safe else "caution",
            )
