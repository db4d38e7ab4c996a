"""How well a mode uses the electrodes, and where splitting one would help."""

from __future__ import annotations

from dataclasses import dataclass

from core.predict.mode_result import ModeResult
from core.project.candidate import Candidate
from core.project.patch import Patch

LEAST_USE = 0.7
"""Electrode use under which something can be done about it: the charges of parts of an electrode cancel."""


def use_remark(value: float) -> str:
    """What to do about an electrode use; '' at 0.7 and above."""
    if not value < LEAST_USE:
        return ""
    return "The strain changes sign or size under this electrode: shorten, move or split it."


@dataclass(frozen=True)
class SignChange:
    """A place under a patch's ceramic where a mode's strain changes sign."""

    patch: str
    x_m: float


def sign_change(candidate: Candidate, mode: ModeResult) -> SignChange | None:
    """The place nearest to the middle of a patch where the mode's strain changes sign under its ceramic.

    None where the mode uses the electrodes well (`LEAST_USE`), or where the strain keeps its sign under each.
    """
    if mode.electrode_use is None or mode.electrode_use >= LEAST_USE:
        return None
    found = [
        (_off_middle(patch, x), SignChange(patch.id, x))
        for patch in candidate.patches
        for x in mode.strain_nodes_m
        if patch.x_start_m < x < patch.x_end_m
    ]
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _off_middle(patch: Patch, x_m: float) -> float:
    """0 in the middle of the ceramic, 1 at its ends."""
    return abs(2.0 * (x_m - patch.x_start_m) / patch.length_m - 1.0)
