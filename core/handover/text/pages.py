"""Documents set on upright pages: headings stay with their text, tables break between rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from core.handover.drawing.items import Drawing, Item, Line, Polygon, SheetError, Text
from core.handover.drawing.lettering import fit, text_width_mm, words_of, wrap
from core.handover.sheet.layout import Box
from core.handover.text.document import (
    Block,
    Bullets,
    Caution,
    Document,
    Figure,
    Heading,
    Paragraph,
    Steps,
    Table,
)

PAGES_MM: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0), "A3": (297.0, 420.0), "Letter": (215.9, 279.4),
}  # fmt: skip
"""Upright pages to read."""
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 18.0, 14.0, 12.0, 12.0
HEAD_MM = 19.0
SIZE_MM, LEAST_MM = 3.0, 2.1
SHOP_MM = 3.45
"""Capitals of 2.5 mm for what is worked from."""
LEADING = 1.3
WHOLE_ROWS = 8
"""A table of no more rows is not broken between pages."""
PAD = 0.45
"""Above and below the words of a table row, of the text size."""


@dataclass(frozen=True)
class Chunk:
    """Something that stays on one page: its height, how it is drawn from a y, whether the next
    must follow on the same page, and what is repeated above it where a page begins with it."""

    height: float
    draw: Callable[[float], Iterator[Item]]
    keep: bool = False
    again: Chunk | None = None


def document_pages(document: Document, paper: str = "A4") -> tuple[Drawing, ...]:
    """The pages as drawings. SheetError where a document that must be short is too long even small."""
    size = SHOP_MM if document.at_the_bench else SIZE_MM
    while True:
        pages = _set(document, paper, size)
        if document.most_pages is None or len(pages) <= document.most_pages:
            return pages
        size -= 0.1
        if size < LEAST_MM:
            raise SheetError(
                f"The {document.kind.lower()} takes {len(pages)} pages instead of {document.most_pages}. "
                "Shorten the texts, or delete candidates that are no longer meant."
            )


def _set(document: Document, paper: str, size: float) -> tuple[Drawing, ...]:
    width, height = PAGES_MM.get(paper, PAGES_MM["A4"])
    body = Box(LEFT_MM, TOP_MM + HEAD_MM, width - RIGHT_MM, height - BOTTOM_MM)
    chunks = [chunk for block in document.blocks for chunk in _chunks(block, body, size)]
    pages: list[list[Item]] = []
    n = 0
    while n < len(chunks) or not pages:
        items: list[Item] = []
        y = body.top
        first = True
        while n < len(chunks):
            chunk = chunks[n]
            need = _together(chunks, n)
            repeat = chunk.again if first else None
            room = body.bottom - y - (repeat.height if repeat else 0.0)
            if need > room and not first:
                break
            if repeat:
                items += repeat.draw(y)
                y += repeat.height
            items += chunk.draw(y)
            y += chunk.height
            first = False
            n += 1
        pages.append(items)
    name = f"{document.title}: {document.kind.lower()}"
    return tuple(
        Drawing(paper, width, height, (*_head(document, width, k, len(pages)), *items),
                f"{name}, page {k} of {len(pages)}", document=name)
        for k, items in enumerate(pages, start=1)
    )  # fmt: skip


def _together(chunks: Sequence[Chunk], n: int) -> float:
    """Height of a chunk with all that must follow it on its page."""
    total = chunks[n].height
    while chunks[n].keep and n + 1 < len(chunks):
        n += 1
        total += chunks[n].height
    return total


def _head(document: Document, width: float, page: int, pages: int) -> Iterator[Item]:
    right = width - RIGHT_MM
    yield Text((LEFT_MM, TOP_MM + 4.0), document.kind, 4.6, "title block", bold=True)
    end = f"for {document.receiver}, page {page} of {pages}"
    yield Text((right, TOP_MM + 4.0), end, 2.8, "title block", "end")
    yield Text((LEFT_MM, TOP_MM + 9.4), fit(document.title, 3.6, right - LEFT_MM, True), 3.6,
               "title block", bold=True)  # fmt: skip
    words = ";  ".join(f"{name} {value}" for name, value in document.identity if value)
    yield Text((LEFT_MM, TOP_MM + 13.6), fit(words, 2.5, right - LEFT_MM), 2.5, "title block")
    yield Line((LEFT_MM, TOP_MM + 15.2), (right, TOP_MM + 15.2), "title block", "medium")


# ---- blocks ----------------------------------------------------------------------------------


def _chunks(block: Block, body: Box, size: float) -> Iterator[Chunk]:
    match block:
        case Heading(text):
            yield _heading(text, body, size)
        case Paragraph(text, bold):
            yield from _paragraph(text, body.left, body, size, bold)
            yield _space(0.35 * size)
        case Bullets(items):
            for text in items:
                yield from _hanging("\N{EN DASH}", text, body, size)
            yield _space(0.35 * size)
        case Steps(items):
            for n, text in enumerate(items, start=1):
                yield from _step(n, text, body, size)
            yield _space(0.35 * size)
        case Caution():
            yield _caution(block, body, size)
        case Table():
            yield from _table(block, body, size)
        case Figure():
            yield _figure(block, body, size)


def _space(height: float) -> Chunk:
    return Chunk(height, lambda _: iter(()))


def _heading(text: str, body: Box, size: float) -> Chunk:
    def draw(y: float) -> Iterator[Item]:
        yield Text((body.left, y + 2.0 * size), text, 1.18 * size, "text", bold=True)

    return Chunk(2.5 * size, draw, keep=True)


def _line(text: str, x: float, size: float, bold: bool) -> Chunk:
    def draw(y: float) -> Iterator[Item]:
        if text:
            yield Text((x, y + 0.95 * size), text, size, "text", bold=bold)

    return Chunk(LEADING * size, draw)


def _paragraph(text: str, x: float, body: Box, size: float, bold: bool = False) -> Iterator[Chunk]:
    lines = wrap(text, size, body.right - x, bold)
    for n, line in enumerate(lines):
        yield replace(_line(line, x, size, bold), keep=_keeps(n, len(lines)))


def _keeps(n: int, count: int) -> bool:
    """Whether line or row n of so many stays with the next: neither the first nor the last is left alone."""
    return n + 1 < count and (n == 0 or n == count - 2)


def _hanging(mark: str, text: str, body: Box, size: float) -> Iterator[Chunk]:
    x = body.left + 1.3 * size
    lines = wrap(text, size, body.right - x)
    for n, line in enumerate(lines):
        plain = _line(line, x, size, False)

        def draw(y: float, plain: Chunk = plain, first: bool = n == 0) -> Iterator[Item]:
            if first:
                yield Text((body.left, y + 0.95 * size), mark, size, "text")
            yield from plain.draw(y)

        yield Chunk(plain.height, draw, keep=_keeps(n, len(lines)))


def _step(n: int, text: str, body: Box, size: float) -> Iterator[Chunk]:
    """A box to tick, the number, the words; never split."""
    x = body.left + 4.2 * size
    lines = wrap(text, size, body.right - x)
    box = 1.1 * size

    def draw(y: float) -> Iterator[Item]:
        left, top = body.left, y + 0.1 * size
        corners = ((left, top), (left + box, top), (left + box, top + box), (left, top + box))
        yield Polygon(corners, "frame", "narrow")
        yield Text((left + 1.7 * size, y + 0.95 * size), f"{n}.", size, "text", bold=True)
        for k, line in enumerate(lines):
            if line:
                yield Text((x, y + 0.95 * size + k * LEADING * size), line, size, "text")

    yield Chunk(LEADING * size * len(lines) + 0.25 * size, draw)


def _caution(block: Caution, body: Box, size: float) -> Chunk:
    width = body.width - 3.0 * size
    lines = [line for text in block.items for line in wrap(text, size, width)]
    height = LEADING * size * (len(lines) + 1) + 1.2 * size

    def draw(y: float) -> Iterator[Item]:
        top, bottom = y + 0.4 * size, y + height - 0.2 * size
        corners = ((body.left, top), (body.right, top), (body.right, bottom), (body.left, bottom))
        yield Polygon(corners, "caution", "wide")
        at = top + 1.2 * size
        yield Text((body.left + 1.2 * size, at), block.heading, size, "caution", bold=True)
        for n, line in enumerate(lines, start=1):
            if line:
                yield Text((body.left + 1.2 * size, at + n * LEADING * size), line, size, "caution")

    return Chunk(height + 0.4 * size, draw)


def _figure(block: Figure, body: Box, size: float) -> Chunk:
    def draw(y: float) -> Iterator[Item]:
        yield from block.draw(Box(body.left, y + 1.0, body.right, y + block.height_mm - 1.0))
        caption = fit(block.caption, 0.9 * size, body.width)
        yield Text((body.left, y + block.height_mm + 0.9 * size), caption, 0.9 * size, "text")

    return Chunk(block.height_mm + 1.6 * size, draw)


# ---- tables ----------------------------------------------------------------------------------


def _table(table: Table, body: Box, size: float) -> Iterator[Chunk]:
    stops = _stops(table, body, size)
    head = (
        _row(table, table.heads, stops, body, 0.92 * size, bold=True, head=True) if any(table.heads) else None
    )
    if head:
        yield Chunk(head.height, head.draw, keep=True)
    for n, row in enumerate(table.rows):
        made = _row(table, row, stops, body, size, bold=n in table.strong)
        whole = len(table.rows) <= WHOLE_ROWS
        keep = n + 1 < len(table.rows) if whole else _keeps(n, len(table.rows))
        yield Chunk(made.height, made.draw, keep=keep, again=head)
    yield _space(0.7 * size)


def _stops(table: Table, body: Box, size: float) -> list[float]:
    """Edges of the columns by their shares; one too narrow for its longest word takes from those with room to spare."""
    wide = [body.width * share / sum(table.shares) for share in table.shares]
    rows = [(table.heads, 0.92 * size, True), *((row, size, n in table.strong) for n, row in enumerate(table.rows))]
    needed = [
        max((text_width_mm(word, much, bold) for cells, much, bold in rows for word in words_of(cells[k])), default=0.0)
        + size + 0.01
        for k in range(len(wide))
    ]  # fmt: skip
    short = sum(max(need - has, 0.0) for need, has in zip(needed, wide, strict=True))
    spare = sum(max(has - need, 0.0) for need, has in zip(needed, wide, strict=True))
    if 0.0 < short <= spare:
        wide = [max(need, has - (has - need) * short / spare) for need, has in zip(needed, wide, strict=True)]
    return list(accumulate(wide, initial=body.left))


def _row(
    table: Table, cells: Sequence[str], stops: Sequence[float], body: Box, size: float, *,
    bold: bool, head: bool = False,
) -> Chunk:  # fmt: skip
    gap = 0.5 * size
    wrapped = [
        wrap(cell, size, stops[k + 1] - stops[k] - 2 * gap, bold) if cell else ("",)
        for k, cell in enumerate(cells)
    ]
    deep = max(len(lines) for lines in wrapped)
    height = max((1.2 * deep + PAD) * size, 0.0 if head else table.room_mm)

    def draw(y: float) -> Iterator[Item]:
        for k, lines in enumerate(wrapped):
            number = k in table.right
            x = stops[k + 1] - gap if number else stops[k] + (gap if k else 0.0)
            for n, line in enumerate(lines):
                if line:
                    at = (x, y + (0.95 + 1.2 * n + PAD / 2) * size)
                    yield Text(at, line, size, "text", "end" if number else "start", bold)
        low = y + height
        yield Line((body.left, low), (body.right, low), "frame", "medium" if head else "fine")
        if table.room_mm:
            for x in stops[1:-1]:
                yield Line((x, y), (x, low), "frame", "fine")

    return Chunk(height, draw)
