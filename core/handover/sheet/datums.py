"""From where the shop measures: features a person can touch, never the model's x = 0 as such.

Datum A (along): the touchable feature the project names, or the tip edge where it is one.
Datum B (across): a straight long edge of the true outline, or, where no edge is parallel to the
axis, the centreline between the two touchable edges, or the axis with where it runs.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.handover.drawing.items import SheetError
from core.handover.sheet.edges import measured_across
from core.project.model import Project
from core.project.structure import DatumFeature

SAME_PLACE_M = 1e-6


@dataclass(frozen=True)
class Datums:
    """Positions in model mm, names in words for the sheet."""

    a_name: str
    a_mm: float
    b_name: str
    b_mm: float | None
    """y of the edge; None for the centreline."""
    far_name: str
    far_mm: float
    """The end opposite to A, for a check dimension in brackets."""


def touchable_datums(project: Project) -> tuple[DatumFeature, ...]:
    """The datum features that a person can measure from."""
    return tuple(datum for datum in project.structure.datums if datum.touchable)


def choose_datums(project: Project) -> Datums:
    """The datums of the sheet; SheetError naming what to do where no touchable one is chosen."""
    a = _datum_a(project)
    across = measured_across(project.structure)
    b_mm = None if across.y_m is None else 1e3 * across.y_m
    far_mm, far_name = _far_end(project, a)
    return Datums(a.name, 1e3 * a.x_m, across.name, b_mm, far_name, far_mm)


def _datum_a(project: Project) -> DatumFeature:
    structure, wanted = project.structure, project.sheet.datum
    touchable = touchable_datums(project)
    names = ", ".join(datum.name for datum in touchable)
    offer = (
        f"Choose one of: {names}."
        if touchable
        else "Add a datum feature that a person can touch (an edge, a shoulder, a hole) to the structure."
    )
    if wanted is None:
        for datum in touchable:
            if abs(datum.x_m - structure.span_m) < SAME_PLACE_M:
                return datum
        raise SheetError(f"No datum is chosen for the placement diagram. {offer}")
    for datum in structure.datums:
        if datum.name == wanted:
            if datum.touchable:
                return datum
            raise SheetError(
                f"Datum '{wanted}' cannot be touched, so the shop cannot measure from it. {offer}"
            )
    raise SheetError(f"The structure has no datum feature '{wanted}'. {offer}")


def _far_end(project: Project, a: DatumFeature) -> tuple[float, str]:
    structure = project.structure
    ends = [(datum.x_m, datum.name) for datum in touchable_datums(project) if datum.name != a.name]
    if structure.tip.kind == "free":
        ends.append((structure.span_m, "tip edge"))
    if structure.root.kind == "free":
        ends.append((0.0, "root edge"))
    ends.append((0.0, "support, ref."))
    if structure.tip.kind != "free":
        ends.append((structure.span_m, "support, ref."))
    # the first of equals wins: something touchable before the support line
    x, name = max(ends, key=lambda end: abs(end[0] - a.x_m))
    return 1e3 * x, name
