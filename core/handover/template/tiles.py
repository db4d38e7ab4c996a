"""How a template is cut into tiles: overlapping windows, numbered from the datum, with match marks."""

from __future__ import annotations

from collections.abc import Iterator
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


def grid_of(area: Box, window: tuple[float, float], *, from_right: bool) -> Grid:
    """The tiles that cover an area, the first at the datum's end, rows from the top. SheetError where
    nobody would tape so many together."""
    columns, rows = (
        max(1, ceil((length - OVERLAP_MM) / (size - OVERLAP_MM) - 1e-9))
        for length, size in ((area.width, window[0]), (area.height, window[1]))
    )
    if columns * rows > MOST_TILES:
        raise SheetError(
            f"The template would take {columns * rows} tiles, more than {MOST_TILES}. Choose a datum nearer "
            "to the package, or a larger paper."
        )
    tiles = []
    for row in range(rows):
        # a single row has the part in its middle; several start at the top
        top = area.top + row * (window[1] - OVERLAP_MM)
        if rows == 1:
            top = (area.top + area.bottom - window[1]) / 2
        for column in range(columns):
            step = column * (window[0] - OVERLAP_MM)
            left = area.right - window[0] - step if from_right else area.left + step
            tiles.append(Box(left, top, left + window[0], top + window[1]))
    return Grid(area, tuple(tiles), columns, rows)


def match_marks(grid: Grid, tile: Box) -> Iterator[Item]:
    """Crosses in the middle of every overlap of a tile, at the same places on its neighbour."""
    number = grid.tiles.index(tile)
    for other in _neighbours(grid, number):
        low, high = sorted((number, other))
        shared = _overlap(tile, grid.tiles[other])
        upright = shared.height > shared.width
        for n, place in enumerate(_places(shared, upright), start=1):
            x, y = place
            half = CROSS_MM / 2
            yield Line((x - half, y), (x + half, y), "frame", "fine")
            yield Line((x, y - half), (x, y + half), "frame", "fine")
            yield Text((x + 1.0, y - 0.8), f"{low + 1}-{high + 1}.{n}", 2.0, "frame")


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


def _places(shared: Box, upright: bool) -> Iterator[tuple[float, float]]:
    """Three marks along the middle of an overlap."""
    x, y = (shared.left + shared.right) / 2, (shared.top + shared.bottom) / 2
    for share in (0.0, 0.5, 1.0):
        if upright:
            yield x, shared.top + INSET_MM + share * (shared.height - 2 * INSET_MM)
        else:
            yield shared.left + INSET_MM + share * (shared.width - 2 * INSET_MM), y
