"""Plan and side view stacked on one x axis, at the largest standard scale that fits."""

from __future__ import annotations

from dataclasses import dataclass

from core.handover.drawing.dimensions import Row, at_level, crossings, on_levels
from core.handover.drawing.items import Dimension, Item, SheetError, Text, View
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.layout import SCALES, Arrangement, Box, Lettering, crowded
from core.handover.sheet.plan_dimensions import across_items, lower_dimensions, right_margin, upper_dimensions
from core.handover.sheet.plan_labels import datum_a_items, lead_labels, lead_lines, upper_labels
from core.handover.sheet.plan_view import (
    SUPPORT_MM,
    keep_out_items,
    other_datums,
    package_items,
    part_items,
    supports,
)
from core.handover.sheet.side_view import side_height, side_items
from core.handover.sheet.subject import Subject
from core.handover.sheet.tuned_masses import plan_items as tuned_mass_items

GAP_MM = 2.5
STEPS = (2.1, 1.75)
"""From one dimension line to the next, of the text size: easy to read, and close."""
WORTH = 1.3
SYMBOL_ROW_MM = 4.4
"""Middle of the row of datum symbols and lead labels, below the plan."""


@dataclass(frozen=True)
class Views:
    """The views of one face as drawn, with the plan and the name of its scale."""

    items: tuple[Item, ...]
    view: View
    scale_name: str
    in_plan: int
    """How many of the items, from the first, lie in the plan at its scale."""


def fitting_views(subject: Subject, arrangement: Arrangement) -> Views | None:
    """The views at the largest scale of the series that fits the box; None where none does.

    Dimension lines move closer together only where that gains a clearly larger scale.
    """
    easy, tight = (_largest(subject, arrangement, step) for step in STEPS)
    if easy is None or (tight is not None and tight.view.scale > WORTH * easy.view.scale):
        return tight
    return easy


def _largest(subject: Subject, arrangement: Arrangement, step: float) -> Views | None:
    for scale, name in SCALES:
        made = _at_scale(subject, arrangement.views, arrangement.lettering, scale, name, step)
        if made is not None:
            return made
    return None


def largest_views(subject: Subject, choices: tuple[Arrangement, ...]) -> tuple[Views, Arrangement]:
    """Views and arrangement with the largest scale; the first of equals."""
    fitting: list[tuple[Views, Arrangement]] = []
    for tried in (choices, crowded(choices)):
        fitting = fitting or [(v, a) for a in tried if (v := fitting_views(subject, a)) is not None]
    if not fitting:
        raise SheetError(
            f"The {subject.face} face of candidate {subject.candidate.id} carries more dimensions than "
            f"{choices[0].paper} holds. Choose a larger paper or spread the patches over candidates."
        )
    return max(fitting, key=lambda pair: pair[0].view.scale)


def _at_scale(
    subject: Subject, box: Box, letters: Lettering, scale: float, name: str, lines: float
) -> Views | None:
    left, right = _margins(subject, letters, scale, name)
    room = box.width - left - right - scale * subject.span_mm
    if room < 0:
        return None
    x0 = box.left + left + room / 2
    # heights first, on a view whose vertical origin does not matter
    upper, lower = _leveled(subject, View("plan", (x0, 0.0), scale, subject.flip_y), letters, box)
    step = lines * letters.dimension
    row_up = 2.6 * letters.dimension if _has_upper_labels(subject) else 1.5
    row_down = 7.0
    plan_mm = scale * subject.tallest_mm
    above = step * _levels(upper) + row_up
    below = row_down + step * _levels(lower)
    room = box.height - above - plan_mm - below - GAP_MM - side_height(subject, letters)
    if room < 0:
        return None
    top = box.top + min(0.35 * room, 8.0) + above
    view = View("plan", (x0, top + plan_mm / 2), scale, subject.flip_y)
    plan = _draw_plan(subject, view, letters, box, row_up, row_down, step)
    side = top + plan_mm + row_down + step * _levels(lower) + GAP_MM + 0.3 * max(room, 0.0)
    rest = (*side_items(subject, view, side, letters), *_names(subject, box, view, side, letters, name))
    return Views((*plan, *rest), view, name, len(plan))


def _margins(subject: Subject, letters: Lettering, scale: float, name: str) -> tuple[float, float]:
    held = supports(subject)
    label = max(text_width_mm(words, letters.dimension, True) for words in ("Side", "Plan", name)) + 3.0
    left = label + (SUPPORT_MM + 3.0 if any(outward < 0 for _, outward, _ in held) else 4.0)
    left = max(left, label + 12.0 - scale * min(0.0, subject.datums.a_mm))
    right = right_margin(subject, letters)
    if any(outward > 0 for _, outward, _ in held):
        right += SUPPORT_MM
    return left, right


def _leveled(
    subject: Subject, view: View, letters: Lettering, box: Box
) -> tuple[tuple[tuple[Dimension, int], ...], ...]:
    low, high = box.left, view.at(subject.span_mm, 0.0)[0] + 1.0
    functional, checks = lower_dimensions(subject, view, letters)
    orders = ((functional, checks), (checks, functional), ([*functional, *checks],))
    below = [on_levels(order, low, high) for order in orders]
    return (
        on_levels(upper_dimensions(subject, view, letters), low, high),
        min(below, key=lambda placed: (_levels(placed), crossings(placed))),
    )


def _levels(dimensions: tuple[tuple[Dimension, int], ...]) -> int:
    return 1 + max((level for _, level in dimensions), default=-1)


def _has_upper_labels(subject: Subject) -> bool:
    structure = subject.project.structure
    named = subject.keep_outs or subject.tuned_masses or structure.masses or structure.springs or other_datums(subject)
    return bool(named or supports(subject))


def _draw_plan(
    subject: Subject, view: View, letters: Lettering, box: Box, row_up: float, row_down: float, step: float
) -> tuple[Item, ...]:
    half = view.scale * subject.tallest_mm / 2
    top, bottom = view.origin[1] - half, view.origin[1] + half
    upper, lower = _leveled(subject, view, letters, box)
    items: list[Item] = [*keep_out_items(subject, view), *part_items(subject, view)]
    items += package_items(subject, view, letters)
    items += tuned_mass_items(subject, view)
    dims: list[Dimension] = [at_level(d, top - row_up - step * level - 0.3) for d, level in upper]
    dims += [at_level(d, bottom + row_down + step * (level + 0.8)) for d, level in lower]
    # the furthest first: a nearer text clears the extension lines that pass it
    dims.sort(key=lambda dimension: -abs(dimension.line_at - view.origin[1]))
    items += dims
    high = view.at(subject.span_mm, 0.0)[0]
    leads = lead_lines(subject, view)
    row = Row(box.left, high + 2.0, _crossing(upper) + leads)
    items += upper_labels(subject, view, row, top - 2.8, letters)
    row = Row(box.left, high + 2.0, _crossing(lower) + leads)
    items += datum_a_items(subject, view, row, bottom + SYMBOL_ROW_MM)
    items += lead_labels(subject, view, row, bottom + SYMBOL_ROW_MM + 0.36 * letters.dimension, letters)
    items += across_items(subject, view, letters)
    return tuple(items)


def _crossing(dimensions: tuple[tuple[Dimension, int], ...]) -> list[float]:
    return [x for d, _ in dimensions for x in (d.start[0], d.end[0])]


def _names(subject: Subject, box: Box, view: View, side: float, letters: Lettering, name: str) -> list[Item]:
    size = letters.dimension
    middle = side + side_height(subject, letters) / 2
    left = max(box.left, view.at(0.0, 0.0)[0] - _margins(subject, letters, view.scale, name)[0] - 6.0)
    return [
        Text((left, view.origin[1]), "Plan", size, "text", bold=True),
        Text((left, view.origin[1] + 1.3 * size), name, size, "text"),
        Text((left, middle), "Side", size, "text", bold=True),
        Text((left, middle + 1.3 * size), "z not", size, "text"),
        Text((left, middle + 2.6 * size), "true", size, "text"),
    ]
