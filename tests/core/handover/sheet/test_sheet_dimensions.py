"""Dimensions say what the model says, to 0.01 mm, and are drawn at the scale stated."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.handover.drawing.dimensions import number
from core.handover.drawing.items import Dimension, Drawing
from core.handover.sheet.diagram import placement_diagram, placement_diagrams
from core.project import library
from core.project.model import Project
from core.project.structure import DatumFeature
from tests.core.handover.sheet_scenes import lab, on_paper, patch, scenes, with_patches

AGREE_MM = 0.051  # written with the decimals of its tolerance, one


def dimensions(drawing: Drawing) -> list[Dimension]:
    return [item for item in drawing.items if isinstance(item, Dimension)]


def read(dimension: Dimension) -> float:
    """The number a person reads off the sheet."""
    numbers = re.findall(r"\d+\.\d+", dimension.text)
    return float(numbers[-1] if not dimension.reference else numbers[0])


def moved(x_start_m: float, y_m: float = 0.0, datum_m: float = 0.3) -> Project:
    project = lab()
    structure = replace(project.structure, width_m=0.08, datums=(DatumFeature("stop", datum_m),))
    project = replace(project, structure=structure, sheet=replace(project.sheet, datum="stop"))
    return with_patches(project, patch(project, x_start_m=x_start_m, y_m=y_m))


@settings(max_examples=60, deadline=None)
@given(
    x=st.floats(0.004, 0.246),
    y=st.floats(-0.02, 0.02),
    datum=st.sampled_from((0.0, 0.05, 0.15, 0.3)),
)
def test_distances_from_the_datums_agree_with_the_model(x, y, datum):
    project = moved(x, y, datum)
    one = project.candidate().patches[0]
    margin = project.package(one.package).margin_m
    edges = (1e3 * (one.x_start_m - margin), 1e3 * (one.x_end_m + margin))
    nearest = min(abs(edge - 1e3 * datum) for edge in edges)
    drawing = placement_diagram(project)
    along = [d for d in dimensions(drawing) if d.text.startswith("A to P1")]
    assert len(along) == 1
    assert along[0].value_mm == pytest.approx(nearest, abs=1e-6)
    assert read(along[0]) == pytest.approx(nearest, abs=AGREE_MM)
    across = [d for d in dimensions(drawing) if d.axis == "y"]
    assert len(across) == 1
    assert read(across[0]) == pytest.approx(40.0 + 1e3 * y, abs=AGREE_MM)


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
@pytest.mark.parametrize("name", [*(key for key, _ in library.examples()), *scenes()])
def test_every_dimension_is_drawn_as_long_as_its_scale_says(name, paper):
    project = (scenes() | {key: library.example(key) for key, _ in library.examples()})[name]
    for drawing in (d for d in placement_diagrams(on_paper(project, paper)) if d.views):
        found = dimensions(drawing)
        assert found
        for dimension in found:
            axis = 0 if dimension.axis == "x" else 1
            drawn = abs(dimension.end[axis] - dimension.start[axis])
            assert drawn == pytest.approx(dimension.value_mm * dimension.scale, abs=1e-6)
            assert read(dimension) == pytest.approx(dimension.value_mm, abs=AGREE_MM)
            assert dimension.scale == drawing.views[0].scale


def test_the_example_reads_as_a_shop_expects():
    labels = [d.label for d in dimensions(placement_diagram(lab()))]
    assert "A to P1 241.0 ± 1.0" in labels  # 300 - (5 + 50 + 4)
    assert "15.0 ± 2.0" in labels
    assert {"(58.0) package", "(50.0) ceramic", "(300.0) free span, ref."} <= set(labels)
    assert "(1.0) P1 from support, ref." in labels


def test_only_distances_from_a_datum_carry_a_tolerance():
    for project in (lab(), *scenes().values()):
        for drawing in placement_diagrams(project):
            for dimension in dimensions(drawing):
                assert dimension.reference == (not dimension.tolerance)
                assert dimension.reference or dimension.axis == "y" or dimension.text.startswith("A to ")
                assert not dimension.reference or dimension.text.startswith("(")


def test_toleranced_dimensions_start_at_the_datum_and_never_chain():
    drawing = placement_diagram(scenes()["five in a row"])
    functional = [d for d in dimensions(drawing) if d.axis == "x" and not d.reference]
    assert len(functional) == 5
    assert len({d.start[0] for d in functional}) == 1


def test_the_underside_is_seen_from_below():
    project = with_patches(lab(), patch(lab(), face="both", lead_exit="left"))
    top, under = (d for d in placement_diagrams(project) if d.views)
    left_edge = 15.0
    assert top.views[0].at(0.0, left_edge)[1] < top.views[0].at(0.0, -left_edge)[1]
    assert under.views[0].at(0.0, left_edge)[1] > under.views[0].at(0.0, -left_edge)[1]


@given(st.floats(0.0, 5000.0))
def test_a_length_is_written_to_within_a_hundredth(value):
    assert float(number(value)) == pytest.approx(value, abs=0.0051)


def test_one_decimal_is_kept_where_it_is_enough():
    assert [number(v) for v in (230.0, 0.0, 37.5, 12.34, 12.305)] == ["230.0", "0.0", "37.5", "12.34", "12.3"]


def test_a_toleranced_length_has_the_decimals_of_its_tolerance():
    project = moved(0.0123456, 0.0012345, 0.0)
    sheet = replace(project.sheet, tolerance_x_m=5e-5, tolerance_y_m=2e-3)
    drawing = placement_diagram(replace(project, sheet=sheet))
    labels = [d.label for d in dimensions(drawing) if not d.reference]
    assert "A to P1 8.35 ± 0.05" in labels and "41.2 ± 2.0" in labels
