"""What stands around the window of a template tile: check bars, tile number, map, rules."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from core.handover.drawing.clip import runs
from core.handover.drawing.items import Arrow, Item, Line, Polygon, Polyline, Text
from core.handover.drawing.lettering import fit, text_width_mm
from core.handover.sheet.identity import fingerprint, number_of, revision_index, title_of
from core.handover.sheet.layout import Box
from core.handover.sheet.plan_dimensions import written_along
from core.handover.sheet.subject import Subject
from core.handover.template.template_part import written_across
from core.handover.template.tiles import Grid

EDGE_MM = 7.0
TOP_MM, BOTTOM_MM, LEFT_MM = 34.0, 19.0, 12.0
LONG_BAR_MM, SHORT_BAR_MM = 200.0, 100.0
REJECT = 0.001
"""Of a bar's length: 0.2 mm on the long one, 0.1 mm on the short one."""
GOVERN = "TEMPLATE LOCATES, DIMENSIONS GOVERN"
PRINT = "Print at 100 %, not fit to page."


@dataclass(frozen=True)
class TilePage:
    """A tile and what its surroundings tell; `bars` are the lengths the bars must measure, and
    `along`, `across` the printed over true length that is made up for."""

    subject: Subject
    size: tuple[float, float]
    number: int
    grid: Grid
    bars: tuple[float, float]
    along: float
    across: float
    content: tuple[Item, ...]
    guard: str
    """For which part it is: as drawn, or mirrored."""


def window_of(size: tuple[float, float]) -> Box:
    """Where the part is drawn on a tile."""
    width, height = size
    return Box(EDGE_MM + LEFT_MM, EDGE_MM + TOP_MM, width - EDGE_MM, height - EDGE_MM - BOTTOM_MM)


def bar_length(paper_mm: float, way: Literal["along", "across"]) -> float:
    """200 mm where the paper has room for it, else 100 mm."""
    taken = 2 * EDGE_MM + (LEFT_MM if way == "along" else 0.0)
    return LONG_BAR_MM if paper_mm - taken >= 1.05 * LONG_BAR_MM else SHORT_BAR_MM


def page_items(page: TilePage) -> Iterator[Item]:
    """All that is drawn on one page of the template."""
    window = window_of(page.size)
    corners = ((window.left, window.top), (window.right, window.top), (window.right, window.bottom),
               (window.left, window.bottom))  # fmt: skip
    yield Polygon(corners, "frame", "fine")
    yield from _heading(page, window)
    yield from _tile_map(page, window)
    yield from _bar_along(page, window)
    yield from _bar_across(page)


def _heading(page: TilePage, window: Box) -> Iterator[Item]:
    subject = page.subject
    sheet = subject.project.sheet
    left, top = EDGE_MM, EDGE_MM
    note = sheet.face_note if subject.face == "top" else sheet.underside_note
    side = f" ({note.strip()})" if note.strip() else ""
    right = page.size[0] - EDGE_MM
    middle = right - MAP_MM - 4.0
    count = len(page.grid.tiles)
    yield Text((right, top + 4.4), f"TILE {page.number} / {count}", 4.6, "title block", "end", True)
    heading = f"1:1 TEMPLATE, FACE SHOWN: {subject.face.upper()}{side}"
    yield Text((left, top + 4.0), fit(heading, 4.0, middle - left, True), 4.0, "title block", bold=True)
    yield from _boxed(GOVERN, left, top + 9.3)
    room = middle - left - text_width_mm(GOVERN, 3.4, True) - 6.0
    if text_width_mm(PRINT, 2.6) <= room:
        yield Text((middle - room, top + 9.3), PRINT, 2.6, "caution")
        yield from _boxed(page.guard, left, top + 15.3)
    else:
        yield from _boxed(page.guard, left, top + 15.3)
        yield Text((left, top + 19.6), PRINT, 2.6, "caution")
    identity = "; ".join(words for words in (
        title_of(subject.project, subject.candidate), number_of(subject.project, subject.candidate),
        f"revision {revision_index(subject.project, subject.candidate)}", f"model {fingerprint(subject.project, subject.candidate)}",
    ) if words)  # fmt: skip
    written = "; ".join(f"{written_along(subject, p)}, {written_across(subject, p)}" for p in subject.placed)
    how = f"A: {subject.datums.a_name}. B: {subject.datums.b_name}. Lengths run along the surface."
    first = top + 19.6 + (0.0 if text_width_mm(PRINT, 2.6) <= room else 3.3)
    for n, line in enumerate((identity, written, how)):
        size = _size_for(line, middle - left)
        yield Text((left, first + 3.3 * n), fit(line, size, middle - left), size, "title block")
    yield from _towards_datum(page, window)


def _boxed(words: str, left: float, base: float) -> Iterator[Item]:
    """Words nobody may miss, in a frame of their own; never cut."""
    width = text_width_mm(words, 3.4, True)
    corners = (
        (left, base - 3.5),
        (left + width + 3, base - 3.5),
        (left + width + 3, base + 1.3),
        (left, base + 1.3),
    )
    yield Polygon(corners, "caution", "medium")
    yield Text((left + 1.5, base), words, 3.4, "caution", bold=True)


def _size_for(words: str, room: float) -> float:
    """2.6 mm, or as much smaller as a long line needs, down to 1.9."""
    return max(1.9, min(2.6, 2.6 * room / max(text_width_mm(words, 2.6), 1e-9)))


MAP_MM = 52.0


def _towards_datum(page: TilePage, window: Box) -> Iterator[Item]:
    """An arrow to datum A on every tile, or where it is on this one."""
    tile, a = page.grid.tiles[page.number - 1], page.subject.datums.a_mm
    y = window.top - 1.6
    if tile.left <= a <= tile.right:
        x = window.left + (a - tile.left) / page.along
        yield Arrow((x, y - 1.8), (x, y + 1.6), "datum", "medium", 2.4)
        if x > window.left + 60:
            yield Text((x - 2.0, y), "datum A on this tile", 2.6, "datum", "end", True)
        else:
            yield Text((x + 2.0, y), "datum A on this tile", 2.6, "datum", "start", True)
    elif a > tile.right:
        yield Text((window.right - 13.0, y), "to datum A", 2.6, "datum", "end", True)
        yield Arrow((window.right - 11.0, y - 0.9), (window.right, y - 0.9), "datum", "medium", 3.0)
    else:
        yield Text((window.left + 13.0, y), "to datum A", 2.6, "datum", "start", True)
        yield Arrow((window.left + 11.0, y - 0.9), (window.left, y - 0.9), "datum", "medium", 3.0)


def _tile_map(page: TilePage, window: Box) -> Iterator[Item]:
    """All tiles small over the part, this one in a wide line."""
    tiles = page.grid.tiles
    low = Box(min(t.left for t in tiles), min(t.top for t in tiles),
              max(t.right for t in tiles), max(t.bottom for t in tiles))  # fmt: skip
    room = Box(page.size[0] - EDGE_MM - MAP_MM, EDGE_MM + 6.0, page.size[0] - EDGE_MM, window.top - 4.0)
    scale = min(room.width / low.width, room.height / low.height)
    left = room.right - scale * low.width

    def at(x: float, y: float) -> tuple[float, float]:
        return (left + scale * (x - low.left), room.top + scale * (y - low.top))

    for item in page.content:
        if isinstance(item, Polygon) and item.layer in ("part", "package"):
            ring = (*item.points, item.points[0])
            inside = Box(low.left, low.top, low.right, low.bottom)
            for run in runs(ring, inside):
                yield Polyline(tuple(at(*p) for p in run), item.layer, "fine")
    for n, tile in enumerate(tiles, start=1):
        corners = (at(tile.left, tile.top), at(tile.right, tile.top), at(tile.right, tile.bottom),
                   at(tile.left, tile.bottom))  # fmt: skip
        yield Polygon(corners, "frame", "medium" if n == page.number else "fine")
        x = (corners[0][0] + corners[1][0]) / 2
        yield Text((x, corners[3][1] - 0.8), str(n), 2.6, "frame", "middle", n == page.number)


# ---- check bars ------------------------------------------------------------------------------


def _bar_along(page: TilePage, window: Box) -> Iterator[Item]:
    nominal = page.bars[0]
    left = window.left
    right = left + nominal / page.along
    y = page.size[1] - EDGE_MM - 10.0
    yield Line((left, y), (right, y), "frame", "narrow")
    for x in (left, right):
        yield Line((x, y - 3.0), (x, y + 3.0), "frame", "narrow")
    for n in range(1, round(nominal / 10)):
        x = left + 10 * n / page.along
        yield Line((x, y - (2.0 if n % 5 == 0 else 1.2)), (x, y), "frame", "fine")
    words = f"check bar along: {nominal:.0f} mm"
    yield Text((left + 2.0, y - 3.4), words, 2.6, "frame", bold=True)
    note = _reject(nominal)
    after = left + 4.0 + text_width_mm(words, 2.6, True)
    yield Text((after + 2.0, y - 3.4), fit(note, 2.6, right - after - 2.0), 2.6, "frame")
    yield from _boxes(page, left, y + 4.2)


def _reject(nominal_mm: float) -> str:
    return f"reject if off by more than {nominal_mm * REJECT:.1f} mm"


def _boxes(page: TilePage, left: float, top: float) -> Iterator[Item]:
    """Where the shop writes what its print measured, and what has been made up for."""
    x = left
    for way, corrected in (("along", page.along), ("across", page.across)):
        words = f"bar {way} measures ________ mm"
        width = text_width_mm(words, 2.6) + 4.0
        corners = ((x, top), (x + width, top), (x + width, top + 5.4), (x, top + 5.4))
        yield Polygon(corners, "frame", "narrow")
        yield Text((x + 2.0, top + 3.8), words, 2.6, "frame")
        x += width + 3.0
        if corrected != 1.0:
            text = f"corrected x {1 / corrected:.4f}"
            yield Text((x, top + 3.8), text, 2.6, "frame", bold=True)
            x += text_width_mm(text, 2.6, True) + 4.0
    room = page.size[0] - EDGE_MM - x
    rest = "Enter both for a corrected reprint on the same printer and paper."
    yield Text((x, top + 3.8), fit(rest, 2.4, room), 2.4, "frame")


def _bar_across(page: TilePage) -> Iterator[Item]:
    nominal = page.bars[1]
    length = nominal / page.across
    bottom = page.size[1] - EDGE_MM - 1.0
    if bottom - length < EDGE_MM + TOP_MM:
        top = bottom - length
    else:
        top = page.size[1] - EDGE_MM - BOTTOM_MM - length
        bottom = top + length
    x = EDGE_MM + 8.0
    yield Line((x, top), (x, bottom), "frame", "narrow")
    for y in (top, bottom):
        yield Line((x - 3.0, y), (x + 3.0, y), "frame", "narrow")
    for n in range(1, round(nominal / 10)):
        y = top + 10 * n / page.across
        yield Line((x, y), (x + (2.0 if n % 5 == 0 else 1.2), y), "frame", "fine")
    words, note = f"check bar across: {nominal:.0f} mm", _reject(nominal)
    size = min(2.6, 2.6 * (length - 4.0) / (text_width_mm(words, 2.6, True) + 3.0 + text_width_mm(note, 2.6)))
    yield Text((x - 3.6, bottom - 2.0), words, size, "frame", "start", True, angle_deg=90.0)
    after = bottom - 5.0 - text_width_mm(words, size, True)
    yield Text((x - 3.6, after), note, size, "frame", "start", angle_deg=90.0)
