"""Notes set in columns: the largest type that fits, headings kept with their text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.handover.drawing.items import Item, SheetError, Text
from core.handover.drawing.lettering import wrap
from core.handover.sheet.clouds import Earlier, around_lines
from core.handover.sheet.layout import Box, Lettering
from core.handover.sheet.notes import Block

LEADING = 1.25
WHOLE_LINES = 3
"""A paragraph of no more lines is not broken between columns."""
HEADING_GAP = 0.45
"""Blank above a heading, in lines."""


@dataclass(frozen=True)
class Flow:
    """Lines set in boxes, and the blocks that found no room there."""

    items: tuple[Item, ...]
    rest: tuple[Block, ...]


def set_in_columns(
    blocks: Sequence[Block], boxes: Sequence[Box], letters: Lettering, earlier: Earlier | None = None
) -> Flow:
    """The blocks as text lines in the boxes, first box first, as large as all of them fit.

    Around each paragraph the earlier sheet did not have lies a cloud. Where even the least type does
    not hold them, what is left over is given back.
    """
    size = letters.body
    while size > letters.least + 1e-9:
        made = _set(blocks, boxes, size, earlier)
        if not made.rest:
            return made
        size -= 0.05
    return _set(blocks, boxes, letters.least, earlier)


def _set(blocks: Sequence[Block], boxes: Sequence[Box], size: float, earlier: Earlier | None) -> Flow:
    texts: list[Item] = []
    step, n, y = LEADING * size, 0, boxes[0].top
    for at, (heading, paragraphs) in enumerate(blocks):
        first = True
        for done, paragraph in enumerate(paragraphs):
            later = ((heading, paragraphs[done:]), *blocks[at + 1 :])
            # wrapped anew where a column of another width begins
            lines = list(wrap(paragraph, size, boxes[n].width))
            need = (1 + HEADING_GAP) * step if first else 0.0
            need += (len(lines) if len(lines) <= WHOLE_LINES else 2) * step
            if y + need > boxes[n].bottom:
                if n + 1 == len(boxes):
                    return Flow(tuple(texts), later)
                n, y = n + 1, boxes[n + 1].top
                lines = list(wrap(paragraph, size, boxes[n].width))
            if first:
                y += (HEADING_GAP if y > boxes[n].top else 0.0) * step + step
                texts.append(Text((boxes[n].left, y - 0.3 * step), heading, size, "text", bold=True))
                first = False
            placed: list[Text] = []
            new = earlier is not None and paragraph not in earlier.paragraphs
            while lines:
                if y + step > boxes[n].bottom:
                    if new and placed:
                        texts.append(around_lines(placed, boxes[n].right))
                        placed = []
                    n += 1
                    if n == len(boxes):
                        left = (heading, (" ".join(lines), *paragraphs[done + 1 :]))
                        return Flow(tuple(texts), (left, *blocks[at + 1 :]))
                    y, lines = boxes[n].top, list(wrap(" ".join(lines), size, boxes[n].width))
                y += step
                placed.append(Text((boxes[n].left, y - 0.3 * step), lines.pop(0), size, "text"))
                texts.append(placed[-1])
            if new and placed:
                texts.append(around_lines(placed, boxes[n].right))
    return Flow(tuple(texts), ())


def set_in_box(heading: str, lines: Sequence[str], box: Box, letters: Lettering) -> tuple[Item, ...]:
    """Heading and sentences filling one box, as large as they fit; SheetError where they do not."""
    made = set_in_columns(((heading, tuple(lines)),), (box,), letters)
    if made.rest:
        raise SheetError(f'"{heading}" does not fit on the sheet. Choose a larger paper.')
    return made.items
