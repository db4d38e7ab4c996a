"""An outline taken into a project: same beam, right places, packages on the part."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from shapely.geometry import Point, box

from core.outline import apply, widths
from core.outline.drawing import OutlineError
from core.outline.frame import Frame, suggest
from core.outline.readers import read_drawing
from core.outline.shape import make_shape
from core.outline.zones import keep_outs
from core.predict.predict import predict
from core.project import edit, library, store
from core.project.problems import find_problems
from core.project.structure import KeepOut
from tests.core.outline.drawings import new_dxf, parts_of, read, shape_of

AXIS = Frame((0.0, 0.0), (0.3, 0.0))
RESOURCES = Path(__file__).parents[3] / "resources" / "outlines"


@pytest.fixture
def lab():
    return library.example("lab-beam")


def taken(project, area, **options):
    return apply.with_outline(project, make_shape(area, AXIS, 0.005), "part.dxf", **options)


def test_the_drawing_of_the_same_strip_predicts_the_same(lab):
    after = taken(lab, box(0, -0.015, 0.3, 0.015))
    assert after.structure.width_m == lab.structure.width_m
    now, then = predict(after), predict(lab)
    assert [m.f_short_hz for m in now.modes] == pytest.approx([m.f_short_hz for m in then.modes], rel=1e-12)


def test_the_outline_is_saved_and_old_files_still_load(lab):
    after = taken(lab, box(0, -0.015, 0.3, 0.015).difference(Point(0.2, 0).buffer(0.004)))
    again = store.loads(store.dumps(after))
    assert again == after and again.structure.outline is not None and len(again.structure.outline.holes) == 1
    assert after.origins["structure.width_m"].source == "outline of part.dxf"
    assert lab.structure.outline is None


def test_thicknesses_stay_where_they_are_along_x():
    ski = library.example("touring-ski")
    span = ski.structure.span_m
    made = make_shape(box(0, -0.045, span, 0.045), replace_axis(span), 0.005)
    after = apply.with_outline(ski, made, "ski.svg")
    for before, now in zip(ski.structure.layers, after.structure.layers, strict=True):
        if isinstance(before.thickness_m, tuple):
            found = np.interp(ski.structure.stations_m, after.structure.stations_m, now.thickness_m)
            assert found == pytest.approx(before.thickness_m, abs=2e-9)


def replace_axis(span: float) -> Frame:
    return Frame((0.0, 0.0), (span, 0.0))


@pytest.mark.parametrize("name", ["bracket.dxf", "ski-forebody.svg"])
def test_the_shipped_drawings_make_a_part_that_can_be_predicted(lab, name):
    drawing = read_drawing(RESOURCES / name)
    layer = next(info.name for info in drawing.layers if info.name.lower() == "outline")
    area = parts_of(drawing, layer).polygons[0]
    made = make_shape(area, suggest(area), 0.005)
    assert made.error_share < 0.01
    bare = replace(lab, candidates=(replace(lab.candidates[0], patches=(), groups=()),))
    after = apply.with_outline(bare, made, name)
    assert find_problems(after) == ()
    fine = apply.with_outline(bare, make_shape(area, suggest(area), 0.0005), name)
    ratio = [
        a.f_short_hz / b.f_short_hz for a, b in zip(predict(after).modes, predict(fine).modes, strict=True)
    ]
    # the fifth of the bracket bends across too, where a corner of the outline counts more
    assert ratio[:4] == pytest.approx([1.0] * 4, abs=1e-3)
    assert ratio[4] == pytest.approx(1.0, abs=2e-3)


def test_a_package_must_lie_on_the_part_and_off_its_openings(lab):
    patch = lab.candidate().patches[0]
    hole = Point(patch.x_start_m + 0.02, 0).buffer(0.003)
    messages = [p.message for p in find_problems(taken(lab, box(0, -0.015, 0.3, 0.015).difference(hole)))]
    assert any(f"The ceramic of patch P1 lies over the hole at x = {1e3 * hole.centroid.x:.1f} mm" in m for m in messages)
    aside = edit.with_patch(lab, "A", replace(patch, y_m=0.006))
    messages = [p.message for p in find_problems(taken(aside, box(0, -0.015, 0.3, 0.015)))]
    assert any("hangs over the edge of the part" in m and "Move or turn it" in m for m in messages)


def test_a_patch_off_the_centreline_may_lie_where_the_part_is(lab):
    patch = lab.candidate().patches[0]
    wide = edit.with_patch(lab, "A", replace(patch, y_m=0.02, angle_rad=0.05))
    after = taken(replace(wide, candidates=wide.candidates[:1]), box(0, -0.02, 0.3, 0.06))
    assert find_problems(after) == ()
    assert not {"off centre", "turned"} & {r.code for r in predict(after).remarks}  # it is calculated as it lies
    free = edit.with_structure(after, level="section")
    remarks = {r.code: r.text for r in predict(free).remarks}
    assert "20.0 mm off the centreline" in remarks["off centre"] and "2.86479°" in remarks["turned"]


def test_a_lead_over_a_keep_out_is_remarked(lab):
    patch = lab.candidate().patches[0]
    start = patch.x_end_m + lab.package(patch.package).margin_m + 0.002
    tipwards = edit.with_patch(lab, "A", replace(patch, lead_exit="towards tip"))
    zone = KeepOut("screw", "top", start, start + 0.01)
    after = edit.with_structure(tipwards, keep_outs=(zone,))
    assert any(r.code == "lead over keep-out" for r in predict(after).remarks)


def test_a_lead_over_an_edge_or_another_package_is_remarked(lab):
    def codes(project):
        return {r.code for r in predict(project).remarks if r.code.startswith("lead")}

    patch = lab.candidate().patches[0]
    wide = edit.with_structure(lab, width_m=0.06)
    assert codes(wide) == set()
    for side in (lab, taken(lab, box(0, -0.0152, 0.3, 0.0152))):
        assert codes(edit.with_patch(side, "A", replace(patch, lead_exit="left"))) == {"lead over edge"}
    assert codes(edit.with_patch(wide, "A", replace(patch, lead_exit="left"))) == set()
    beside = replace(patch, id="P2", x_start_m=patch.x_end_m + 0.011, lead_exit="towards root")
    assert codes(edit.with_patch(edit.with_structure(lab, keep_outs=()), "A", beside)) == {"lead over package"}


def test_keep_outs_come_from_a_layer_with_their_corners(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(40, -10), (80, -10), (80, 0), (60, 0), (60, 5), (40, 5)], close=True)
    parts = parts_of(read(doc, tmp_path))
    (zone,) = keep_outs(parts, AXIS, "screws", "underside", 0.3)
    assert (zone.name, zone.face, zone.x_start_m, zone.x_end_m) == ("screws", "underside", 0.04, 0.08)
    assert len(zone.polygon_m or ()) == 6
    (other,) = keep_outs(parts, AXIS, "screws", "top", 0.3, frozenset({"screws"}))
    assert other.name == "screws 2"


def test_a_pasted_column_of_widths_is_an_outline():
    made = shape_of(widths.from_text("x\twidth\n0\t40\n100\t40,0\n300\t20\n", unit="mm"))
    assert made.stations.x_m.tolist() == [0.0, 0.1, 0.3]
    assert made.stations.width_m == pytest.approx([0.04, 0.04, 0.02])
    alone = shape_of(widths.from_text("40\n40\n20\n", unit="mm", length_m=0.2))
    assert alone.stations.x_m.tolist() == [0.0, 0.1, 0.2]


@pytest.mark.parametrize(
    "text, words",
    [
        ("0 40\n100 40\n90 20", "Row 3"),
        ("0;40\n100;", "Row 2"),
        ("0 40\n9 -1", "must be above 0"),
        ("7", "two are"),
    ],
)
def test_a_wrong_table_names_the_row(text, words):
    with pytest.raises(OutlineError, match=words):
        widths.from_text(text)


def test_widths_changed_after_the_import_are_remarked(lab):
    after = taken(lab, box(0, -0.015, 0.3, 0.015).difference(Point(0.2, 0.008).buffer(0.004)))
    assert not any(r.code == "outline" for r in predict(after).remarks)
    narrower = edit.with_structure(after, width_m=0.025, cut_outs=())
    assert any(r.code == "outline" and "differs by 5.0 mm" in r.text for r in predict(narrower).remarks)
