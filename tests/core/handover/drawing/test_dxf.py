"""The diagram as DXF, read back with ezdxf: audit, units, layers, and what a dimension measures."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.handover.drawing.dxf import LAYOUT, drawing_dxf
from core.handover.drawing.items import Dimension, Drawing
from core.handover.drawing.svg import drawing_svg
from core.handover.sheet.diagram import placement_diagrams
from core.project import library
from tests.core.handover.sheet_scenes import lab, scenes

PROJECTS = {key: library.example(key) for key, _ in library.examples()} | {
    name: scenes()[name] for name in ("turned and offset", "keep-outs and cut-outs", "pair")
}


def read(drawing: Drawing):
    return ezdxf.read(io.StringIO(drawing_dxf(drawing).decode("utf-8")))


@pytest.mark.parametrize("name", PROJECTS)
def test_each_file_passes_the_audit_and_its_dimensions_measure_the_model(name):
    for drawing in placement_diagrams(PROJECTS[name]):
        document = read(drawing)
        audit = document.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        found = sorted(d.get_measurement() for d in document.modelspace().query("DIMENSION"))
        wanted = sorted(d.value_mm for d in drawing.items if isinstance(d, Dimension))
        assert found == pytest.approx(wanted, abs=0.01)
        if drawing.views:
            assert not document.layouts.get(LAYOUT).query("DIMENSION")


@pytest.mark.parametrize("name", PROJECTS)
def test_nothing_is_wiped_out_and_layers_say_how_they_look(name):
    for drawing in placement_diagrams(PROJECTS[name]):
        document = read(drawing)
        assert not [e for layout in document.layouts for e in layout.query("WIPEOUT")]
        part, package = document.layers.get("PART"), document.layers.get("PACKAGE")
        assert (part.color, part.dxf.lineweight) == (7, 50) and (package.color, package.dxf.lineweight) == (
            5,
            50,
        )
        assert document.layers.get("DIMENSION").dxf.lineweight == 13
        low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
        assert -1e5 < low[0] < high[0] < 1e5 and -1e5 < low[1] < high[1] < 1e5
        if drawing.views:  # the model space holds the part at true size
            span = 1e3 * PROJECTS[name].structure.span_m
            assert low[0] <= 0.0 and high[0] >= span


def test_units_are_millimetres_and_the_part_is_drawn_true():
    document = read(placement_diagrams(lab())[0])
    assert document.header["$INSUNITS"] == 4
    (part,) = document.modelspace().query('LWPOLYLINE[layer=="PART"]').filter(lambda e: e.is_closed)
    xs, ys = zip(*((x, y) for x, y, *_ in part.get_points()), strict=True)
    assert (min(xs), max(xs)) == pytest.approx((0.0, 300.0), abs=1e-6)
    assert (min(ys), max(ys)) == pytest.approx((-15.0, 15.0), abs=1e-6)


def test_a_dimension_writes_the_number_it_measures():
    document = read(placement_diagrams(lab())[0])
    (one,) = (d for d in document.modelspace().query("DIMENSION") if d.dxf.text.startswith("A to P1"))
    assert one.dxf.text == "A to P1 <> ± 1.0"
    shown = " ".join(e.text for e in one.get_geometry_block().query("MTEXT"))
    assert "A to P1 241.0 ± 1.0" in re.sub(r"\\[^;]*;", "", shown)


def test_package_ceramic_and_datums_have_layers_of_their_own():
    document = read(placement_diagrams(lab())[0])
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert {"PART", "PACKAGE", "CERAMIC", "DATUM", "DIMENSION", "POLARITY", "LEAD", "SUPPORT"} <= used
    assert used <= {layer.dxf.name for layer in document.layers}


def test_the_sheet_looks_at_the_plan_at_its_scale():
    drawing = placement_diagrams(lab())[0]
    layout = read(drawing).layouts.get(LAYOUT)
    port = next(v for v in layout.query("VIEWPORT") if v.dxf.id != 1)
    assert port.dxf.height / port.dxf.view_height == pytest.approx(drawing.views[0].scale)
    words = {text.dxf.text for text in layout.query("TEXT")}
    assert "CAUTION" in words


@settings(max_examples=6, deadline=None)
@given(st.text(st.characters(blacklist_categories=("Cs",)), max_size=20))
def test_any_words_leave_the_files_readable(words):
    project = replace(
        lab(), name="part", sheet=replace(lab().sheet, title=words, adhesive=words, number=words)
    )
    drawing = placement_diagrams(project)[0]
    ElementTree.fromstring(drawing_svg(drawing))
    audit = read(drawing).audit()
    assert (audit.errors, audit.fixes) == ([], [])
