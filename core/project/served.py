"""Which mode a layout serves: one answer for new patches, studies, strip and papers."""

from __future__ import annotations

from core.project.candidate import Candidate
from core.project.model import Project


def tuned_modes(candidate: Candidate) -> tuple[int, ...]:
    """Modes (from 1) the candidate's circuits and tuned masses are tuned on, each once, in their order."""
    return tuple(dict.fromkeys(mode for tuning in candidate.tunings for mode in (tuning.mode, *tuning.further)))


def served_mode(project: Project, candidate: Candidate, patch_id: str | None = None) -> int:
    """The mode (from 1) that the circuit of `patch_id` is tuned on; else the candidate's first tuned one,
    else the first that is asked for, else 1. Never beyond the modes shown."""
    own = [
        group.circuit.tuning.mode
        for group in candidate.groups
        if group.circuit.tuning is not None and any(member.patch == patch_id for member in group.members)
    ]
    modes = (*own, *tuned_modes(candidate), *project.service.asked.modes, 1)
    return min(modes[0], project.view.modes_shown)
