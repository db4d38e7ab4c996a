"""Where the blocks of a sheet lie: paper sizes, frame, type sizes, the standard scales.

Two arrangements serve long thin and short wide parts; the one that shows the plan larger wins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

PAPERS_MM: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0), "A3": (420.0, 297.0), "Letter": (279.4, 215.9),
}  # fmt: skip
LEAST_MM = 3.45
"""Capitals of 2.5 mm (ISO 3098), to be read at the bench and with gloves on."""
FILING_MM, FRAME_MM = 20.0, 10.0
"""From the paper's edge to the frame, on the left and elsewhere (ISO 5457)."""
GO_ON_MM = 5.0
"""Between the notes and the title block, for the words that they go on."""
CENTRING_MM = 5.0
"""Length of the marks in the middle of each side, outside the frame."""

SCALES: tuple[tuple[float, str], ...] = (
    (10, "10:1"), (5, "5:1"), (2, "2:1"), (1, "1:1"), (1 / 2, "1:2"), (1 / 5, "1:5"), (1 / 10, "1:10"),
    (1 / 20, "1:20"), (1 / 50, "1:50"), (1 / 100, "1:100"), (1 / 200, "1:200"), (1 / 500, "1:500"),
    (1 / 1000, "1:1000"),
)  # fmt: skip
"""ISO 5455, largest first."""


@dataclass(frozen=True)
class Box:
    """A rectangle on the paper, mm, y down."""

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
    """What the shop works from has capitals of 2.5 mm and more; field names may be smaller."""
    if paper == "A3":
        return Lettering(head=5.5, dimension=3.5, body=3.9, least=LEAST_MM, label=2.1, value=3.0)
    return Lettering(head=4.4, dimension=LEAST_MM, body=3.7, least=LEAST_MM, label=1.75, value=2.5)


CROWDED_MM = 2.9
"""Lettering of dimensions where a paper does not hold them otherwise."""


def arrangements(paper: str, title_height: float) -> tuple[Arrangement, ...]:
    """(for long thin parts, for short wide parts)."""
    return _long(paper, title_height), _short(paper, title_height)


def crowded(made: tuple[Arrangement, ...]) -> tuple[Arrangement, ...]:
    """The same with smaller dimensions."""
    return tuple(replace(a, lettering=replace(a.lettering, dimension=CROWDED_MM)) for a in made)


def frame_of(paper: str) -> Box:
    """The frame of a paper, with its filing margin on the left (ISO 5457)."""
    width, height = PAPERS_MM[paper]
    return Box(FILING_MM, FRAME_MM, width - FRAME_MM, height - FRAME_MM)


def continued(paper: str, title_height: float) -> Arrangement:
    """A sheet of notes alone, in two columns over the title block."""
    width, height, frame, header = _common(paper)
    middle = (frame.left + frame.right) / 2
    title = Box(frame.left + 0.42 * frame.width, frame.bottom - title_height, frame.right, frame.bottom)
    none = Box(frame.left, frame.bottom, frame.left, frame.bottom)
    return Arrangement(
        paper, width, height, lettering(paper), frame, header, views=none, detail=none, caution=none,
        notes=(Box(frame.left + 3, header.bottom + 2, middle - 3, title.top - GO_ON_MM),
               Box(middle + 3, header.bottom + 2, frame.right - 3, title.top - GO_ON_MM)),
        title=title,
    )  # fmt: skip


def _common(paper: str) -> tuple[float, float, Box, Box]:
    width, height = PAPERS_MM[paper]
    frame = frame_of(paper)
    tall = 3.1 * lettering(paper).head
    return width, height, frame, Box(frame.left + 3, frame.top + 2, frame.right - 3, frame.top + 2 + tall)


def _long(paper: str, title_height: float) -> Arrangement:
    """Views across the sheet; below them detail and cautions, notes, and the title block."""
    width, height, frame, header = _common(paper)
    split = frame.top + (0.56 if paper == "A3" else 0.61) * frame.height
    first = frame.left + 0.29 * frame.width
    third = frame.left + 0.58 * frame.width
    middle = split + 0.5 * (frame.bottom - split)
    detail = Box(frame.left + 3, split, first - 3, frame.bottom - 3)
    caution = Box(first, split, third - 3, frame.bottom - 3)
    notes = [Box(third, split, frame.right - 3, frame.bottom - title_height - GO_ON_MM)]
    if paper == "A3":  # room for the notes, or most of them, beside the views
        detail = Box(frame.left + 3, split, first - 3, middle - 9)
        caution = Box(frame.left + 3, middle - 7, first - 3, frame.bottom - 3)
        notes = [Box(first, split, third - 3, frame.bottom - 2), *notes]
    return Arrangement(
        paper, width, height, lettering(paper), frame, header,
        views=Box(frame.left + 3, header.bottom, frame.right - 2, split - 2), detail=detail, caution=caution,
        notes=tuple(notes), title=Box(third, frame.bottom - title_height, frame.right, frame.bottom),
    )  # fmt: skip


def _short(paper: str, title_height: float) -> Arrangement:
    """Views on the left over detail and cautions side by side; notes and title on the right."""
    width, height, frame, header = _common(paper)
    column = frame.left + 0.6 * frame.width
    split = frame.bottom - (0.25 if paper == "A3" else 0.31) * frame.height
    half = frame.left + 0.45 * (column - frame.left)
    return Arrangement(
        paper, width, height, lettering(paper), frame, header,
        views=Box(frame.left + 3, header.bottom, column - 3, split - 2),
        detail=Box(frame.left + 3, split, half - 1, frame.bottom - 3),
        caution=Box(half + 1, split, column - 3, frame.bottom - 3),
        notes=(Box(column, header.bottom + 2, frame.right - 3, frame.bottom - title_height - GO_ON_MM),),
        title=Box(column, frame.bottom - title_height, frame.right, frame.bottom),
    )  # fmt: skip
