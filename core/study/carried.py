"""Thousands of layouts close to one, at the levels 'shear' and 'across': worked with sections free across, then carried over.

Sections that warp and curve across cost ten times the time of sections free across, and what they change is nearly the same
in all samples of a tolerance study. So the layout as drawn is solved both ways; the ratio of its frequencies, couplings,
capacitances and inherent damping, mode by mode, carries every sample over. As drawn all four are those of the prediction, and a
sample differs from that as it does with free sections. From place to place the ratio itself changes: of a map it is found at many
of them (`core.study.placement.carrying`).

A part whose modes asked for curve across (C1 ...), or whose patches twist it, has modes that free sections do not know: it is
solved in full.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from msgspec.structs import replace as replaced
from numpy.typing import NDArray

from core.beam.mode_kinds import bending_share
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
STEPS = 8
"""Of couplings and capacitances towards those in full: those of one mode hang a little on the others."""

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
    bends, known = bending_modes(full, free.n_kept, modes)
    if not known.all():
        return None
    both = ratios(full, free, bends)
    if not free.group_ids:
        return both
    wanted, factor = full.k2[bends], np.ones(len(bends))
    at_rest = np.diagonal(full.group_free_f)
    for _ in range(STEPS):
        carried = free.carried_over(replace(both, coupling=to_all(factor, free)))
        found = carried.k2[: len(bends)]
        strong = (wanted > WEAK) & (found > WEAK)
        ratio = np.divide(wanted, found, out=np.ones_like(found), where=strong)
        factor = factor * np.sqrt(np.where(strong, ratio, 1.0))
        both = replace(both, capacitance=both.capacitance * over(at_rest, np.diagonal(carried.group_free_f)))
    return replace(both, coupling=to_all(factor, free))


def bending_modes(full: CoupledBeam, count: int, modes: int) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """(..., n) which of the modes kept, at most `count` of them, are those that sections free across know, and (...) whether the first
    `modes` are them and nothing else."""
    share = bending_share(full.beam.bending, full.beam.mode_vectors(full.n_kept))
    bends = share >= 0.5
    if full.n_twist:
        bends = np.zeros_like(bends)
    known = bends[..., : min(modes, full.n_kept)].all(axis=-1)
    fewest = bends.sum(axis=-1)[known].min(initial=count)
    order = np.argsort(~bends, axis=-1, kind="stable")[..., : max(int(fewest), 1)]
    return order, np.asarray(known)


def ratios(full: CoupledBeam, free: CoupledBeam, bends: NDArray[np.intp]) -> Carried:
    """Of frequencies, inherent damping and capacitances, of one layout or many: in full over with free sections."""
    frequency = np.take_along_axis(full.omega_rad_s, bends, axis=-1) / free.omega_rad_s[..., : bends.shape[-1]]
    damping = np.ones_like(frequency)
    if (free.zeta0 > 0.0).all():
        damping = np.take_along_axis(full.zeta0, bends, axis=-1) / free.zeta0[..., : bends.shape[-1]]
    blocked, capacitance = (
        over(*(np.diagonal(getattr(b, name), axis1=-2, axis2=-1) for b in (full, free)))
        for name in ("group_blocked_f", "group_free_f")
    )
    frequency = to_all(frequency, free)
    return Carried(frequency, np.ones_like(frequency), to_all(damping, free), capacitance, blocked)


def over(above: Array, below: Array) -> Array:
    """The ratio, 1 where there is nothing."""
    return np.divide(above, below, out=np.ones_like(below), where=(above > 0.0) & (below > 0.0))


def to_all(factor: Array, beam: CoupledBeam) -> Array:
    """(..., v) of every discrete mode; those beyond as the last."""
    count = beam.beam.mu_s2.shape[-1]
    last = np.repeat(factor[..., -1:], max(count - factor.shape[-1], 0), axis=-1)
    return np.concatenate([factor[..., :count], last], axis=-1)
