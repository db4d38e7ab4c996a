"""A free place for a patch: clear of keep-outs, of other packages and of the ends."""

from __future__ import annotations

from msgspec.structs import replace

from core.project.checking import Found
from core.project.model import Candidate, Package, Patch, Project
from core.project.patch_checks import check_keep_outs, check_overlaps
from core.project.plan import keep_out_outline, package_margins

_GAP_M = 1e-3


def free_start(project: Project, candidate: Candidate, patch: Patch) -> float | None:
    """The smallest x_start_m at which the whole package of `patch` is on the span and clear.

    Only places right behind something (the support, a keep-out, another package) are tried:
    the first free place is always one of them. None where there is no room.
    """
    package = project.package(patch.package)
    margin = package_margins(package)[0]
    packages = {p.name: p for p in project.packages}
    others = [
        (p, packages[p.package]) for p in candidate.patches if p.package in packages and p.id != patch.id
    ]
    starts = {margin + _GAP_M}
    for zone in project.structure.keep_outs:
        starts.add(round(max(x for x, _ in keep_out_outline(zone)) + margin, 9))
    for other, other_package in others:
        starts.add(round(other.x_end_m + package_margins(other_package)[0] + _GAP_M + margin, 9))
    for start in sorted(s for s in starts if s >= margin):
        placed = replace(patch, x_start_m=start)
        if placed.x_end_m + margin <= project.structure.span_m and _is_clear(
            project, placed, package, others
        ):
            return start
    return None


def _is_clear(project: Project, patch: Patch, package: Package, others: list[tuple[Patch, Package]]) -> bool:
    found: Found = []
    check_keep_outs(found, "", [(patch, package)], project.structure.keep_outs)
    for other in others:
        check_overlaps(found, "", [other, (patch, package)])
    return not found
