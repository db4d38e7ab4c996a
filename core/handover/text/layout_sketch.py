"""Small plans of the layouts beside each other, for a reader who has no drawing at hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.handover.drawing.items import Item, Line, Polygon, Text
from core.handover.drawing.lettering import fit
from core.handover.sheet.layout import Box
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.plan import package_outline, profile_at
from core.project.structure import Structure
from core.units import words

SIZE = 2.3
GAP_MM = 4.0
LEAST_HEIGHT_MM, MOST_HEIGHT_MM = 4.0, 16.0
STEPS = 24

Point = tuple[float, float]


def sketch_height_mm(project: Project, candidates: Sequence[Candidate], width_mm: float) -> float:
    """What the plans and the line of words under each need."""
    return _plan_height(project, candidates, width_mm) + 2.6 * SIZE


def layout_sketch(project: Project, candidates: Sequence[Candidate], box: Box) -> tuple[Item, ...]:
    """One plan a candidate, all to one scale, root at the left; packages of the underside dashed."""
    wide = _each(candidates, box.width)
    high = _plan_height(project, candidates, box.width)
    items: list[Item] = []
    for n, candidate in enumerate(candidates):
        left = box.left + n * (wide + GAP_MM)
        plan = Box(left + 1.0, box.top, left + wide, box.top + high)
        items += _plan(project, candidate, plan)
        label = fit(f"{candidate.id}: {places(candidate)}", SIZE, wide)
        items.append(Text((left, plan.bottom + 1.6 * SIZE), label, SIZE, "figure"))
    return tuple(items)


def places(candidate: Candidate) -> str:
    """ "P1 16.0 to 146.0 mm, top"."""
    told = []
    for patch in candidate.patches:
        ends = words.between(words.millimetres(patch.x_start_m), words.millimetres(patch.x_end_m))
        told.append(f"{patch.id} {ends}, {'both faces' if patch.face == 'both' else patch.face}")
    return "; ".join(told) or "no patch"


def _each(candidates: Sequence[Candidate], width_mm: float) -> float:
    count = max(len(candidates), 1)
    return (width_mm - GAP_MM * (count - 1)) / count


def _plan_height(project: Project, candidates: Sequence[Candidate], width_mm: float) -> float:
    structure = project.structure
    scale = (_each(candidates, width_mm) - 1.0) / structure.span_m
    return min(max(2 * _half_width(structure) * scale, LEAST_HEIGHT_MM), MOST_HEIGHT_MM)


def _half_width(structure: Structure) -> float:
    if structure.outline is not None:
        return max(abs(y) for _, y in structure.outline.exterior)
    width = structure.width_m
    return (max(width) if isinstance(width, tuple) else width) / 2


def _plan(project: Project, candidate: Candidate, box: Box) -> Iterator[Item]:
    structure = project.structure
    along, across = box.width / structure.span_m, box.height / (2 * _half_width(structure))
    middle = (box.top + box.bottom) / 2

    def at(point: Point) -> Point:
        return (box.left + point[0] * along, middle - point[1] * across)

    yield Polygon(tuple(at(p) for p in _edge(structure)), "figure", "narrow")
    if structure.root.kind != "free":
        yield Line((box.left, box.top - 0.6), (box.left, box.bottom + 0.6), "figure", "wide")
    if structure.tip.kind != "free":
        yield Line((box.right, box.top - 0.6), (box.right, box.bottom + 0.6), "figure", "wide")
    packages = {package.name: package for package in project.packages}
    for patch in candidate.patches:
        corners = [at(p) for p in package_outline(patch, packages[patch.package])]
        dash = "dashed" if patch.face == "underside" else "solid"
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
            yield Line(a, b, "figure", "medium", dash)  # type: ignore[arg-type]
        centre = (sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners))
        yield Text((centre[0], centre[1] + 0.36 * SIZE), patch.id, SIZE, "figure", "middle", clear=True)


def _edge(structure: Structure) -> tuple[Point, ...]:
    if structure.outline is not None:
        return structure.outline.exterior
    xs = sorted({*structure.stations_m, *(structure.span_m * k / STEPS for k in range(STEPS + 1))})
    half = [(x, profile_at(structure.width_m, structure.stations_m, x) / 2) for x in xs]
    return (*half, *((x, -y) for x, y in reversed(half)))
