"""The placement tolerances a sheet may print: what was typed, and never more than there is room for.

Along and across the printed tolerance ends where the package would meet something solid or its
ceramic would leave the part. What is left to say (a margin that may hang over, a turn that has no
room) is said in words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from core.handover.drawing.dimensions import plus_minus
from core.handover.sheet.subject import Placed
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.room import Clearance, Room, room

PRINTED_M = 1e-4
"""Tolerances are printed to a tenth of a millimetre; room is rounded down to it."""

_WAYS = {"tip": "towards the tip", "root": "towards the root", "left": "to the left", "right": "to the right"}


def along_m(project: Project, candidate: Candidate, placed: tuple[Placed, ...]) -> tuple[float, float]:
    """(towards the tip, towards the root) printed for packages that share a dimension."""
    rooms = [_hard(project, candidate, p.patch) for p in placed]
    tip, root = project.sheet.tolerances_x_m
    return min([tip, *(_down(r.tip) for r in rooms)]), min([root, *(_down(r.root) for r in rooms)])


def across_m(project: Project, candidate: Candidate, placed: tuple[Placed, ...]) -> float:
    """To either side, printed for packages that share a dimension."""
    rooms = [_hard(project, candidate, p.patch) for p in placed]
    return min([project.sheet.tolerance_y_m, *(_down(side) for r in rooms for side in (r.left, r.right))])


def limits(more_m: float, less_m: float) -> str:
    """"± 1.0", or "+1.0/-0.0" for more and less than the written value."""
    if abs(more_m - less_m) < 1e-9:
        return plus_minus(1e3 * more_m)
    more, less = (plus_minus(1e3 * v).removeprefix("± ") for v in (more_m, less_m))
    return f"+{more}/\N{MINUS SIGN}{less}"


def room_words(project: Project, candidate_id: str | None) -> tuple[str, ...]:
    """Where the tolerances of the sheet are more than there is room for, a sentence each; KeyError for an
    unknown candidate."""
    candidate = project.candidate(candidate_id)
    known = {package.name for package in project.packages}
    return tuple(
        words
        for patch in candidate.patches
        if patch.package in known
        for words in _of_patch(project, candidate, patch)
    )


def _of_patch(project: Project, candidate: Candidate, patch: Patch) -> Iterator[str]:
    sheet, soft, hard = project.sheet, room(project, candidate, patch), _hard(project, candidate, patch)
    tip, root = sheet.tolerances_x_m
    wanted = {"tip": tip, "root": root, "left": sheet.tolerance_y_m, "right": sheet.tolerance_y_m}
    stopped = {way for way, m in wanted.items() if m > _down(getattr(hard, way)) + 1e-9}
    for way in ("tip", "root", "left", "right"):
        clearance: Clearance = getattr(hard, way)
        if way in stopped:
            yield f"{patch.id} {_WAYS[way]} no further than {1e3 * _down(clearance):.1f} mm: {clearance.limit}."
    hanging = {
        way: m - getattr(soft, way).room_m
        for way, m in wanted.items()
        if way not in stopped and m > _down(getattr(soft, way)) + 1e-9
    }
    if hanging:
        over = dict.fromkeys(getattr(soft, way).limit for way in hanging)
        yield (
            f"Within its tolerance the margin of {patch.id} may lie up to {1e3 * max(hanging.values()):.1f} mm over "
            f"{' and '.join(over)}; its ceramic stays on the part."
        )
    if sheet.tolerance_angle_rad > hard.angle.room_m + 1e-9:
        yield (
            f"Turned by more than {math.degrees(math.floor(1e3 * hard.angle.room_m) / 1e3):.1f}° {patch.id} meets "
            f"{hard.angle.limit}: keep its corners off."
        )


def _hard(project: Project, candidate: Candidate, patch: Patch) -> Room:
    return room(project, candidate, patch, hard=True)


def _down(clearance: Clearance) -> float:
    """Room to a tenth of a millimetre, rounded down."""
    if math.isinf(clearance.room_m):
        return clearance.room_m
    return math.floor(clearance.room_m / PRINTED_M + 1e-6) * PRINTED_M
