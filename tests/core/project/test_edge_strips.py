"""Strips along both edges of the outline."""

import numpy as np
import pytest

from core.beam.spec import beam_spec
from core.handover.drawing.items import Polyline
from core.handover.sheet.diagram import placement_diagrams
from core.project import library
from core.project.edge_strips import edge_strips
from core.project.plan import profile_at
from core.project.structure import Piece
from tests.published.build import strip


def test_they_follow_the_outline():
    """Inner side of the ski's steel edges: two millimetres inside of the outline everywhere, as the section has them."""
    project = library.example("half-board")
    structure = project.structure
    (edge,) = edge_strips(structure)
    spec = beam_spec(structure, project.materials)
    for x, y in edge.inner_m:
        half = 0.5 * profile_at(structure.width_m, structure.stations_m, x)
        assert half - y == pytest.approx(0.002) and edge.width_m == (0.002, 0.002)
        if x < structure.span_m:
            assert np.abs(spec.lane_edges_m(np.array([x]))[:, 0] - y).min() < 1e-9
    ys = [y for _, y in edge.inner_m]
    assert max(ys) - min(ys) > 0.05  # the board tapers


def test_a_second_pair_lies_inside_the_first_and_only_where_it_is():
    pieces = (Piece("a", 0.003, count=2, start_m=0.2), Piece("b", 0.002, count=2), Piece("c"))
    made = strip(1.0, (0.1, 0.06), [("c", 0.004, pieces)])
    outer, inner = edge_strips(made)
    assert outer.inner_m[0] == pytest.approx((0.2, 0.046 - 0.003)) and outer.inner_m[-1] == pytest.approx((1.0, 0.027))
    assert inner.inner_m[0] == pytest.approx((0.0, 0.048)) and inner.inner_m[-1] == pytest.approx((1.0, 0.025))


def test_the_placement_diagram_draws_both_and_its_notes_name_them():
    project = library.example("half-board")
    (strip_m,) = edge_strips(project.structure)
    sheet = placement_diagrams(project, "A")
    drawn = [i for page in sheet for i in page.items if isinstance(i, Polyline) and i.weight == "fine" and len(i.points) == len(strip_m.inner_m)]
    assert len(drawn) >= 2
    texts = " ".join(str(getattr(i, "text", "")) for page in sheet for i in page.items)
    assert "Steel edge along both edges" in texts.replace("\n", " ")
