"""Labels in the rows above and below the plan: supports, keep-outs, small packages, leads, datum A."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from core.handover.drawing.dimensions import Row
from core.handover.drawing.items import DatumSymbol, Item, Line, Point, Text, View
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.layout import Lettering
from core.handover.sheet.plan_view import (
    LEAD_MM,
    MASS_MM,
    SUPPORT_MM,
    edge,
    mass_at,
    other_datums,
    supports,
    words_inside,
)
from core.handover.sheet.subject import Placed, Subject
from core.handover.sheet.tuned_masses import RING_MM

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
    """The symbol of datum A on its extension line, on the side where no other line crosses.

    At the tip it stays on the left: the other side is datum B's.
    """
    x = view.at(subject.datums.a_mm, 0.0)[0]
    others = [line for line in row.lines if abs(line - x) > 1e-6]
    at_tip = subject.datums.a_mm > subject.span_mm - SYMBOL_MM / view.scale
    left = at_tip or not any(x - SYMBOL_MM - 0.5 < line < x for line in others)
    towards: Literal["left", "right"] = "left" if left else "right"
    row.reserve(x, x - SYMBOL_MM if left else x + SYMBOL_MM)
    yield DatumSymbol((x, middle), towards, "A")


def upper_labels(subject: Subject, view: View, row: Row, base: float, letters: Lettering) -> Iterator[Item]:
    """Names of supports, springs, keep-outs, other features, masses, and of packages too small to hold theirs."""
    size = letters.dimension
    for x, outward, kind in supports(subject):
        words = SUPPORT_WORDS[kind]
        at = view.at(x, 0.0)[0] + outward * SUPPORT_MM / 2
        yield from _label(row, words, at, base, size, None)
    for mass in subject.project.structure.masses:
        x, y = mass_at(subject, view, mass)
        yield from _label(row, f"{mass.name}, ref.", x, base, size, (x, y - MASS_MM))
    for spring in subject.project.structure.springs:
        x = 1e3 * spring.x_m
        yield from _label(
            row, f"{spring.name}, ref.", view.at(x, 0.0)[0], base, size, edge(view, subject, x, False)
        )
    for n, zone in enumerate(subject.keep_outs, start=1):
        middle = 500 * (zone.x_start_m + zone.x_end_m)
        foot = edge(view, subject, middle, False)
        if zone.polygon_m is not None:
            corners = [view.at(1e3 * x, 1e3 * y) for x, y in zone.polygon_m]
            foot = min(corners, key=lambda p: p[1])
        names = (f"Z{n} keep clear: {zone.name}", f"Z{n} keep clear", f"Z{n}")
        words = _shortened(row, names, foot[0], size)
        yield from _label(row, words, foot[0], base, size, foot)
    for datum in other_datums(subject):
        foot = edge(view, subject, 1e3 * datum.x_m, False)
        yield from _label(row, f"{datum.name}, ref.", foot[0], base, size, foot)
    for one in subject.tuned_masses:
        x, y = view.at(1e3 * one.x_m, 0.0)
        yield from _label(row, one.id, x, base, size, (x, y - RING_MM), bold=True)
    for placed in subject.placed:
        if not words_inside(placed, view, letters):
            x, y = view.at(*placed.centre)
            foot = (x, y - placed.half_extent("left") * view.scale)
            yield from _label(row, placed.id, x, base, size, foot, bold=True)


def lead_labels(subject: Subject, view: View, row: Row, base: float, letters: Lettering) -> Iterator[Item]:
    """Length of the leads near the first package that has such leads."""
    same: dict[float, list[Placed]] = {}
    for placed in subject.placed:
        same.setdefault(placed.package.lead_length_m, []).append(placed)
    for length, group in same.items():
        first = group[0]
        ux, _ = first.direction(first.patch.lead_exit)
        reach = first.half_extent(first.patch.lead_exit)
        x = view.at(first.centre[0] + reach * ux, 0.0)[0] + 0.7 * LEAD_MM * ux
        words = f"leads {1e3 * length:.0f}"
        if len(same) > 1:
            words = f"{', '.join(p.id for p in group)} {words}"
        elif len(group) > 1:
            words += f", {len(group)}x"
        yield from _label(row, words, x, base, letters.dimension, None)


def lead_lines(subject: Subject, view: View) -> list[float]:
    """Paper x of lead arrows that leave across the part and may pass a row of labels."""
    across = [p for p in subject.placed if p.patch.lead_exit in ("left", "right")]
    return [view.at(*p.centre)[0] for p in across]


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
