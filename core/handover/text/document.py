"""A document of words, tables and figures, before it is set on pages or written as Markdown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from core.handover.drawing.items import Item
from core.handover.sheet.layout import Box


@dataclass(frozen=True)
class Heading:
    """The title of a section."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    bold: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list without order."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Steps:
    """Things to do in order, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Caution:
    """Sentences in a wide frame."""

    heading: str
    items: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Rows of cells. `shares` are the widths against each other; columns in `right` hold numbers.

    `room_mm` is the least height of a row, for cells to write in; rows in `strong` are bold.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    right: tuple[int, ...] = ()
    room_mm: float = 0.0
    strong: tuple[int, ...] = ()


@dataclass(frozen=True)
class Figure:
    """A picture drawn into the box it gets; `words` say the same where nothing can be drawn."""

    height_mm: float
    draw: Callable[[Box], Sequence[Item]]
    caption: str
    words: tuple[str, ...] = ()


Block = Heading | Paragraph | Bullets | Steps | Caution | Table | Figure


@dataclass(frozen=True)
class Document:
    """`kind` names it in capitals, `receiver` says for whom; `identity` are its title fields."""

    kind: str
    receiver: str
    title: str
    identity: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]
    most_pages: int | None = None
    """Type is set smaller until it fits on so many pages; None takes what it needs."""
    at_the_bench: bool = False
    """Worked from with gloves on: set in larger type."""
