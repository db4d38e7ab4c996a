"""Net width: cut-outs, jumps and the rest that an open piece takes."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.outline import NetWidth, net_width
from core.beam.spec import beam_spec
from core.project.structure import CutOut, Layer, Piece
from tests.core.scenes import lab


def area(width: NetWidth) -> float:
    """By mid-points in every segment."""
    steps = (np.arange(20000) + 0.5) / 20000
    a, b = width.bounds[:-1, None], width.bounds[1:, None]
    return float((width.at(a + (b - a) * steps).mean(axis=1) * (b - a)[:, 0]).sum())


def test_round_hole_takes_its_true_area_and_diameter():
    structure = replace(lab().structure, cut_outs=(CutOut("hole", 0.1, diameter_m=0.008),))
    width = net_width(structure)
    whole = net_width(lab().structure)
    assert area(whole) - area(width) == pytest.approx(np.pi * 0.004**2, rel=1e-5)
    assert width.at(np.array([0.0959, 0.1041])) == pytest.approx([0.03, 0.03])
    assert float(width.at(np.array(0.1))) == pytest.approx(0.022, rel=1e-12)
    assert float(width.at(np.array(0.102))) == pytest.approx(0.03 - 2 * (0.004**2 - 0.002**2) ** 0.5)


def test_slot_jumps_at_its_ends():
    structure = replace(lab().structure, cut_outs=(CutOut("slot", 0.1, length_m=0.02, width_m=0.01),))
    width = net_width(structure)
    assert width.at(np.array([0.0899, 0.0901, 0.1099, 0.1101])) == pytest.approx([0.03, 0.02, 0.02, 0.03])


def test_cut_out_reaching_past_the_tip_counts_only_inside():
    span = lab().structure.span_m
    structure = replace(lab().structure, cut_outs=(CutOut("slot", span, length_m=0.02, width_m=0.01),))
    width = net_width(structure)
    assert area(net_width(lab().structure)) - area(width) == pytest.approx(0.01 * 0.01)
    assert width.bounds[-1] == span


def test_open_piece_takes_what_fixed_pieces_leave_where_they_are():
    project = lab()
    name = project.structure.layers[0].pieces[0].material
    edges = Piece(name, width_m=0.002, count=2, end_m=0.15)
    layer = Layer("strip", 0.002, (Piece(name), edges))
    split = replace(project.structure, layers=(layer,))
    one, two = (beam_spec(s, project.materials) for s in (project.structure, split))
    # The same material fills the width either way.
    assert two.tables[:2, 1].sum(axis=1).min() == pytest.approx(one.tables[:2, 1].max())
    assert 0.15 in two.bounds_m
