"""Where the blocks of a sheet lie: paper sizes, frame, type sizes, the standard scales.

Two arrangements serve long thin and short wide parts; the one that shows the plan larger wins.
"""

from __future__ import annotations

from dataclasses import dataclass

PAPERS_MM: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0), "A3": (420.0, 297.0), "Letter": (279.4, 215.9),
}  # fmt: skip
FRAME_MM = 7.0

SCALES: tuple[tuple[float, str], ...] = (
    (10, "10:1"), (5, "5:1"), (2, "2:1"), (1, "1:1"), (1 / 1.5, "1:1.5"), (1 / 2, "1:2"),
    (1 / 2.5, "1:2.5"), (1 / 3, "1:3"), (1 / 4, "1:4"), (1 / 5, "1:5"), (1 / 6, "1:6"), (1 / 10, "1:10"),
    (1 / 15, "1:15"), (1 / 20, "1:20"), (1 / 25, "1:25"), (1 / 50, "1:50"), (1 / 100, "1:100"),
    (1 / 200, "1:200"), (1 / 500, "1:500"), (1 / 1000, "1:1000"),
)  # fmt: skip
"""ISO 5455 with its intermediate reductions, largest first."""


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


@dataclass(frozen=True)
class Lettering:
    """Text sizes (em, mm) of a paper."""

    head: float
    dimension: float
    body: float
    least: float
    label: float
    value: float


@dataclass(frozen=True)
class Arrangement:
    """Boxes of a sheet."""

    paper: str
    width_mm: float
    height_mm: float
    lettering: Lettering
    frame: Box
    header: Box
    views: Box
    detail: Box
    caution: Box
    notes: tuple[Box, ...]
    title: Box


def lettering(paper: str) -> Lettering:
    if paper == "A3":
        return Lettering(head=5.5, dimension=3.5, body=3.9, least=2.6, label=2.1, value=3.0)
    return Lettering(head=4.4, dimension=2.9, body=3.0, least=1.9, label=1.75, value=2.5)


def arrangements(paper: str, title_height: float) -> tuple[Arrangement, Arrangement]:
    """(for long thin parts, for short wide parts)."""
    return _long(paper, title_height), _short(paper, title_height)


def _common(paper: str) -> tuple[float, float, Box, Box]:
    width, height = PAPERS_MM[paper]
    frame = Box(FRAME_MM, FRAME_MM, width - FRAME_MM, height - FRAME_MM)
    tall = 3.1 * lettering(paper).head
    return width, height, frame, Box(frame.left + 3, frame.top + 2, frame.right - 3, frame.top + 2 + tall)


def _long(paper: str, title_height: float) -> Arrangement:
    """Views across the sheet; below them detail and cautions, notes, and the title block."""
    width, height, frame, header = _common(paper)
    split = frame.top + 0.56 * frame.height
    first = frame.left + 0.31 * frame.width
    third = frame.left + 0.58 * frame.width
    middle = split + 0.5 * (frame.bottom - split)
    return Arrangement(
        paper, width, height, lettering(paper), frame, header,
        views=Box(frame.left + 3, header.bottom, frame.right - 2, split - 2),
        detail=Box(frame.left + 3, split, first - 3, middle - 1),
        caution=Box(frame.left + 3, middle + 1, first - 3, frame.bottom - 3),
        notes=(Box(first, split, third - 3, frame.bottom - 2),
               Box(third, split, frame.right - 3, frame.bottom - title_height - 2)),
        title=Box(third, frame.bottom - title_height, frame.right, frame.bottom),
    )  # fmt: skip


def _short(paper: str, title_height: float) -> Arrangement:
    """Views on the left over detail and cautions side by side; notes and title on the right."""
    width, height, frame, header = _common(paper)
    column = frame.left + 0.57 * frame.width
    split = frame.bottom - 0.245 * frame.height
    half = (frame.left + column) / 2
    return Arrangement(
        paper, width, height, lettering(paper), frame, header,
        views=Box(frame.left + 3, header.bottom, column - 3, split - 2),
        detail=Box(frame.left + 3, split, half - 1, frame.bottom - 3),
        caution=Box(half + 1, split, column - 3, frame.bottom - 3),
        notes=(Box(column, header.bottom, frame.right - 3, frame.bottom - title_height - 2),),
        title=Box(column, frame.bottom - title_height, frame.right, frame.bottom),
    )  # fmt: skip
