"""Thousands of layouts close to one, at the levels 'shear' and 'across': worked with sections free across, then carried over.

Sections that warp and curve across cost ten times the time of sections free across, and what they change is nearly the same
in all samples of a tolerance study. So the layout as drawn is solved both ways; the ratio of its frequencies, couplings,
capacitances and inherent damping, mode by mode, carries every sample over. As drawn all four are those of the prediction, and a
sample differs from that as it does with free sections. Not for maps and searches: from place to place the ratio itself changes.

A part whose modes asked for curve across (C1 ...), or whose patches twist it, has modes that free sections do not know: it is
solved in full.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from msgspec.structs import replace as replaced
from numpy.typing import NDArray

from core.beam.mode_kinds import bending_share, mode_names
from core.beam.ritz import Accuracy
from core.beam.varied import Variation
from core.piezo.coupled_beam import Carried, CoupledBeam
from core.piezo.layout import solve
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.structure import Structure

Array = NDArray[np.float64]

LEVELS = ("shear", "across")
WEAK = 1e-4
"""K^2 below which a ratio tells of a node of the mode's curvature, not of the section."""
HOW = (
    "Samples are worked with sections free across and carried over by the ratios of the layout as drawn; in full where a mode "
    "among those asked twists or curves across."
)
"""How a study near a layout is worked at those levels, in words."""
STEPS = 3
"""Of the couplings towards those as drawn: K^2 of one mode hangs a little on the others."""

def solve_many(
    project: Project, candidate: Candidate, modes: int, kept: int, variation: Variation, accuracy: Accuracy
) -> CoupledBeam:
    """Layouts close to the candidate as drawn of which the first `modes` modes are asked, with `kept` modes; carried over where
    that serves."""
    carried = _factors(project, candidate, modes, kept)
    if carried is None:
        return solve(project, candidate, kept, variation=variation, accuracy=accuracy)
    return solve(free_sections(project), candidate, kept, variation=variation, accuracy=accuracy).carried_over(carried)


def how_worked(structure: Structure) -> str:
    """`HOW` at the levels at which samples are carried over, else nothing."""
    return HOW if structure.level in LEVELS else ""


def free_sections(project: Project) -> Project:
    """The project with sections free across as a whole; itself where its level asks for no more."""
    if project.structure.level not in LEVELS:
        return project
    return replaced(project, structure=replaced(project.structure, level="section"))


@dataclass(frozen=True, eq=False)
class _Start:
    """A layout by identity: chunks of one study ask again and again, and hold the very same one."""

    project: Project
    candidate: Candidate

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Start) and self.project is other.project and self.candidate is other.candidate

    def __hash__(self) -> int:
        return hash((id(self.project), id(self.candidate)))


def _factors(project: Project, candidate: Candidate, modes: int, kept: int) -> Carried | None:
    """What carries layouts over; None where all is solved in full."""
    if project.structure.level not in LEVELS:
        return None
    return _found(_Start(project, candidate), modes, kept)


@lru_cache(maxsize=8)
def _found(start: _Start, modes: int, kept: int) -> Carried | None:
    project, candidate = start.project, start.candidate
    full, free = solve(project, candidate, kept), solve(free_sections(project), candidate, kept)
    if full.n_twist:
        return None
    share = bending_share(full.beam.bending, full.beam.mode_vectors(full.n_kept))
    bends = [i for i, name in enumerate(mode_names(share)) if name.startswith("B")]
    if bends[:modes] != list(range(min(modes, len(bends)))) or len(bends) < min(modes, full.n_kept):
        return None
    bends = bends[: free.n_kept]
    frequency = full.omega_rad_s[bends] / free.omega_rad_s[: len(bends)]
    only = Carried(_to_all(frequency, free), np.ones(free.beam.mu_s2.shape[-1]), 1.0, 1.0)
    groups = len(free.group_ids)
    if not groups:
        return replace(only, damping=_ratio(full, bends, free.carried_over(only)))
    capacitance = float(np.mean(np.diagonal(full.group_free_f) / np.diagonal(free.group_free_f)))
    both = replace(only, capacitance=capacitance)
    wanted, coupling = full.k2[bends], np.ones(len(bends))
    for _ in range(STEPS):
        found = free.carried_over(replace(both, coupling=_to_all(coupling, free))).k2[: len(bends)]
        strong = (wanted > WEAK) & (found > WEAK)
        ratio = np.divide(wanted, found, out=np.ones_like(found), where=strong)
        coupling = coupling * np.sqrt(np.where(strong, ratio, 1.0))
    carried = replace(both, coupling=_to_all(coupling, free))
    return replace(carried, damping=_ratio(full, bends, free.carried_over(carried)))


def _to_all(factor: Array, beam: CoupledBeam) -> Array:
    """(v,) of every discrete mode; those beyond as the last."""
    count = beam.beam.mu_s2.shape[-1]
    return np.concatenate([factor[:count], np.full(max(count - len(factor), 0), factor[-1])])


def _ratio(full: CoupledBeam, bends: list[int], free: CoupledBeam) -> float:
    """Inherent damping of the first mode in full over that of free sections."""
    return float(full.zeta0[bends[0]] / free.zeta0[0]) if free.zeta0[0] > 0.0 else 1.0
