"""A patch as drawn: its outline, its stack, its signs and what it collides with."""

from __future__ import annotations

from dataclasses import dataclass

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.placement.verdict import Touch, verdicts
from core.project.plan import Polygon, faces, package_margins, package_outline
from core.project.structure import KeepOut

FACES = ("top", "underside")


@dataclass(frozen=True)
class Collision:
    """A stretch of x where a package lies over something, as the verdict tells it."""

    x_start_m: float
    x_end_m: float
    face: str
    text: str
    caution: bool = False
    """Only the margin hangs over."""

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
    touched = verdicts(project.structure, project.packages, candidate)
    return tuple(
        _patch_view(candidate, patch, packages[patch.package], patch.id == selected, _collisions(found))
        for patch, found in zip(candidate.patches, touched, strict=True)
        if patch.package in packages
    )


def _patch_view(
    candidate: Candidate, patch: Patch, package: Package, selected: bool, collisions: tuple[Collision, ...]
) -> PatchView:
    on = FACES if patch.face == "both" else (patch.face,)
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
        faces=on,
        signs=signs,
        lead_exit=patch.lead_exit,
        selected=selected,
        collisions=collisions,
    )


def _polarity(candidate: Candidate, patch_id: str) -> int:
    for group in candidate.groups:
        for member in group.members:
            if member.patch == patch_id:
                return member.polarity
    return 1


def _collisions(touched: tuple[Touch, ...]) -> tuple[Collision, ...]:
    """The verdict's touches on each face they are on."""
    return tuple(
        Collision(*touch.x_m, face, touch.short, touch.severity == "caution")
        for touch in touched
        for face in FACES
        if face in faces(touch.patch.face) & touch.obstacle.faces
    )


def zone_ends(zone: KeepOut) -> tuple[float, float]:
    """Ends of a keep-out along x."""
    if zone.polygon_m:
        xs = [x for x, _ in zone.polygon_m]
        return min(xs), max(xs)
    return zone.x_start_m, zone.x_end_m
