"""SVG: units, viewBox, transforms, curves, layers."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from core.outline.readers import read_drawing
from tests.core.outline.drawings import parts_of, shape_of

RECT = '<rect x="10" y="5" width="300" height="30"/>'


def svg(folder: Path, body: str, head: str = 'width="400mm" height="100mm" viewBox="0 0 400 100"'):
    path = folder / "part.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>', encoding="utf-8")
    return read_drawing(path)


@pytest.mark.parametrize(
    "head, length_m",
    [
        ('width="400mm" height="100mm" viewBox="0 0 400 100"', 0.3),
        ('width="40cm" height="10cm" viewBox="0 0 400 100"', 0.3),
        ('width="10in" height="2.5in" viewBox="0 0 400 100"', 0.3 * 0.254 / 0.4),
        ('width="200mm" height="50mm" viewBox="0 0 400 100"', 0.15),
    ],
)
def test_a_physical_width_with_its_viewbox_gives_the_size(tmp_path, head, length_m):
    drawing = svg(tmp_path, RECT, head)
    assert (drawing.unit, drawing.unit_from) == ("mm", "file")
    assert shape_of(drawing).span_m == pytest.approx(length_m, abs=2e-6)


@pytest.mark.parametrize(
    "head", ["", 'viewBox="0 0 400 100"', 'width="100%" viewBox="0 0 400 100"', 'width="400" height="100"']
)
def test_without_a_physical_size_numbers_are_pixels_and_a_guess(tmp_path, head):
    drawing = svg(tmp_path, RECT, head)
    assert (drawing.unit, drawing.unit_from) == ("px", "guess")
    assert shape_of(drawing).span_m == pytest.approx(300 * 0.0254 / 96, rel=1e-6)


def test_transforms_and_uses_are_followed_and_y_points_up(tmp_path):
    drawing = svg(
        tmp_path,
        '<defs><path id="p" d="M0 0 h100 v10 h-100 z"/></defs>'
        '<g transform="translate(20 30) scale(2)"><use href="#p" transform="rotate(-90)"/></g>',
    )
    bounds = np.array(parts_of(drawing).polygons[0].bounds) * 1e3
    assert bounds == pytest.approx([20, -30, 40, 170], abs=1e-3)


def test_curves_and_arcs_enclose_their_area(tmp_path):
    drawing = svg(tmp_path, '<path d="M0 0 L100 0 A20 20 0 0 1 100 40 L0 40 Z"/>')
    assert parts_of(drawing).polygons[0].area * 1e6 == pytest.approx(4000 + math.pi * 200, rel=2e-5)


def test_named_groups_are_layers(tmp_path):
    drawing = svg(tmp_path, f'<g id="edge">{RECT}</g><g id="text"><circle r="2"/></g>')
    assert [info.name for info in drawing.layers] == ["edge", "text"]


def test_what_is_hidden_is_no_outline(tmp_path):
    drawing = svg(tmp_path, f'{RECT}<g style="display:none"><rect width="900" height="80"/></g>')
    assert shape_of(drawing).span_m == pytest.approx(0.3, abs=2e-6)
