"""What a volt on each ceramic does to the sections under it, where further functions tell how those move."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from core.beam.across import over_width
from core.beam.section import Section, at_layouts
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Volts:
    """At the covered elements, n of them, for K ceramic sheets.

    moment : (n, K, q) bending moment per volt, N m/V; strains : (n, K, R, q) the same of the strains of further functions;
    shared : (n, K, K, q) capacitance per length, what is free to move in the section included, F/m.
    """

    moment: Array
    strains: Array
    shared: Array


def volts_of(section: Section, bonded: BondedStrips, sheets: list[int], heights: list[Array]) -> Volts:
    """Of some ceramic sheets; heights (n, q) of their mid-planes above the underside."""
    further, at = section.further, section.covered
    assert further is not None and further.covered is not None and at is not None
    law, shapes, lead = further.covered.law, further.covered.shapes, at.index[:-1]
    electrode = at_layouts(bonded.strips.electrode, lead, 2)
    axial, neutral, membrane = (v[at.index] for v in (further.axial, further.neutral_axis_m, further.membrane))
    points, count, n = slice(neutral.shape[-1]), len(sheets), len(neutral)
    moment, shared = np.zeros((n, count, neutral.shape[-1])), np.zeros((n, count, count, neutral.shape[-1]))
    strains = np.zeros((n, count, *membrane.shape[1:]))
    columns, forces, turned, turn = [], [], [], further.covered.turn
    for i, (k, height) in enumerate(zip(sheets, heights, strict=True)):
        there = at.there[..., k, None]
        along, across = (there * electrode[:, k, c, None, None] for c in range(2))
        warp = None
        if further.covered.warp_top is not None:
            warp = (bonded.strips.on_top[k] * further.covered.warp_top)[..., None, :]
        aslant = None
        if bonded.strips.skew is not None:
            aslant = there * at_layouts(bonded.strips.skew, lead, 2)[:, k, 2, None, None]
        height = (height[..., points] - further.covered.reference_m)[..., None, :]
        columns.append(law.column(along, across, height, warp, aslant))
        whole = over_width(further.functions, columns[i], shapes)
        if turn is not None:
            turned.append(whole)
            whole = turn.out_of_column(whole)
        forces.append(whole[:, 0])
        # theta is minus the charge of a strain; e0 goes with every strain by the axial balance
        moment[:, i] = -(whole[:, 1] + neutral * forces[i])
        strains[:, i] = -(whole[:, 2:] + membrane * forces[i][:, None])
    width = at.strips.width_m[..., points]
    for i, j in product(range(count), repeat=2):
        free = (law.shared(columns[i], columns[j]) * width).sum(axis=-2)
        shared[:, i, j] = forces[i] * forces[j] / axial + free
        if turn is not None:
            shared[:, i, j] += turn.shared(turned[i], turned[j])
    thickness = at_layouts(bonded.strips.thickness_m, lead, 1)
    for i, k in enumerate(sheets):
        shared[:, i, i] += (electrode[:, k, 2] / thickness[:, k])[:, None] * (at.there[..., k, None] * width).sum(axis=-2)
    return Volts(moment, strains, shared)
