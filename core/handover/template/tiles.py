"""How a template is cut into tiles: overlapping windows, numbered from the datum, with match marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from core.handover.drawing.items import Item, Line, SheetError, Text
from core.handover.sheet.layout import Box

OVERLAP_MM = 12.0
"""Of the part, seen on both neighbours."""
CROSS_MM = 4.0
MOST_TILES = 60
INSET_MM = 9.0
"""From a window's edge to its first match mark."""


@dataclass(frozen=True)
class Grid:
    """Windows of the part, mm, tile 1 first; `columns`, `rows` count them along and across."""

    area: Box
    tiles: tuple[Box, ...]
    columns: int
    rows: int


Range = tuple[float, float]
SHIFTS = 12
"""Places tried for the tiles within the room they have beyond the area."""


def grid_of(area: Box, window: tuple[float, float], *, from_right: bool, whole: Sequence[Box] = ()) -> Grid:
    """The tiles that cover an area, the first at the datum's end, rows from the top.

    They are laid so that as few of the boxes in `whole` as possible are cut by a seam. SheetError
    where nobody would tape so many together.
    """
    columns, rows = (
        max(1, ceil((length - OVERLAP_MM) / (size - OVERLAP_MM) - 1e-9))
        for length, size in ((area.width, window[0]), (area.height, window[1]))
    )
    if columns * rows > MOST_TILES:
        raise SheetError(
            f"The template would take {columns * rows} tiles, more than {MOST_TILES}. Choose a datum nearer "
            "to the package, or a larger paper."
        )
    along = [(area.right - b.right, area.right - b.left) if from_right else (b.left - area.left, b.right - area.left)
             for b in whole]  # fmt: skip
    across = [(b.top - area.top, b.bottom - area.top) for b in whole]
    lefts = _starts(area.width, window[0], columns, along)
    # a single row has the part in its middle; several start at the top
    tops = _starts(area.height, window[1], rows, across) if rows > 1 else [(area.height - window[1]) / 2]
    tiles = []
    for top in tops:
        for start in lefts:
            left = area.right - window[0] - start if from_right else area.left + start
            tiles.append(Box(left, area.top + top, left + window[0], area.top + top + window[1]))
    return Grid(area, tuple(tiles), columns, rows)


def _starts(length: float, size: float, count: int, whole: Sequence[Range]) -> list[float]:
    """Where the tiles of a row begin: the first choice, least shifted, that cuts fewest of the ranges."""
    step = size - OVERLAP_MM
    slack = count * step + OVERLAP_MM - length
    shifts = [slack * n / SHIFTS for n in range(SHIFTS + 1)] if count > 1 else [0.0]
    # the room is taken up before the area, or by wider overlaps
    choices = [[k * step - shift for k in range(count)] for shift in shifts]
    choices += [[k * (step - shift / (count - 1)) for k in range(count)] for shift in shifts if count > 1]
    return min(choices, key=lambda starts: cuts(starts, size, whole))


def cuts(starts: Sequence[float], size: float, whole: Sequence[Range]) -> int:
    """How many of the ranges no single tile holds."""
    return sum(not any(s <= low and high <= s + size for s in starts) for low, high in whole)


def seams(grid: Grid, whole: Sequence[Box]) -> int:
    """How many of the boxes no single tile holds."""
    return sum(
        not any(
            t.left <= b.left and b.right <= t.right and t.top <= b.top and b.bottom <= t.bottom
            for t in grid.tiles
        )
        for b in whole
    )


def match_marks(grid: Grid, tile: Box, taken: Sequence[Box] = ()) -> Iterator[Item]:
    """Crosses in the middle of every overlap of a tile, at the same places on its neighbour.

    They keep off the boxes in `taken`, which hold words and marks of the part.
    """
    number = grid.tiles.index(tile)
    for other in _neighbours(grid, number):
        low, high = sorted((number, other))
        shared = _overlap(tile, grid.tiles[other])
        upright = other // grid.columns == number // grid.columns
        for n, place in enumerate(
            _places(shared, upright, crossed=min(grid.columns, grid.rows) > 1), start=1
        ):
            x, y = _free(place, upright, taken)
            half = CROSS_MM / 2
            yield Line((x - half, y), (x + half, y), "frame", "fine")
            yield Line((x, y - half), (x, y + half), "frame", "fine")
            yield Text((x + 1.0, y - 0.8), f"{low + 1}-{high + 1}.{n}", 2.0, "frame")


def _free(place: tuple[float, float], upright: bool, taken: Sequence[Box]) -> tuple[float, float]:
    """The place, moved along the overlap past what is written there."""
    for n in range(24):
        by = (n + 1) // 2 * 4.0 * (1 if n % 2 else -1)
        x, y = (place[0], place[1] + by) if upright else (place[0] + by, place[1])
        mark = Box(x - CROSS_MM / 2 - 0.5, y - CROSS_MM / 2 - 0.8, x + CROSS_MM + 4.5, y + CROSS_MM / 2 + 0.5)
        if not any(
            mark.left < b.right and b.left < mark.right and mark.top < b.bottom and b.top < mark.bottom
            for b in taken
        ):
            return x, y
    return place


def _neighbours(grid: Grid, number: int) -> Iterator[int]:
    row, column = divmod(number, grid.columns)
    if column > 0:
        yield number - 1
    if column < grid.columns - 1:
        yield number + 1
    if row > 0:
        yield number - grid.columns
    if row < grid.rows - 1:
        yield number + grid.columns


def _overlap(a: Box, b: Box) -> Box:
    return Box(max(a.left, b.left), max(a.top, b.top), min(a.right, b.right), min(a.bottom, b.bottom))


def _places(shared: Box, upright: bool, *, crossed: bool) -> Iterator[tuple[float, float]]:
    """Three marks along the middle of an overlap, off the corners where two overlaps cross."""
    x, y = (shared.left + shared.right) / 2, (shared.top + shared.bottom) / 2
    inset = INSET_MM + (OVERLAP_MM if crossed else 0.0)
    for share in (0.0, 0.5, 1.0):
        if upright:
            yield x, shared.top + inset + share * (shared.height - 2 * inset)
        else:
            yield shared.left + inset + share * (shared.width - 2 * inset), y
