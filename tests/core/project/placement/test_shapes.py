"""Rectangles against ends, discs and rings: what lies over what where it is, and by which shifts it does."""

from __future__ import annotations

import numpy as np
import pytest

from core.project.placement.shapes import ALONG, Boxes, Disc, End, Ring, overlaps, stretches

CORNERS = np.array([(0.0, -0.02), (0.1, -0.03), (0.12, 0.01), (0.05, 0.03), (0.03, 0.0), (0.0, 0.02)])
SHAPES = {
    "end": End(0.1, 1),
    "root": End(0.0, -1),
    "disc": Disc(0.05, 0.004, 0.01),
    "ring": Ring.of(CORNERS),
    "edge": Ring(CORNERS, Ring.of(CORNERS).segments, True, (0.001, 0.119)),
}


@pytest.mark.parametrize("name", list(SHAPES))
def test_a_box_lies_over_a_shape_exactly_where_a_stretch_of_shifts_holds_no_shift(name):
    rng, shape = np.random.default_rng(3), SHAPES[name]
    count = 400
    angle = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-2.0, 2.0, count))
    boxes = Boxes(rng.uniform(-0.02, 0.14, count), rng.uniform(-0.04, 0.04, count), rng.uniform(1e-3, 0.03, count),
                  rng.uniform(1e-3, 0.02, count), angle)  # fmt: skip
    over = overlaps(shape, boxes)
    wanted = [any(a < 0.0 < b for a, b in stretches(shape, boxes.only(np.array([p])), ALONG)) for p in range(count)]
    assert over.tolist() == wanted
    assert 0.1 * count < over.sum() < 0.99 * count
