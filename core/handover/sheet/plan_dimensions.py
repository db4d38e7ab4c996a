"""The dimensions of the plan: every one from a datum, or in brackets for reference."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import groupby

from core.handover.drawing.dimensions import Wanted, matched, number, plus_minus
from core.handover.drawing.items import Arrow, Dash, DatumSymbol, Dimension, Item, Line, Point, Text, View
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.layout import Lettering
from core.handover.sheet.plan_view import SUPPORT_MM, edge, supports
from core.handover.sheet.subject import Placed, Subject
from core.handover.sheet.tolerances import across_m, along_m, limits
from core.handover.sheet.tuned_masses import dimensions as tuned_mass_dimensions

COLUMN_START_MM = 13.0
EVEN_MM = 0.05
"""The axis runs in the middle of a width whose edges differ by no more."""


def nearest_edge(subject: Subject, placed: Placed) -> tuple[float, float]:
    """Middle of the package edge nearest to datum A, model mm."""
    a = subject.datums.a_mm
    return min((placed.root_edge, placed.tip_edge), key=lambda p: abs(p[0] - a))


def check_edge(subject: Subject, placed: Placed) -> tuple[float, float]:
    """Middle of the package edge nearest to the far end, model mm."""
    far = subject.datums.far_mm
    return min((placed.root_edge, placed.tip_edge), key=lambda p: abs(p[0] - far))


def lower_dimensions(subject: Subject, view: View, letters: Lettering) -> tuple[list[Wanted], ...]:
    """(from datum A to each package edge and tuned mass, functional; checks from the far end in brackets)."""
    size = letters.dimension
    a, far = subject.datums.a_mm, subject.datums.far_mm
    start, other = edge(view, subject, a, True), edge(view, subject, far, True)
    functional: list[Wanted] = []
    checks: list[Wanted] = []
    for edge_of, into in ((nearest_edge, functional), (check_edge, checks)):
        for middle, group in _at_same_x(subject, edge_of):
            who, placed = ", ".join(p.id for p in group), _lowest(subject, group)
            foot = _foot(placed, view, middle)
            if into is functional:
                value = abs(middle[0] - a)
                tolerance = _along(subject, tuple(group))
                words = f"A to {who} {matched(value, tolerance)}"
                into.append(Wanted(start, foot, value, words, view.scale, size, tolerance))
            else:
                value = abs(middle[0] - far)
                words = f"({matched(value, _along(subject, tuple(group)))}) {who} from {subject.datums.far_name}"
                into.append(Wanted(other, foot, value, words, view.scale, size, reference=True))
    functional += tuned_mass_dimensions(subject, view, letters)
    return functional, checks


def written_along(subject: Subject, placed: Placed) -> str:
    """Distance of a package from A with its tolerance, as on the diagram."""
    value = abs(nearest_edge(subject, placed)[0] - subject.datums.a_mm)
    tolerance = _along(subject, _sharing(subject, placed))
    return f"A to {placed.id} {matched(value, tolerance)} {tolerance}"


def _along(subject: Subject, placed: tuple[Placed, ...]) -> str:
    """Tolerance of the distance from A: more is away from A, whichever way that is."""
    tip, root = along_m(subject.project, subject.candidate, placed)
    beyond = nearest_edge(subject, placed[0])[0] >= subject.datums.a_mm
    return limits(tip, root) if beyond else limits(root, tip)


def _sharing(subject: Subject, placed: Placed) -> tuple[Placed, ...]:
    """The packages that share this one's dimension from A."""
    groups = (group for _, group in _at_same_x(subject, nearest_edge))
    return tuple(next(group for group in groups if placed in group))


def _at_same_x(
    subject: Subject, edge_of: Callable[[Subject, Placed], tuple[float, float]]
) -> list[tuple[tuple[float, float], list[Placed]]]:
    """Packages whose edge lies at the same x share a dimension: (edge middle of the lowest, all of them)."""
    same: dict[tuple[float, bool], list[Placed]] = {}
    for placed in subject.placed:
        same.setdefault((round(edge_of(subject, placed)[0], 6), placed.turned), []).append(placed)
    return [(edge_of(subject, _lowest(subject, group)), group) for group in same.values()]


def _lowest(subject: Subject, group: list[Placed]) -> Placed:
    """The package nearest to the lower edge of the paper."""
    return min(group, key=lambda p: subject.flip_y * p.centre[1])


def _foot(placed: Placed, view: View, edge_middle: tuple[float, float]) -> Point:
    """Where an extension line leaves a package: its lower corner, or the edge's middle if turned."""
    x, y = view.at(*edge_middle)
    if placed.turned:
        return (x, y)
    return (x, y + placed.half_extent("left") * view.scale)


def upper_dimensions(subject: Subject, view: View, letters: Lettering) -> tuple[list[Wanted], ...]:
    """Ceramic, package and free span, all for reference."""
    size = letters.dimension
    ceramic: list[Wanted] = []
    package: list[Wanted] = []
    for placed, times in _distinct(subject):
        kinds = ((ceramic, placed.ceramic, "ceramic"), (package, placed.outline, "package"))
        for into, corners, name in kinds:
            points = [view.at(*p) for p in corners]
            top = min(p[1] for p in points)
            value = corners[1][0] - corners[0][0]
            words = f"({number(value)}) {name}{times}"
            into.append(Wanted(
                (points[0][0], top), (points[1][0], top), value, words, view.scale, size, reference=True,
            ))  # fmt: skip
    span = subject.span_mm
    whole = Wanted(
        edge(view, subject, 0.0, False), edge(view, subject, span, False), span,
        f"({number(span)}) free span, ref.", view.scale, size, reference=True,
    )  # fmt: skip
    return ceramic, package, [whole]


def _distinct(subject: Subject) -> list[tuple[Placed, str]]:
    """One unturned package of each length, with how often it occurs or whose it is."""
    same: dict[tuple[float, float], list[Placed]] = {}
    for placed in subject.placed:
        if not placed.turned:
            same.setdefault((placed.patch.length_m, placed.package.margin_m), []).append(placed)
    if len(same) == 1:
        first = next(iter(same.values()))
        return [(first[0], f", {len(first)}x" if len(first) > 1 else "")]
    return [(group[0], " " + ", ".join(p.id for p in group)) for group in same.values()]


Column = tuple[tuple[float, float], list[Placed]]


def columns(subject: Subject) -> list[Column]:
    """Packages that share distance from B and angle, keyed by (y in mm, angle)."""

    def key(placed: Placed) -> tuple[float, float]:
        return (round(nearest_edge(subject, placed)[1], 6), round(placed.patch.angle_rad, 9))

    return [(k, list(group)) for k, group in groupby(sorted(subject.placed, key=key), key=key)]


def column_words(subject: Subject, column: Column) -> tuple[str, str, str]:
    """(who, distance from B with tolerance, angle with tolerance) for a column."""
    (y, angle), placed = column
    sheet, b = subject.project.sheet, subject.datums.b_mm
    who = ", ".join(p.id for p in placed)
    distance = abs(y - (0.0 if b is None else b))
    tolerance = _across(subject, placed)
    across = f"{matched(distance, tolerance)} {tolerance}"
    limit = plus_minus(math.degrees(sheet.tolerance_angle_rad))
    return f"B to {who}", across, f"{matched(math.degrees(angle), limit)}° {limit}°"


def _across(subject: Subject, placed: list[Placed]) -> str:
    return plus_minus(1e3 * across_m(subject.project, subject.candidate, tuple(placed)))


def column_width(subject: Subject, column: Column, letters: Lettering) -> float:
    """Width that a column of dimensions right of the plan takes, mm."""
    return 5.0 + max(text_width_mm(words, letters.dimension) for words in column_words(subject, column))


def right_margin(subject: Subject, letters: Lettering) -> float:
    """Room right of the plan for all its columns of dimensions, mm."""
    return COLUMN_START_MM + sum(column_width(subject, column, letters) for column in columns(subject))


def _of_the_width(subject: Subject, view: View, x: float) -> Iterator[Item]:
    """The datum of a centreline: its triangle goes on from the arrow of the dimension whose middle it is
    (ISO 5459), here the largest width; a triangle on the line itself would make a datum of that line."""
    low, high = subject.widest_mm
    upper, lower = sorted((view.at(low[0], low[1]), view.at(high[0], high[1])), key=lambda p: p[1])
    for point in (upper, lower):
        yield Line((point[0] + 0.8, point[1]), (x + 1.0, point[1]), "datum", "fine")
    yield Arrow((x, view.at(0.0, 0.0)[1]), (x, upper[1]), "datum", "fine", 2.6)
    yield Arrow((x, view.at(0.0, 0.0)[1]), (x, lower[1]), "datum", "fine", 2.6)
    yield DatumSymbol((x, lower[1]), "down", "B")


def across_items(subject: Subject, view: View, letters: Lettering) -> Iterator[Item]:
    """Datum B at the right of the part, and from it the distance and angle of each package."""
    size, b = letters.dimension, subject.datums.b_mm
    tip = view.at(subject.span_mm, 0.0)
    beside = SUPPORT_MM if any(outward > 0 for _, outward, _ in supports(subject)) else 0.0
    level_b = view.at(0.0, b or 0.0)[1]
    x = tip[0] + beside + COLUMN_START_MM
    end = x + sum(column_width(subject, column, letters) for column in columns(subject)[:-1])
    dash: Dash = "solid" if b is not None else "chain"
    start = (tip[0] + beside + 0.8, level_b) if b is not None else view.at(0.0, 0.0)
    yield Line(start, (end + 1.0, level_b), "datum", "fine", dash)
    low, high = subject.widest_mm
    if b is None and abs(low[1] + high[1]) < EVEN_MM:
        yield from _of_the_width(subject, view, tip[0] + beside + 6.5)
    else:
        upward = b is not None and level_b < tip[1]
        yield DatumSymbol((tip[0] + beside + 6.5, level_b), "up" if upward else "down", "B")
    for column in columns(subject):
        (y, _), placed = column
        who, across, angle = column_words(subject, column)
        level = view.at(0.0, y)[1]
        first = min(view.at(*p.tip_edge)[0] for p in placed)
        middle = (level + level_b) / 2
        at = x + 1.6
        if abs(level - level_b) > 1e-6:
            yield Line((first, level), (x - 1.0, level), "centre", "fine", "chain")
            value = abs(y - (b or 0.0))
            yield Dimension(
                (x - 1.0, level_b), (x - 1.0, level), "y", x, value, matched(value, _across(subject, placed)), view.scale,
                (at, middle + 0.36 * size), "start", size,
                _across(subject, placed), False,
                abs(level - level_b) < 7.0,
            )  # fmt: skip
        else:
            yield Text((at, middle + 0.36 * size), across, size, "dimension", clear=True)
        yield Text((at, middle - 0.94 * size), who, size, "dimension", clear=True)
        yield Text((at, middle + 1.66 * size), angle, size, "dimension", clear=True)
        x += column_width(subject, column, letters)
