"""Labels in the rows above and below the plan: supports, keep-outs, small packages, leads, datum A."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from core.handover.dimensions import Row
from core.handover.items import DatumSymbol, Item, Line, Point, Text, View
from core.handover.layout import Lettering
from core.handover.lettering import text_width_mm
from core.handover.plan_view import LEAD_MM, SUPPORT_MM, edge, label_fits, supports
from core.handover.subject import Subject

LABEL_REACH_MM = 12.0
"""How far from its zone a label may stand before a shorter one is tried."""
SUPPORT_WORDS = {
    "clamped": "support, ref.",
    "elastic": "elastic support, ref.",
    "pinned": "pinned support, ref.",
    "guided": "guided support, ref.",
}
SYMBOL_MM = 11.0


def datum_a_items(subject: Subject, view: View, row: Row, middle: float) -> Iterator[Item]:
    """The symbol of datum A on its extension line, on the side where no other line crosses."""
    x = view.at(subject.datums.a_mm, 0.0)[0]
    others = [line for line in row.lines if abs(line - x) > 1e-6]
    left_free = not any(x - SYMBOL_MM - 0.5 < line < x for line in others)
    towards: Literal["left", "right"] = "left" if left_free else "right"
    row.reserve(x, x - SYMBOL_MM if left_free else x + SYMBOL_MM)
    yield DatumSymbol((x, middle), towards, "A")


def upper_labels(
    subject: Subject, view: View, row: Row, base: float, letters: Lettering
) -> Iterator[Item]:
    """Names of supports, keep-outs and of packages too small to hold theirs."""
    size = letters.dimension
    for x, outward, kind in supports(subject):
        words = SUPPORT_WORDS[kind]
        at = view.at(x, 0.0)[0] + outward * SUPPORT_MM / 2
        yield from _label(row, words, at, base, size, None)
    for n, zone in enumerate(subject.keep_outs, start=1):
        middle = 500 * (zone.x_start_m + zone.x_end_m)
        foot = edge(view, subject, middle, False)
        if zone.polygon_m is not None:
            corners = [view.at(1e3 * x, 1e3 * y) for x, y in zone.polygon_m]
            foot = min(corners, key=lambda p: p[1])
        names = (f"K{n} keep clear: {zone.name}", f"K{n} keep clear", f"K{n}")
        words = _shortened(row, names, foot[0], size)
        yield from _label(row, words, foot[0], base, size, foot)
    for placed in subject.placed:
        if not label_fits(placed, view, letters):
            foot = min((view.at(*p) for p in placed.outline), key=lambda p: p[1])
            yield from _label(row, placed.id, foot[0], base, size, foot, bold=True)


def lead_labels(
    subject: Subject, view: View, row: Row, base: float, letters: Lettering
) -> Iterator[Item]:
    for placed in subject.placed:
        ux, _ = placed.direction(placed.patch.lead_exit)
        reach = placed.half_extent(placed.patch.lead_exit)
        x = view.at(placed.centre[0] + reach * ux, 0.0)[0] + 0.7 * LEAD_MM * ux
        name = "leads" if len(subject.placed) == 1 else f"{placed.id} leads"
        words = f"{name} {1e3 * placed.package.lead_length_m:.0f}"
        yield from _label(row, words, x, base, letters.dimension, None)


def _shortened(row: Row, names: tuple[str, ...], wanted: float, size: float) -> str:
    """The longest name that finds room near its place."""
    for words in names[:-1]:
        width = text_width_mm(words, size)
        if row.has_room(width, wanted, width / 2 + LABEL_REACH_MM):
            return words
    return names[-1]


def _label(
    row: Row, words: str, wanted: float, base: float, size: float, foot: Point | None, bold: bool = False
) -> Iterator[Item]:
    centre = row.place(text_width_mm(words, size, bold), wanted)
    if centre is None:
        return
    yield Text((centre, base), words, size, "text", "middle", bold)
    if foot is not None:
        half = text_width_mm(words, size, bold) / 2
        start = min(max(foot[0], centre - half), centre + half)
        yield Line((start, base + 0.3 * size), foot, "text", "fine")
