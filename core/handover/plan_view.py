"""The plan of one face: outline, support, keep-outs, packages, and every dimension of the sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby

from core.handover.dimensions import Row, Wanted, number, plus_minus
from core.handover.items import (
    Arrow,
    Circle,
    DatumSymbol,
    Dimension,
    Hatch,
    Item,
    Line,
    Point,
    Polygon,
    Polyline,
    Text,
    View,
)
from core.handover.layout import Lettering
from core.handover.lettering import text_width_mm
from core.handover.subject import Placed, Subject

SUPPORT_MM = 9.0
"""Paper length of the support block drawn beside an end."""
SUPPORT_BEYOND_MM = 3.5
LEAD_MM = 9.0
COLUMN_START_MM = 13.0
SUPPORT_WORDS = {
    "clamped": "support, ref.",
    "elastic": "elastic support, ref.",
    "pinned": "pinned support, ref.",
    "guided": "guided support, ref.",
}
SUPPORT_HATCH = Hatch(45.0, 1.5)
KEEP_OUT_HATCH = Hatch(-45.0, 2.0, crossed=True)


def supports(subject: Subject) -> tuple[tuple[float, int, str], ...]:
    """(x in mm, outward direction -1 or +1, kind) of every end that is held."""
    structure = subject.project.structure
    ends = ((0.0, -1, structure.root.kind), (subject.span_mm, 1, structure.tip.kind))
    return tuple(end for end in ends if end[2] != "free")


def edge(view: View, subject: Subject, x_mm: float, below: bool) -> Point:
    """Paper point of the outline's lower or upper edge (as drawn) at x."""
    half = subject.width_mm(min(max(x_mm, 0.0), subject.span_mm)) / 2
    points = (view.at(x_mm, half), view.at(x_mm, -half))
    return max(points, key=lambda p: p[1]) if below else min(points, key=lambda p: p[1])


# ---- the part --------------------------------------------------------------------------------


def part_items(subject: Subject, view: View) -> Iterator[Item]:
    """Supports, outline, cut-outs, centreline and the lines that stand for x."""
    span = subject.span_mm
    for x, outward, kind in supports(subject):
        yield from _support(subject, view, x, outward, kind)
    outline = tuple(view.at(*p) for p in subject.outline_between(0.0, span))
    yield Polygon(outline, "part", "wide")
    for cut in subject.project.structure.cut_outs:
        centre = view.at(1e3 * cut.x_m, 1e3 * cut.y_m)
        if cut.kind == "hole":
            yield Circle(centre, 500 * cut.diameter_m * view.scale, "part", "medium")
        else:
            dx, dy = 500 * cut.length_m * view.scale, 500 * cut.width_m * view.scale
            corners = ((-dx, -dy), (dx, -dy), (dx, dy), (-dx, dy))
            yield Polygon(tuple((centre[0] + u, centre[1] + v) for u, v in corners), "part", "medium")
    a = subject.datums.a_mm
    if min(abs(a), abs(a - span)) > 1e-3:
        yield Line(edge(view, subject, a, False), edge(view, subject, a, True), "datum", "fine", "chain")


def _support(subject: Subject, view: View, x: float, outward: int, kind: str) -> Iterator[Item]:
    upper, lower = edge(view, subject, x, False), edge(view, subject, x, True)
    top, bottom = upper[1] - SUPPORT_BEYOND_MM, lower[1] + SUPPORT_BEYOND_MM
    outer = upper[0] + outward * SUPPORT_MM
    if kind in ("clamped", "elastic"):
        block = ((upper[0], top), (outer, top), (outer, bottom), (upper[0], bottom))
        yield Polygon(block, "support", None, hatch=SUPPORT_HATCH)
        yield Line((upper[0], upper[1]), (outer, upper[1]), "part", "medium")
        yield Line((lower[0], lower[1]), (outer, lower[1]), "part", "medium")
        yield Polyline(_break_line(outer, upper[1], lower[1]), "part", "fine")
    yield Line((upper[0], top), (upper[0], bottom), "support", "fine", "chain")


def _break_line(x: float, top: float, bottom: float) -> tuple[Point, ...]:
    middle = (top + bottom) / 2
    return ((x, top), (x, middle - 1.2), (x + 0.9, middle - 0.4), (x - 0.9, middle + 0.4),
            (x, middle + 1.2), (x, bottom))  # fmt: skip


def keep_out_items(subject: Subject, view: View) -> Iterator[Item]:
    for zone in subject.keep_outs:
        if zone.polygon_m is None:
            low, high = max(0.0, 1e3 * zone.x_start_m), min(subject.span_mm, 1e3 * zone.x_end_m)
            corners = subject.outline_between(low, high)
        else:
            corners = tuple((1e3 * x, 1e3 * y) for x, y in zone.polygon_m)
        yield Polygon(tuple(view.at(*p) for p in corners), "keep-out", "fine", hatch=KEEP_OUT_HATCH)


# ---- the packages ----------------------------------------------------------------------------


def package_items(subject: Subject, view: View, letters: Lettering) -> Iterator[Item]:
    for placed in subject.placed:
        yield Polygon(tuple(view.at(*p) for p in placed.outline), "package", "wide", fill="white")
        yield Polygon(tuple(view.at(*p) for p in placed.ceramic), "ceramic", "narrow", "dashed")
        yield from _lead(placed, view)
    yield from _centrelines(subject, view)
    for placed in subject.placed:
        yield from _mark(placed, view, letters)


def _lead(placed: Placed, view: View) -> Iterator[Item]:
    exit = placed.patch.lead_exit
    ux, uy = placed.direction(exit)
    reach = placed.half_extent(exit)
    start = view.at(placed.centre[0] + reach * ux, placed.centre[1] + reach * uy)
    end = (start[0] + LEAD_MM * ux, start[1] - view.flip_y * LEAD_MM * uy)
    yield Arrow(start, end, "lead", "medium")


def _centrelines(subject: Subject, view: View) -> Iterator[Item]:
    for placed in subject.placed:
        c, s = placed.direction("towards tip")
        reach = placed.half_extent("towards tip")
        tip = (placed.centre[0] + reach * c, placed.centre[1] + reach * s)
        root = (placed.centre[0] - reach * c, placed.centre[1] - reach * s)
        yield Line(view.at(*root), view.at(*tip), "centre", "fine", "chain")


def label_fits(placed: Placed, view: View, letters: Lettering) -> bool:
    """Whether dot and name find room inside the ceramic as drawn."""
    room = 1e3 * placed.patch.length_m * view.scale
    need = 5.5 + text_width_mm(f"+ {placed.id}", letters.dimension, bold=True)
    return room >= need and 1e3 * placed.patch.width_m * view.scale >= 2.4 * letters.dimension


def _mark(placed: Placed, view: View, letters: Lettering) -> Iterator[Item]:
    """The polarity dot near the lead end and the package's name beside it."""
    size = letters.dimension
    towards_tip = placed.patch.lead_exit == "towards tip"
    half_l, half_w = 500 * placed.patch.length_m, 500 * placed.patch.width_m
    inset = min(2.2 / view.scale, half_l / 2)
    u, v = (half_l - inset if towards_tip else inset - half_l), 0.52 * half_w * view.flip_y
    c, s = placed.direction("towards tip")
    dot = view.at(placed.centre[0] + c * u - s * v, placed.centre[1] + s * u + c * v)
    radius = min(1.1, half_w * view.scale / 2)
    if label_fits(placed, view, letters):
        at = (dot[0] + (-2.0 if towards_tip else 2.0), dot[1] + 0.36 * size)
        words = f"{placed.id} +" if towards_tip else f"+ {placed.id}"
        yield Text(at, words, size, "polarity", "end" if towards_tip else "start", bold=True, clear=True)
    yield Circle(dot, radius, "polarity", filled=True)


# ---- labels in the rows above and below ------------------------------------------------------


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
        yield from _label(row, f"K{n} keep clear", foot[0], base, size, foot)
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


def _label(
    row: Row, words: str, wanted: float, base: float, size: float, foot: Point | None, bold: bool = False
) -> Iterator[Item]:
    centre = row.place(text_width_mm(words, size, bold), wanted)
    if centre is None:
        return
    yield Text((centre, base), words, size, "text", "middle", bold)
    if foot is not None:
        yield Line((centre, base + 0.3 * size), foot, "text", "fine")


# ---- dimensions ------------------------------------------------------------------------------


def nearest_edge(subject: Subject, placed: Placed) -> tuple[float, float]:
    """Middle of the package edge nearest to datum A, model mm."""
    a = subject.datums.a_mm
    return min((placed.root_edge, placed.tip_edge), key=lambda p: abs(p[0] - a))


def check_edge(subject: Subject, placed: Placed) -> tuple[float, float]:
    """Middle of the package edge nearest to the far end, model mm."""
    far = subject.datums.far_mm
    return min((placed.root_edge, placed.tip_edge), key=lambda p: abs(p[0] - far))


def lower_dimensions(subject: Subject, view: View, letters: Lettering) -> tuple[list[Wanted], ...]:
    """From datum A to each package edge (functional), and the check from the far end in brackets."""
    size, sheet = letters.dimension, subject.project.sheet
    a, far = subject.datums.a_mm, subject.datums.far_mm
    start, other = edge(view, subject, a, True), edge(view, subject, far, True)
    functional, checks = [], []
    for placed in subject.placed:
        near, back = nearest_edge(subject, placed), check_edge(subject, placed)
        functional.append(Wanted(
            start, _foot(placed, view, near), abs(near[0] - a),
            f"A to {placed.id} {number(abs(near[0] - a))}", view.scale, size,
            plus_minus(1e3 * sheet.tolerance_x_m),
        ))  # fmt: skip
        value = abs(back[0] - far)
        checks.append(Wanted(
            other, _foot(placed, view, back), value,
            f"({number(value)}) {placed.id} from {subject.datums.far_name}", view.scale, size, reference=True,
        ))  # fmt: skip
    return checks, functional


def _foot(placed: Placed, view: View, edge_middle: tuple[float, float]) -> Point:
    """Where an extension line leaves a package: its lower corner, or the edge's middle if turned."""
    x, y = view.at(*edge_middle)
    if placed.turned:
        return (x, y)
    return (x, y + placed.half_extent("left") * view.scale)


def upper_dimensions(subject: Subject, view: View, letters: Lettering) -> tuple[list[Wanted], ...]:
    """Ceramic, package and free span, all for reference."""
    size = letters.dimension
    ceramic, package = [], []
    for placed in subject.placed:
        if placed.turned:
            continue
        for into, corners, name in ((ceramic, placed.ceramic, "ceramic"), (package, placed.outline, "package")):
            points = [view.at(*p) for p in corners]
            top = min(p[1] for p in points)
            value = corners[1][0] - corners[0][0]
            who = f" {placed.id}" if len(subject.placed) > 1 else ""
            into.append(Wanted(
                (points[0][0], top), (points[1][0], top), value, f"({number(value)}) {name}{who}",
                view.scale, size, reference=True,
            ))  # fmt: skip
    span = subject.span_mm
    whole = Wanted(
        edge(view, subject, 0.0, False), edge(view, subject, span, False), span,
        f"({number(span)}) free span, ref.", view.scale, size, reference=True,
    )  # fmt: skip
    return ceramic, package, [whole]


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
    across = f"{number(distance)} {plus_minus(1e3 * sheet.tolerance_y_m)}"
    tolerance = plus_minus(math.degrees(sheet.tolerance_angle_rad))
    return f"B to {who}", across, f"{math.degrees(angle):.1f}° {tolerance}°"


def column_width(subject: Subject, column: Column, letters: Lettering) -> float:
    return 5.0 + max(text_width_mm(words, letters.dimension) for words in column_words(subject, column))


def right_margin(subject: Subject, letters: Lettering) -> float:
    return COLUMN_START_MM + sum(column_width(subject, column, letters) for column in columns(subject))


def across_items(subject: Subject, view: View, letters: Lettering) -> Iterator[Item]:
    """Datum B at the right of the part, and from it the distance and angle of each package."""
    size, b = letters.dimension, subject.datums.b_mm
    tip = view.at(subject.span_mm, 0.0)
    end = tip[0] + 2.0
    level_b = view.at(0.0, b or 0.0)[1]
    x = tip[0] + max(COLUMN_START_MM, 0.0)
    if any(outward > 0 for _, outward, _ in supports(subject)):
        x += SUPPORT_MM
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
                (x - 1.0, level_b), (x - 1.0, level), "y", x, value, number(value), view.scale,
                (at, middle + 0.36 * size), "start", size,
                plus_minus(1e3 * subject.project.sheet.tolerance_y_m), False,
                abs(level - level_b) < 7.0,
            )  # fmt: skip
        else:
            yield Text((at, middle + 0.36 * size), across, size, "dimension")
        yield Text((at, middle - 0.94 * size), who, size, "dimension")
        yield Text((at, middle + 1.66 * size), angle, size, "dimension")
        end = x
        x += column_width(subject, column, letters)
    dash = "solid" if b is not None else "chain"
    start = (tip[0] + 0.8, level_b) if b is not None else view.at(0.0, 0.0)
    yield Line(start, (end + 1.0, level_b), "datum", "fine", dash)
    upward = b is not None and level_b < tip[1]
    yield DatumSymbol((tip[0] + 6.5, level_b), "up" if upward else "down", "B")


def datum_a_items(subject: Subject, view: View, row: Row, middle: float) -> Iterator[Item]:
    """The symbol of datum A on its extension line in the row below the plan."""
    x = view.at(subject.datums.a_mm, 0.0)[0]
    length = 11.0
    for towards, a, b in (("left", x - length, x), ("right", x, x + length)):
        if not any(a - 0.5 < line < b + 0.5 and abs(line - x) > 1e-6 for line in row.lines):
            break
    row.reserve(a, b)
    yield DatumSymbol((x, middle), towards, "A")  # type: ignore[arg-type]
