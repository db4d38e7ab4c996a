"""What a volt on each ceramic does to the sections under it, free across strip by strip or as further functions tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from core.beam.across import over_width
from core.beam.section import Section, at_layouts
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]


class PerVolt:
    """What a volt on each ceramic puts into the sections under it, in the covered elements (n, q).

    Iterates over (sheet, plate, force in N/V, moment about the neutral axis in N m/V)."""

    def __init__(self, section: Section, bonded: BondedStrips) -> None:
        assert section.covered is not None
        self.at, self.bonded = section.covered, bonded
        self._lead = section.covered.index[:-1]
        self._neutral = section.neutral_axis_m[section.covered.index]
        self.axial = section.axial[section.covered.index]
        self.electrode = at_layouts(bonded.strips.electrode, self._lead, 2)
        self._mid = at_layouts(bonded.strips.mid_m, self._lead, 1)

    @property
    def sheets(self) -> list[int]:
        return np.flatnonzero(self.bonded.is_ceramic).tolist()

    def height_m(self, sheet: int) -> Array:
        """(n, q) of the ceramic's mid-plane above the underside."""
        return np.asarray(self.bonded.strips.on_top[sheet] * self.at.top_m + self._mid[:, sheet, None])

    def __iter__(self) -> Iterator[tuple[int, int, Array, Array]]:
        for k in self.sheets:
            there, e = self.at.there[..., k, None], self.electrode
            force, moment = self.at.strips.per_volt(there, self.height_m(k), e[:, k, :1], e[:, k, 1:2])
            yield k, int(self.bonded.plate[k]), force, moment - self._neutral * force


@dataclass(frozen=True)
class Volts:
    """Of some ceramic sheets at elements under packages, n of them.

    index : into (..., e); sheets : K of them, which of all that are bonded on. moment : (n, K, q) bending moment per volt, N m/V;
    strains : (n, K, R, q) the same of the strains of further functions, None without any. shared : (n, q) of two sheets, each pair
    once, capacitance per length, what is free to move in the section included, F/m; what shares nothing is not there.
    """

    index: tuple[NDArray[np.intp], ...]
    sheets: Sequence[int]
    moment: Array
    strains: Array | None
    shared: dict[tuple[int, int], Array]


def volts_of(section: Section, bonded: BondedStrips, sheets: Sequence[int] | None = None) -> Volts:
    """At the elements covered; of all ceramic sheets or of some."""
    own = PerVolt(section, bonded)
    sheets = own.sheets if sheets is None else sheets
    return _free_across(own, sheets) if section.further is None else _by_functions(section, own, sheets)


def _free_across(own: PerVolt, sheets: Sequence[int]) -> Volts:
    at, thickness = own.at, at_layouts(own.bonded.strips.thickness_m, own.at.index[:-1], 1)
    found = {k: (force, moment) for k, _, force, moment in own if k in sheets}
    lies = at.there[..., list(sheets)]
    over = np.einsum("nsk,nsl->kl", lies, lies) > 0.0
    under = lies.any(axis=1).astype(float)
    together = under.T @ under > 0.0
    shared = {}
    for (a, k), (b, m) in combinations_with_replacement(enumerate(sheets), 2):
        if not together[a, b]:
            continue
        each = found[k][0] * found[m][0] / own.axial
        if over[a, b]:
            heights = (own.height_m(k), own.height_m(m))
            across = (own.electrode[:, k, 1:2], own.electrode[:, m, 1:2])
            each += at.strips.sideways((at.there[..., k] * at.there[..., m])[..., None], heights, across)
        if k == m:
            width = (at.there[..., k, None] * at.strips.width_m).sum(axis=-2)
            each += (own.electrode[:, k, 2] / thickness[:, k])[:, None] * width
        shared[k, m] = each
    moment = np.stack([found[k][1] for k in sheets], axis=-2) if sheets else np.zeros((len(own.axial), 0, own.axial.shape[-1]))
    return Volts(at.index, sheets, moment, None, shared)


def _by_functions(section: Section, own: PerVolt, sheets: Sequence[int]) -> Volts:
    further, at, bonded, electrode = section.further, own.at, own.bonded, own.electrode
    assert further is not None and further.covered is not None
    law, shapes, lead = further.covered.law, further.covered.shapes, at.index[:-1]
    axial, neutral, membrane = (v[at.index] for v in (further.axial, further.neutral_axis_m, further.membrane))
    points, count, n = slice(neutral.shape[-1]), len(sheets), len(neutral)
    moment, shared = np.zeros((n, count, neutral.shape[-1])), {}
    strains = np.zeros((n, count, *membrane.shape[1:]))
    columns, forces, turned, turn = [], [], [], further.covered.turn
    for i, k in enumerate(sheets):
        there = at.there[..., k, None]
        along, across = (there * electrode[:, k, c, None, None] for c in range(2))
        warp = None
        if further.covered.warp_top is not None:
            warp = (bonded.strips.on_top[k] * further.covered.warp_top)[..., None, :]
        aslant = None
        if bonded.strips.skew is not None:
            aslant = there * at_layouts(bonded.strips.skew, lead, 2)[:, k, 2, None, None]
        height = (own.height_m(k)[..., points] - further.covered.reference_m)[..., None, :]
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
    thickness = at_layouts(bonded.strips.thickness_m, lead, 1)
    for (i, k), (j, m) in combinations_with_replacement(enumerate(sheets), 2):
        free = (law.shared(columns[i], columns[j]) * width).sum(axis=-2)
        shared[k, m] = forces[i] * forces[j] / axial + free
        if turn is not None:
            shared[k, m] += turn.shared(turned[i], turned[j])
        if k == m:
            shared[k, k] += (electrode[:, k, 2] / thickness[:, k])[:, None] * (at.there[..., k, None] * width).sum(axis=-2)
    return Volts(at.index, sheets, moment, strains, shared)
