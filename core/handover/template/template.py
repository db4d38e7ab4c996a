"""The 1:1 template: printed true size on tiled paper, taped to datum A, packages pricked through.

Every tile carries bars that prove the print; the lengths they measure on paper give a corrected
reprint. The template locates, the written dimensions govern.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.handover.drawing.clip import clipped, moved
from core.handover.drawing.items import Drawing, Item, Point, Polygon, SheetError, Text
from core.handover.drawing.lettering import text_box
from core.handover.sheet.diagram import refuse_problems
from core.handover.sheet.identity import title_of
from core.handover.sheet.layout import PAPERS_MM, Box
from core.handover.sheet.subject import Subject, faces_bonded, make_subject
from core.handover.sheet.title_block import MIRROR_GUARD
from core.handover.template.template_page import TilePage, bar_length, page_items, window_of
from core.handover.template.template_part import package_boxes, region, template_items
from core.handover.template.tiles import Grid, grid_of, match_marks, seams
from core.project.model import Project

LARGEST_CORRECTION = 0.05
"""A bar further off than this was not printed by scaling a little, but measured wrongly."""


@dataclass(frozen=True)
class Correction:
    """Printed over true length, along and across the paper; 1.0 prints as drawn."""

    along: float = 1.0
    across: float = 1.0


def templates(
    project: Project,
    candidate_id: str | None = None,
    *,
    paper: str | None = None,
    bar_along_mm: float | None = None,
    bar_across_mm: float | None = None,
    guard: str = MIRROR_GUARD,
) -> tuple[Drawing, ...]:
    """The tiles of every face that carries a package, top first; tile 1 holds datum A.

    `bar_along_mm`, `bar_across_mm`: what the bars of an earlier print measured; the tiles then come
    out true on that printer. `paper` overrides the project's, `guard` says for which part it is. Raises
    SheetError in words.
    """
    chosen = paper or project.sheet.paper
    if chosen not in PAPERS_MM:
        raise SheetError(f"There is no paper '{chosen}'. Choose one of: {', '.join(PAPERS_MM)}.")
    refuse_problems(project, candidate_id)
    faces = faces_bonded(make_subject(project, candidate_id, "top").candidate)
    tiles: list[Drawing] = []
    for face in faces:
        subject = make_subject(project, candidate_id, face)
        tiles += _of_face(subject, chosen, bar_along_mm, bar_across_mm, guard)
    return tuple(tiles)


def _of_face(
    subject: Subject, paper: str, bar_along_mm: float | None, bar_across_mm: float | None, guard: str
) -> list[Drawing]:
    area, whole = region(subject), package_boxes(subject)
    size, grid = _fewest_tiles(subject, area, paper, Correction(), whole)
    bars = (bar_length(size[0], "along"), bar_length(size[1], "across"))
    printed = Correction(_printed("along", bars[0], bar_along_mm), _printed("across", bars[1], bar_across_mm))
    # the paper keeps its orientation in a reprint: the bars were measured on it
    grid = grid_of(area, _window_size(size, printed), from_right=_datum_is_right(subject, area), whole=whole)
    content = tuple(template_items(subject, area))
    taken = [Box(*text_box(item)) for item in content if isinstance(item, Text)]
    taken += [_bounds(item) for item in content if isinstance(item, Polygon) and item.fill == "white"]
    drawings = []
    for n, tile in enumerate(grid.tiles, start=1):
        window = window_of(size)

        def place(p: Point, tile: Box = tile, window: Box = window) -> Point:
            return (
                window.left + (p[0] - tile.left) / printed.along,
                window.top + (p[1] - tile.top) / printed.across,
            )

        page = TilePage(subject, size, n, grid, bars, printed.along, printed.across, content, guard)
        items: list[Item] = list(clipped((moved(item, place) for item in content), window))
        items += clipped((moved(item, place) for item in match_marks(grid, tile, taken)), window)
        items += page_items(page)
        title = title_of(subject.project, subject.candidate)
        drawings.append(Drawing(
            paper, *size, tuple(items),
            f"{title}: template, {subject.face} face, tile {n} of {len(grid.tiles)}",
            document=f"{title}: 1:1 template",
        ))  # fmt: skip
    return drawings


def _printed(way: str, bar_mm: float, measured_mm: float | None) -> float:
    if measured_mm is None:
        return 1.0
    share = measured_mm / bar_mm
    if not abs(share - 1) <= LARGEST_CORRECTION:
        low, high = bar_mm * (1 - LARGEST_CORRECTION), bar_mm * (1 + LARGEST_CORRECTION)
        raise SheetError(
            f"The bar {way} is {bar_mm:g} mm long; {measured_mm:g} mm is outside {low:g} to {high:g} mm. "
            "Measure it again, or print at 100 % first."
        )
    return share


def _window_size(size: tuple[float, float], printed: Correction) -> tuple[float, float]:
    """What one window shows of the part, mm."""
    window = window_of(size)
    return (window.width * printed.along, window.height * printed.across)


def _bounds(polygon: Polygon) -> Box:
    xs, ys = [p[0] for p in polygon.points], [p[1] for p in polygon.points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _fewest_tiles(
    subject: Subject, area: Box, paper: str, printed: Correction, whole: Sequence[Box]
) -> tuple[tuple[float, float], Grid]:
    """Paper lying or standing, whichever takes fewer tiles and seams through a package; lying of equals."""
    width, height = PAPERS_MM[paper]
    right = _datum_is_right(subject, area)
    choices = [
        (size, grid_of(area, _window_size(size, printed), from_right=right, whole=whole))
        for size in ((width, height), (height, width))
    ]
    return min(choices, key=lambda choice: len(choice[1].tiles) + seams(choice[1], whole))


def _datum_is_right(subject: Subject, area: Box) -> bool:
    return subject.datums.a_mm > (area.left + area.right) / 2
