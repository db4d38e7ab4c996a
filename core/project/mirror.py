"""The mirrored part: left and right exchanged, as seen looking from root to tip."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.structure import Outline, Ring, Structure

_EXITS = {"left": "right", "right": "left"}


def mirrored(project: Project) -> Project:
    """The project of the mirrored part: structure and every candidate with y and turns reversed.

    It resonates and couples as the part as drawn does, so masses off the centreline change sides with the patches.
    """
    return replace(
        project,
        structure=_structure(project.structure),
        candidates=tuple(_candidate(candidate) for candidate in project.candidates),
    )


def _structure(structure: Structure) -> Structure:
    zones = tuple(
        zone if zone.polygon_m is None else replace(zone, polygon_m=_ring(zone.polygon_m))
        for zone in structure.keep_outs
    )
    outline = structure.outline
    return replace(
        structure,
        cut_outs=tuple(replace(cut, y_m=-cut.y_m + 0.0) for cut in structure.cut_outs),
        datums=tuple(replace(datum, y_m=-datum.y_m + 0.0) for datum in structure.datums),
        keep_outs=zones,
        masses=tuple(replace(mass, y_m=-mass.y_m + 0.0) for mass in structure.masses),
        outline=None if outline is None else _outline(outline),
    )


def _outline(outline: Outline) -> Outline:
    holes = tuple(_ring(ring) for ring in outline.holes)
    return replace(outline, exterior=_ring(outline.exterior), holes=holes)


def _ring(ring: Ring) -> Ring:
    """In the other order, so that it runs the same way round as before."""
    return tuple((x, -y + 0.0) for x, y in reversed(ring))


def _candidate(candidate: Candidate) -> Candidate:
    return replace(candidate, patches=tuple(_patch(patch) for patch in candidate.patches))


def _patch(patch: Patch) -> Patch:
    exit = _EXITS.get(patch.lead_exit, patch.lead_exit)
    return replace(patch, y_m=-patch.y_m + 0.0, angle_rad=-patch.angle_rad + 0.0, lead_exit=exit)
