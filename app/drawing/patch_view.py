"""A patch as drawn: its outline, its stack, its signs and what it collides with."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.drawing.structure_view import StructureView
from core.project.model import Candidate, KeepOut, Package, Patch, Project
from core.project.on_part import overhang
from core.project.plan import Polygon, keep_out_outline, overlap_m, package_margins, package_outline

FACES = ("top", "underside")
TOUCHING_M = 1e-9
"""Packages and zones that only touch do not collide."""


@dataclass(frozen=True)
class Collision:
    """A stretch of x where a package is over a keep-out, past an end or on another package."""

    x_start_m: float
    x_end_m: float
    face: str
    text: str

    @property
    def length_m(self) -> float:
        return self.x_end_m - self.x_start_m


@dataclass(frozen=True)
class PatchView:
    """One bonded package; every length in metres."""

    id: str
    x_a_m: float
    x_b_m: float
    y_m: float
    width_m: float
    angle_rad: float
    margin_m: float
    side_margin_m: float
    corners_m: Polygon
    """Corners of the whole package in plan, turned."""
    bond_m: float
    lower_skin_m: float
    ceramic_m: float
    upper_skin_m: float
    faces: tuple[str, ...]
    signs: tuple[int, ...]
    """Per face, +1 where the dot goes to the group's positive lead."""
    lead_exit: str
    selected: bool
    collisions: tuple[Collision, ...] = ()

    @property
    def length_m(self) -> float:
        return self.x_b_m - self.x_a_m

    @property
    def stack_m(self) -> float:
        return self.bond_m + self.lower_skin_m + self.ceramic_m + self.upper_skin_m

    @property
    def outline(self) -> tuple[float, float]:
        """Root-side and tip-side end of the package (ceramic and margin)."""
        xs = [x for x, _ in self.corners_m]
        return min(xs), max(xs)


def patch_views(project: Project, selected: str | None) -> tuple[PatchView, ...]:
    """The patches of the active candidate, those of unknown packages left out."""
    candidate = project.candidate()
    packages = {package.name: package for package in project.packages}
    return tuple(
        _patch_view(candidate, patch, packages[patch.package], patch.id == selected)
        for patch in candidate.patches
        if patch.package in packages
    )


def _patch_view(candidate: Candidate, patch: Patch, package: Package, selected: bool) -> PatchView:
    faces = FACES if patch.face == "both" else (patch.face,)
    sign = _polarity(candidate, patch.id)
    end, side = package_margins(package)
    # A bending pair is wired with opposite signs on its two faces.
    signs = (sign, -sign if patch.pair_bending else sign) if patch.face == "both" else (sign,)
    return PatchView(
        id=patch.id,
        x_a_m=patch.x_start_m,
        x_b_m=patch.x_end_m,
        y_m=patch.y_m,
        width_m=patch.width_m,
        angle_rad=patch.angle_rad,
        margin_m=end,
        side_margin_m=side,
        corners_m=package_outline(patch, package),
        bond_m=patch.bond.thickness_m,
        lower_skin_m=package.lower_skin.thickness_m,
        ceramic_m=package.ceramic_thickness_m,
        upper_skin_m=package.upper_skin.thickness_m,
        faces=faces,
        signs=signs,
        lead_exit=patch.lead_exit,
        selected=selected,
    )


def _polarity(candidate: Candidate, patch_id: str) -> int:
    for group in candidate.groups:
        for member in group.members:
            if member.patch == patch_id:
                return member.polarity
    return 1


def with_collisions(structure: StructureView, patches: tuple[PatchView, ...]) -> tuple[PatchView, ...]:
    """The same patches, each told what its package collides with."""
    return tuple(replace(patch, collisions=_collisions(structure, patches, patch)) for patch in patches)


def _collisions(
    structure: StructureView, patches: tuple[PatchView, ...], patch: PatchView
) -> tuple[Collision, ...]:
    found: list[Collision] = []
    start, end = patch.outline
    beside = None
    if structure.outline is not None:
        beside = overhang(structure.outline, patch.corners_m, structure.span_m)
    for face in patch.faces:
        if beside is not None:
            words = "over an opening" if beside.in_hole else "over the edge"
            found.append(
                Collision(beside.x_start_m, beside.x_end_m, face, f"{1e3 * beside.depth_m:.1f} mm {words}")
            )
        found += _stretch(patch.x_a_m, min(patch.x_b_m, 0.0), face, "past the root")
        found += _stretch(max(patch.x_a_m, structure.span_m), patch.x_b_m, face, "past the tip")
        for zone in structure.keep_outs:
            if (
                zone.face in (face, "both")
                and overlap_m(patch.corners_m, keep_out_outline(zone)) > TOUCHING_M
            ):
                low, high = zone_ends(zone)
                found += _stretch(max(start, low), min(end, high), face, f"over {zone.name}")
        for other in patches:
            both = other.id != patch.id and face in other.faces
            if both and overlap_m(patch.corners_m, other.corners_m) > TOUCHING_M:
                low, high = other.outline
                found += _stretch(max(start, low), min(end, high), face, f"on {other.id}")
    return tuple(found)


def _stretch(low: float, high: float, face: str, text: str) -> list[Collision]:
    if high - low <= TOUCHING_M:
        return []
    return [Collision(low, high, face, f"{1e3 * (high - low):.1f} mm {text}")]


def zone_ends(zone: KeepOut) -> tuple[float, float]:
    """Ends of a keep-out along x."""
    if zone.polygon_m:
        xs = [x for x, _ in zone.polygon_m]
        return min(xs), max(xs)
    return zone.x_start_m, zone.x_end_m
