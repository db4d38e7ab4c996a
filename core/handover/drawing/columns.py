"""Notes set in columns: the largest type that fits, headings kept with their text."""

from __future__ import annotations

from collections.abc import Sequence

from core.handover.drawing.items import Item, SheetError, Text
from core.handover.drawing.lettering import wrap
from core.handover.sheet.clouds import Earlier, around_lines
from core.handover.sheet.layout import Box, Lettering
from core.handover.sheet.notes import Block

LEADING = 1.25
HEADING_GAP = 0.45
"""Blank above a heading, in lines."""


def set_in_columns(
    blocks: Sequence[Block], boxes: Sequence[Box], letters: Lettering, earlier: Earlier | None = None
) -> tuple[Item, ...]:
    """The blocks as text lines in the boxes, first box first, with a cloud around each paragraph
    the earlier sheet did not have; SheetError where even the least type does not hold them."""
    size = letters.body
    while size >= letters.least - 1e-9:
        made = _set(blocks, boxes, size, earlier)
        if made is not None:
            return made
        size -= 0.05
    raise SheetError("The notes do not fit on the sheet. Shorten them or choose a larger paper.")


def _set(
    blocks: Sequence[Block], boxes: Sequence[Box], size: float, earlier: Earlier | None
) -> tuple[Item, ...] | None:
    texts: list[Item] = []
    step, n, y = LEADING * size, 0, boxes[0].top
    for heading, paragraphs in blocks:
        first = True
        for paragraph in paragraphs:
            # wrapped anew where a column of another width begins
            lines = list(wrap(paragraph, size, boxes[n].width))
            need = (1 + HEADING_GAP + min(2, len(lines))) * step if first else step
            if y + need > boxes[n].bottom:
                n, y = n + 1, boxes[min(n + 1, len(boxes) - 1)].top
                if n == len(boxes):
                    return None
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
                        return None
                    y, lines = boxes[n].top, list(wrap(" ".join(lines), size, boxes[n].width))
                y += step
                placed.append(Text((boxes[n].left, y - 0.3 * step), lines.pop(0), size, "text"))
                texts.append(placed[-1])
            if new and placed:
                texts.append(around_lines(placed, boxes[n].right))
    return tuple(texts)


def set_in_box(heading: str, lines: Sequence[str], box: Box, letters: Lettering) -> tuple[Item, ...]:
    """Heading and sentences filling one box, as large as they fit."""
    return tuple(set_in_columns(((heading, tuple(lines)),), (box,), letters))
