"""What one sheet shows, in millimetres of the model: a face, its packages, its datums.

Model axes on the sheet: x from the support, y across from the centreline, positive to the left
when looking from root to tip; nothing is rounded here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.handover.drawing.items import SheetError
from core.handover.sheet.datums import Datums, choose_datums
from core.handover.sheet.edges import edges_m
from core.project.article import article_name
from core.project.candidate import Absorber, Candidate
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.plan import package_margins
from core.project.record import Profile
from core.project.structure import KeepOut

Side = Literal["top", "underside"]
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Placed:
    """A package on the face shown, in model mm."""

    patch: Patch
    package: Package
    centre: tuple[float, float]
    outline: Points
    """Corners of the package: root-right, tip-right, tip-left, root-left before turning."""
    ceramic: Points

    @property
    def id(self) -> str:
        return self.patch.id

    @property
    def article(self) -> str:
        """What is bought for it: the package, or a special size."""
        return article_name(self.patch, self.package)

    @property
    def turned(self) -> bool:
        return abs(self.patch.angle_rad) > 1e-9

    @property
    def root_edge(self) -> tuple[float, float]:
        """Middle of the package edge that faces the root."""
        return _middle(self.outline[0], self.outline[3])

    @property
    def tip_edge(self) -> tuple[float, float]:
        return _middle(self.outline[1], self.outline[2])

    def direction(self, exit: str) -> tuple[float, float]:
        """Unit vector of a lead exit in model axes."""
        turn = {"towards tip": 0.0, "left": math.pi / 2, "towards root": math.pi, "right": -math.pi / 2}
        angle = turn[exit] + self.patch.angle_rad
        return (math.cos(angle), math.sin(angle))

    def half_extent(self, exit: str) -> float:
        """From the centre to the package edge on that side, mm."""
        end, side = package_margins(self.package)
        along = exit.startswith("towards")
        return 1e3 * (self.patch.length_m / 2 + end if along else self.patch.width_m / 2 + side)


@dataclass(frozen=True)
class Subject:
    """Everything the views of one sheet are drawn from."""

    project: Project
    candidate: Candidate
    face: Side
    placed: tuple[Placed, ...]
    others: tuple[Placed, ...]
    """Packages on the other face: seen in the side view only."""
    datums: Datums
    keep_outs: tuple[KeepOut, ...]
    tuned_masses: tuple[Absorber, ...]
    """Those that stand on the face."""

    @property
    def span_mm(self) -> float:
        return 1e3 * self.project.structure.span_m

    @property
    def flip_y(self) -> int:
        return 1 if self.face == "top" else -1

    def edges_mm(self, x_mm: float) -> tuple[float, float]:
        """Lowest and highest y of the part at x, as a drawing gave them where there is one."""
        low, high = edges_m(self.project.structure, np.array([x_mm / 1e3]))
        return 1e3 * float(low[0]), 1e3 * float(high[0])

    def thickness_mm(self, x_mm: float) -> float:
        structure = self.project.structure
        return sum(profile_mm(layer.thickness_m, structure.stations_m, x_mm) for layer in structure.layers)

    @property
    def stations_mm(self) -> tuple[float, ...]:
        return tuple(1e3 * x for x in self.project.structure.stations_m)

    @property
    def tallest_mm(self) -> float:
        """Height of the plan: twice the largest distance from the axis of anything in it."""
        edges = [abs(y) for _, y in self.outline_between(0.0, self.span_mm)]
        return 2 * max(*edges, *(abs(y) for p in self.placed for _, y in p.outline))

    @property
    def widest_mm(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Lower and upper edge point where the part is widest; of equal places the one nearest to the tip."""
        points = self.outline_between(0.0, self.span_mm)
        half = len(points) // 2
        pairs = zip(points[:half], reversed(points[half:]), strict=True)
        low, high = max(pairs, key=lambda pair: (round(pair[1][1] - pair[0][1], 6), pair[0][0]))
        return low, high

    @property
    def true_outline_mm(self) -> tuple[Points, ...]:
        """Edge and holes as they came from a drawing; empty where the stations say it all."""
        outline = self.project.structure.outline
        if outline is None:
            return ()
        return tuple(
            tuple((1e3 * x, 1e3 * y) for x, y in ring) for ring in (outline.exterior, *outline.holes)
        )

    def zone_corners(self, zone: KeepOut) -> Points:
        """Corners of a keep-out zone, model mm."""
        if zone.polygon_m is not None:
            return tuple((1e3 * x, 1e3 * y) for x, y in zone.polygon_m)
        low, high = max(0.0, 1e3 * zone.x_start_m), min(self.span_mm, 1e3 * zone.x_end_m)
        return self.outline_between(low, high)

    def outline_between(self, low: float, high: float) -> Points:
        """The part's outline between two stations as a closed polygon."""
        bends = {x for x, _ in self.true_outline_mm[0]} if self.true_outline_mm else self.stations_mm
        xs = [low, *sorted(x for x in bends if low < x < high), high]
        lower, upper = edges_m(self.project.structure, np.array(xs) / 1e3)
        right = [(x, 1e3 * float(y)) for x, y in zip(xs, lower, strict=True)]
        left = [(x, 1e3 * float(y)) for x, y in zip(xs, upper, strict=True)]
        return (*right, *reversed(left))


def make_subject(project: Project, candidate_id: str | None, face: Side) -> Subject:
    """The subject of the sheet of that face; SheetError in words where it cannot be made."""
    try:
        candidate = project.candidate(candidate_id)
    except KeyError:
        raise SheetError(
            f"There is no candidate {candidate_id}. Choose one of: "
            + ", ".join(c.id for c in project.candidates) + "."
        ) from None  # fmt: skip
    placed = [_place(project, patch) for patch in candidate.patches]
    return Subject(
        project=project,
        candidate=candidate,
        face=face,
        placed=tuple(p for p in placed if p.patch.face in (face, "both")),
        others=tuple(p for p in placed if p.patch.face not in (face, "both")),
        datums=choose_datums(project),
        keep_outs=tuple(k for k in project.structure.keep_outs if k.face in (face, "both")),
        tuned_masses=candidate.absorbers if face == "top" else (),
    )


def faces_used(candidate: Candidate) -> tuple[Side, ...]:
    """Faces that carry a package or a tuned mass, top first."""
    faces: set[str] = {patch.face for patch in candidate.patches}
    if "both" in faces:
        return ("top", "underside")
    if candidate.absorbers:
        faces.add("top")
    sides: tuple[Side, ...] = ("top", "underside")
    return tuple(side for side in sides if side in faces)


def faces_bonded(candidate: Candidate) -> tuple[Side, ...]:
    """Faces that carry a package, top first; SheetError where there is nothing to bond."""
    if not candidate.patches:
        raise SheetError(f"Candidate {candidate.id} has no patch: there is nothing to bond. Place a patch first.")
    return faces_used(replace(candidate, absorbers=()))


def profile_mm(profile: Profile, stations_m: tuple[float, ...], x_mm: float) -> float:
    """A width or thickness at x, linear between stations, mm."""
    if isinstance(profile, int | float):
        return 1e3 * profile
    return 1e3 * float(np.interp(x_mm / 1e3, stations_m, profile))


def _place(project: Project, patch: Patch) -> Placed:
    try:
        package = project.package(patch.package)
    except KeyError:
        raise SheetError(
            f"Patch {patch.id} uses the package '{patch.package}', which is not in the project. "
            "Choose another package for it."
        ) from None
    centre = (1e3 * (patch.x_start_m + patch.length_m / 2), 1e3 * patch.y_m)
    end, side = package_margins(package)
    return Placed(
        patch,
        package,
        centre,
        _rectangle(centre, patch.length_m / 2 + end, patch.width_m / 2 + side, patch.angle_rad),
        _rectangle(centre, patch.length_m / 2, patch.width_m / 2, patch.angle_rad),
    )


def _rectangle(centre: tuple[float, float], half_l_m: float, half_w_m: float, angle: float) -> Points:
    c, s = math.cos(angle), math.sin(angle)
    corners = ((-half_l_m, -half_w_m), (half_l_m, -half_w_m), (half_l_m, half_w_m), (-half_l_m, half_w_m))
    return tuple((centre[0] + 1e3 * (c * u - s * v), centre[1] + 1e3 * (s * u + c * v)) for u, v in corners)


def _middle(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
