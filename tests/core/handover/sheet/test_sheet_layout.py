"""Nothing on a sheet overlaps, leaves the frame or crosses an outline, whatever is drawn."""

from __future__ import annotations

from itertools import combinations

import pytest

from core.handover.drawing.items import Dimension, Drawing, Line, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import Stroke, strokes
from core.handover.sheet.diagram import placement_diagrams
from core.handover.sheet.layout import CROWDED_MM, SCALES
from core.project import library
from tests.core.handover.sheet_scenes import PAPERS, on_paper, scenes

TOUCH_MM = 0.15
REMARKS = (
    "Span over width is 2.1, below 3: a plate, which bending alone does not describe.",
    "The patch is wider than the outline from 312.0 to 330.0 mm.",
)

PROJECTS = {key: library.example(key) for key, _ in library.examples()} | scenes()


def primitives(drawing: Drawing) -> list:
    return [primitive for item in drawing.items for primitive in strokes(item)]


def shrunk(box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    left, top, right, bottom = box
    return (left + TOUCH_MM, top + TOUCH_MM, right - TOUCH_MM, bottom - TOUCH_MM)


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def crosses(a: tuple[float, float], b: tuple[float, float], box: tuple[float, ...]) -> bool:
    """Whether a segment enters a box (Liang and Barsky 1984)."""
    low, high = 0.0, 1.0
    for p0, p1, near, far in ((a[0], b[0], box[0], box[2]), (a[1], b[1], box[1], box[3])):
        step = p1 - p0
        if abs(step) < 1e-12:
            if not near < p0 < far:
                return False
            continue
        t0, t1 = sorted(((near - p0) / step, (far - p0) / step))
        low, high = max(low, t0), min(high, t1)
    return low < high


@pytest.fixture(scope="module", params=[f"{name}|{paper}" for name in PROJECTS for paper in PAPERS])
def drawings(request) -> tuple[Drawing, ...]:
    name, paper = request.param.split("|")
    return placement_diagrams(on_paper(PROJECTS[name], paper), remarks=REMARKS)


def test_no_two_texts_overlap(drawings):
    for drawing in drawings:
        boxes = [(t.text, shrunk(text_box(t))) for t in primitives(drawing) if isinstance(t, Text)]
        clashes = [(a, b) for (a, x), (b, y) in combinations(boxes, 2) if overlap(x, y)]
        assert clashes == []


def test_every_text_and_line_lies_inside_the_frame(drawings):
    for drawing in drawings:
        # ISO 5457: 20 mm to file the sheet by, 10 mm elsewhere, and a mark in the middle of each side
        frame = (20.0, 10.0, drawing.width_mm - 10.0, drawing.height_mm - 10.0)
        marks = [i for i in drawing.items if isinstance(i, Line) and i.layer == "frame"]
        middles = {(m.start[0] + m.end[0], m.start[1] + m.end[1]) for m in marks}
        width, height = drawing.width_mm, drawing.height_mm
        assert {
            (width, 15.0),
            (width, 2 * height - 15.0),
            (35.0, height),
            (2 * width - 15.0, height),
        } == middles
        for primitive in primitives(drawing):
            if isinstance(primitive, Text):
                box = text_box(primitive)
                inside = box[0] > frame[0] and box[1] > frame[1] and box[2] < frame[2] and box[3] < frame[3]
                assert inside, primitive.text
            elif isinstance(primitive, Stroke) and not (
                primitive.layer == "frame" and len(primitive.points) == 2
            ):
                for x, y in primitive.points:
                    assert frame[0] <= x <= frame[2] and frame[1] <= y <= frame[3], primitive


def test_no_outline_runs_through_a_text(drawings):
    solid = ("part", "package", "frame", "title block", "caution")
    for drawing in drawings:
        items = primitives(drawing)
        lines = [
            (a, b)
            for s in items
            if isinstance(s, Stroke) and s.layer in solid
            for a, b in zip(s.points, (*s.points[1:], *(s.points[:1] if s.closed else ())), strict=False)
        ]
        for text in items:
            if isinstance(text, Text) and text.layer != "polarity":
                box = shrunk(text_box(text))
                assert not any(crosses(a, b, box) for a, b in lines), text.text


def test_no_text_is_cut_short_on_the_examples(drawings):
    for drawing in drawings:
        if drawing.title.startswith("Damping layout"):
            continue  # words made too long on purpose
        cut = [t.text for t in primitives(drawing) if isinstance(t, Text) and "…" in t.text]
        assert cut == []


def test_text_is_never_smaller_than_can_be_read(drawings):
    """Notes and cautions have capitals of 2.5 mm; names of fields in the title block may be smaller."""
    for drawing in drawings:
        texts = [t for t in primitives(drawing) if isinstance(t, Text)]
        assert all(t.size_mm >= 1.7 for t in texts)
        small = [t.text for t in texts if t.layer in ("text", "caution") and t.size_mm < 3.4]
        assert [t for t in small if not t.startswith("notes go on")] == [] or _is_crowded(drawing)


def _is_crowded(drawing: Drawing) -> bool:
    """Whether the paper holds the dimensions only smaller."""
    return any(isinstance(i, Dimension) and i.size_mm == CROWDED_MM for i in drawing.items)


def test_labels_side_by_side_do_not_run_together(drawings):
    for drawing in drawings:
        labels = [(t.text, text_box(t)) for t in primitives(drawing)
                  if isinstance(t, Text) and t.anchor == "middle" and t.layer == "text"]  # fmt: skip
        for (a, x), (b, y) in combinations(labels, 2):
            level = abs(x[3] - y[3]) < 0.5
            assert not level or max(x[0], y[0]) - min(x[2], y[2]) > 3.0, (a, b)


def test_the_scale_is_one_of_the_standard():
    """ISO 5455: 1, 2 and 5 times powers of ten."""
    for scale, name in SCALES:
        larger, smaller = name.split(":")
        assert (
            scale == int(larger) / int(smaller) and larger.strip("0") in "125" and smaller.strip("0") in "125"
        )
