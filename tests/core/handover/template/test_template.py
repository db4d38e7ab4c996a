"""Templates: true size, overlapping tiles, bars that prove the print, a reprint that makes up for it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.handover.drawing.items import LINE_WIDTH_MM, Drawing, Line, Polygon, Polyline, SheetError, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import Stroke, strokes
from core.handover.sheet.layout import PAPERS_MM, Box
from core.handover.sheet.title_block import MIRROR_GUARD
from core.handover.template.template import templates
from core.handover.template.template_page import GOVERN
from core.handover.template.tiles import OVERLAP_MM, grid_of, seams
from core.project import library
from core.project.structure import DatumFeature
from tests.core.handover.sheet_scenes import lab, patch, scenes, with_patches

SCENES = {key: library.example(key) for key, _ in library.examples()} | scenes()


def words(drawing: Drawing) -> str:
    return " ".join(p.text for i in drawing.items for p in strokes(i) if isinstance(p, Text))


def bar(drawing: Drawing, way: str) -> float:
    """Length of the longest line of the frame that way: the check bar."""
    axis = 0 if way == "along" else 1
    lines = [i for i in drawing.items if isinstance(i, Line) and i.layer == "frame" and i.weight == "narrow"]
    return max(abs(line.end[axis] - line.start[axis]) for line in lines)


def package_width(drawing: Drawing) -> float:
    """Extent along x of the package outline drawn on a tile."""
    xs = [p[0] for i in drawing.items if isinstance(i, Polyline | Polygon) and i.layer == "package"
          and i.weight == "narrow" for p in i.points]  # fmt: skip
    return max(xs) - min(xs)


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", SCENES)
def test_every_tile_says_what_it_is_and_stays_on_the_paper(name, paper):
    tiles = templates(SCENES[name], paper=paper)
    for drawing in tiles:
        text = words(drawing)
        assert GOVERN in text and "Print at 100 %, not fit to page" in text
        assert re.search(r"TILE \d+ / \d+", text) and "bar along measures ________ mm" in text
        assert ("datum A on this tile" in text) != ("to datum A" in text)
        assert bar(drawing, "along") in (100.0, 200.0) and bar(drawing, "across") in (100.0, 200.0)
        for item in drawing.items:
            for primitive in strokes(item):
                if isinstance(primitive, Stroke):
                    assert primitive.width_mm in LINE_WIDTH_MM.values()
                    for x, y in primitive.points:
                        assert 6.9 <= x <= drawing.width_mm - 6.9 and 6.9 <= y <= drawing.height_mm - 6.9


def test_the_first_tile_holds_datum_a_with_its_flap():
    first, second = templates(lab(), paper="A4")
    assert "datum A on this tile" in words(first) and "FLAP: fold" in words(first)
    assert "to datum A" in words(second) and "FLAP" not in words(second)
    assert "A to P1 241.0 ± 1.0" in words(first) and "A to P1 241.0 ± 1.0" in words(second)


def test_a_hole_as_datum_is_lined_up_with_instead_of_a_flap():
    for tiles in (templates(SCENES["held at both ends"]), templates(SCENES["touring-ski"])):
        assert "line up with" in words(tiles[0]) and "FLAP" not in words(tiles[0])


def test_the_package_is_drawn_true():
    (tile,) = templates(lab(), paper="A3")
    assert package_width(tile) == pytest.approx(58.0, abs=1e-6)


def test_match_crosses_fall_on_the_same_places_of_the_part():
    first, second = templates(lab(), paper="A4")

    def crosses(drawing: Drawing) -> dict[str, float]:
        texts = [i for i in drawing.items if isinstance(i, Text) and re.fullmatch(r"1-2\.\d", i.text)]
        return {t.text: t.at[0] for t in texts}

    a, b = crosses(first), crosses(second)
    assert len(a) == 3 and a.keys() == b.keys()
    # a place in the middle of the overlap lies half of it from the left edge of one tile's window
    # and half of it from the right edge of the other's
    left, right = 19.0, 297.0 - 7.0
    for key in a:
        assert a[key] - 1.0 - left == pytest.approx(OVERLAP_MM / 2)
        assert right - (b[key] - 1.0) == pytest.approx(OVERLAP_MM / 2)


@settings(max_examples=60, deadline=None)
@given(st.floats(20, 3000), st.floats(10, 400), st.booleans())
def test_tiles_cover_the_area_and_overlap(length, width, from_right):
    area, window = Box(0.0, 0.0, length, width), (264.0, 150.0)
    grid = grid_of(area, window, from_right=from_right)
    assert len(grid.tiles) == grid.columns * grid.rows
    assert min(t.left for t in grid.tiles) <= 1e-9 and max(t.right for t in grid.tiles) >= length - 1e-9
    assert min(t.top for t in grid.tiles) <= 1e-9 and max(t.bottom for t in grid.tiles) >= width - 1e-9
    if grid.columns > 1:
        a, b = sorted(grid.tiles[:2], key=lambda t: t.left)
        assert a.right - b.left == pytest.approx(OVERLAP_MM) and 10.0 <= OVERLAP_MM <= 15.0
    first = grid.tiles[0]
    assert (first.right == pytest.approx(length)) if from_right else (first.left == 0.0)


def test_a_reprint_makes_up_for_what_the_bars_measured():
    (plain,), (again,) = (
        templates(lab(), paper="A3"),
        templates(lab(), paper="A3", bar_along_mm=199.2, bar_across_mm=201.0),
    )
    # printed on the same printer, everything shrinks by 199.2/200 along
    assert package_width(again) * 199.2 / 200 == pytest.approx(package_width(plain), abs=1e-6)
    assert bar(again, "along") * 199.2 / 200 == pytest.approx(200.0, abs=1e-9)
    assert bar(again, "across") * 201.0 / 200 == pytest.approx(200.0, abs=1e-9)
    assert "corrected x 1.0040" in words(again) and "corrected" not in words(plain).replace("a corrected", "")


@pytest.mark.parametrize("measured", [97.0, 300.0, 0.0, -200.0, float("nan")])
def test_a_bar_measured_wrongly_is_refused(measured):
    with pytest.raises(SheetError, match=r"The bar along is 200 mm long; .* outside 190 to 210 mm"):
        templates(lab(), paper="A4", bar_along_mm=measured)


def test_a_template_nobody_would_tape_together_is_refused():
    project = lab()
    structure = replace(project.structure, stations_m=(0.0, 40.0), datums=(DatumFeature("far end", 40.0),))
    project = replace(project, structure=structure, sheet=replace(project.sheet, datum="far end"))
    with pytest.raises(SheetError, match=r"would take .* tiles, more than 60\. Choose a datum nearer"):
        templates(project, paper="A4")


def test_paper_that_does_not_exist_is_refused():
    with pytest.raises(SheetError, match="There is no paper 'B5'"):
        templates(lab(), paper="B5")


@settings(max_examples=25, deadline=None)
@given(
    x=st.floats(0.004, 0.24), y=st.floats(-0.3, 0.3), angle=st.floats(-3, 3),
    exit=st.sampled_from(("towards root", "towards tip", "left", "right")),
    face=st.sampled_from(("top", "underside", "both")),
)  # fmt: skip
def test_any_place_gives_a_template_or_a_sentence(x, y, angle, exit, face):
    project = lab()
    project = replace(project, structure=replace(project.structure, width_m=0.5))
    one = patch(project, x_start_m=x, y_m=y, angle_rad=angle, lead_exit=exit, face=face)
    try:
        tiles = templates(with_patches(project, one), paper="A3")
    except SheetError as error:
        assert str(error).endswith(".")
    else:
        assert tiles


def boxes_of_marks(drawing: Drawing) -> list[Box]:
    """The squares of datum letters, and the crosses of the seams with their numbers."""
    squares = [i.points for i in drawing.items if isinstance(i, Polygon) and i.fill == "white"]
    found = [
        Box(min(x for x, _ in p), min(y for _, y in p), max(x for x, _ in p), max(y for _, y in p))
        for p in squares
    ]
    marks = [i for i in drawing.items if isinstance(i, Text) and re.fullmatch(r"\d+-\d+\.\d", i.text)]
    return found + [Box(m.at[0] - 3.0, m.at[1] - 1.2, m.at[0] + 4.0, m.at[1] + 2.8) for m in marks]


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", SCENES)
def test_no_mark_lies_on_another(name, paper):
    for drawing in templates(SCENES[name], paper=paper):
        boxes = boxes_of_marks(drawing)
        for n, a in enumerate(boxes):
            for b in boxes[:n]:
                apart = a.left >= b.right or b.left >= a.right or a.top >= b.bottom or b.top >= a.bottom
                assert apart, (drawing.title, a, b)


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", SCENES)
def test_what_guards_against_a_wrong_part_is_never_cut(name, paper):
    for drawing in templates(SCENES[name], paper=paper):
        assert MIRROR_GUARD in words(drawing)
        for text in (i for i in drawing.items if isinstance(i, Text) and i.layer == "caution"):
            left, _, right, _ = text_box(text)
            assert "…" not in text.text and left >= 6.9 and right <= drawing.width_mm - 6.9


def package_size(drawing: Drawing) -> tuple[float, float]:
    """Extents of the wide outline of a package on a tile."""
    points = [p for i in drawing.items if isinstance(i, Polyline | Polygon) and i.layer == "package"
              and i.weight == "narrow" for p in i.points]  # fmt: skip
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (max(xs) - min(xs), max(ys) - min(ys)) if points else (0.0, 0.0)


@pytest.mark.parametrize("candidate", ["A", "B"])
def test_a_seam_goes_round_the_package_where_there_is_room(candidate):
    board = SCENES["half-board"]
    wanted = package_size(templates(board, candidate, paper="A3")[0])
    sizes = [package_size(tile) for tile in templates(board, candidate, paper="A4")]
    assert any(size == pytest.approx(wanted, abs=1e-6) for size in sizes)


@settings(max_examples=80, deadline=None)
@given(st.floats(200, 900), st.floats(0, 0.8), st.floats(20, 120))
def test_no_package_is_cut_that_a_tile_can_hold_with_the_room_there_is(length, share, size):
    """Where the tiles leave room beyond the area, a package shorter than it is held whole."""
    area, window = Box(0.0, 0.0, length, 40.0), (264.0, 150.0)
    package = Box(share * (length - size), 0.0, share * (length - size) + size, 40.0)
    grid = grid_of(area, window, from_right=False, whole=[package])
    step = window[0] - OVERLAP_MM
    slack = grid.columns * step + OVERLAP_MM - length
    if slack >= size + 2 * step / 12:
        assert seams(grid, [package]) == 0


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_each_bar_says_what_it_may_be_off(paper):
    for drawing in templates(SCENES["gantry-bracket"], paper=paper):
        text = words(drawing)
        for nominal, off in ((200, "0.2"), (100, "0.1")):
            told = text.count(f"{nominal} mm reject if off by more than {off} mm")
            assert told == sum(bar(drawing, way) == nominal for way in ("along", "across"))
