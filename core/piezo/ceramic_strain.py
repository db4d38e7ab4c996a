"""Strain at the surfaces of a ceramic on a section that is free across as a whole: along, and across with the part.

    e_x = (z_n - z) k + sum m_j V_j,   e_y = h - z k_y

k is the bending moment over EI, m_j the strain of the whole section per volt on ceramic j, h and k_y those that
leave each strip of the section free across (`core.beam.free_strip`). They are the ceramic's principal strains: what is pulled
along is pushed across, and the worse of both counts. At the level 'plain' nothing is told of the strain across.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.section import Section
from core.piezo.package import BondedStrips
from core.piezo.per_volt import PerVolt
from core.project.structure import Level

Array = NDArray[np.float64]

ALONG = slice(0, 2)
"""Of the rows: along at the lower and the upper side, then across at both where that is told."""


@dataclass(frozen=True)
class CeramicStrain:
    """Of one ceramic; zero where it does not work.

    bend : (R, ..., e, q) per curvature [m]; volt : (J, R, ..., e, q) per volt on each ceramic, empty where not asked for; R is 2 at
    the level 'plain', else 4.
    """

    bend: Array
    volt: Array


def ceramic_strains(
    section: Section, bonded: BondedStrips | None, thickness_m: Array, level: Level, *, with_volts: bool
) -> tuple[CeramicStrain, ...]:
    """Of every ceramic, thickness (..., J)."""
    count, shape, rows = thickness_m.shape[-1], section.axial.shape, 2 if level == "plain" else 4
    volts = count if with_volts else 0
    out = tuple(CeramicStrain(np.zeros((rows, *shape)), np.zeros((volts, rows, *shape))) for _ in range(count))
    if bonded is None or section.covered is None or not section.covered.index[0].size:
        return out  # nothing is bonded, or all of it beside the part
    at, own = section.covered, PerVolt(section, bonded)
    index, neutral = at.index, section.neutral_axis_m[at.index]
    lead = index[:-1]
    forces = {j: force / section.axial[index] for _, j, force, _ in own} if with_volts else {}
    for k in own.sheets:
        j = int(bonded.plate[k])
        thick = thickness_m[..., j][lead] if thickness_m.ndim > 1 else thickness_m[j]
        half, mid = 0.5 * np.reshape(thick, (-1, 1)), own.height_m(k)
        under = at.there[..., k, None] > 0.0
        works = under.any(axis=-2)
        others = [(int(bonded.plate[i]), i) for i in own.sheets if with_volts]
        for side, z in enumerate((mid - half, mid + half)):
            out[j].bend[side][index] = np.where(works, neutral - z, 0.0)
            for m, _ in others:
                out[j].volt[m, side][index] = np.where(works, forces[m], 0.0)
            if level == "plain":
                continue
            across = np.where(under, at.strips.across_strain(neutral, z), 0.0)
            # The strip that contracts most tells of the ceramic.
            place = np.abs(across).argmax(axis=-2)[..., None, :]
            out[j].bend[2 + side][index] = np.take_along_axis(across, place, axis=-2)[..., 0, :]
            for m, other in others:
                each = at.strips.across_per_volt(
                    at.there[..., other, None], own.height_m(other), own.electrode[:, other, 1:2], forces[m], z
                )
                found = np.take_along_axis(np.where(under, each, 0.0), place, axis=-2)[..., 0, :]
                out[j].volt[m, 2 + side][index] = found
    return out
