"""Steps that bring an older file up to date, on plain dictionaries before they are checked.

One decorated function a step, from its version to the next:

    @step(UPGRADES, from_version=1)
    def _bond_temperature(raw):
        raw["..."] = ...
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

Step = Callable[[dict[str, Any]], None]
UPGRADES: dict[int, Step] = {}


def step(registry: dict[int, Step], *, from_version: int) -> Callable[[Step], Step]:
    """Decorator that enters a step into a registry; a version has one step only."""

    def enter(function: Step) -> Step:
        if from_version in registry:
            raise ValueError(f"two upgrade steps from version {from_version}")
        registry[from_version] = function
        return function

    return enter


def upgrade(raw: dict[str, Any], to_version: int, registry: dict[int, Step]) -> dict[str, Any]:
    """A copy of `raw` at `to_version`; KeyError where a step is missing."""
    version = raw["format_version"]
    if version == to_version:
        return raw
    raw = copy.deepcopy(raw)
    while version < to_version:
        registry[version](raw)
        version += 1
        raw["format_version"] = version
    return raw


WAS_WIDE = (
    "This project had 'Wide strip' switched on, which held every layer across and promised 1.5 to 3 times the "
    "coupling of a real part. Layers now contract across together; all frequencies and couplings have changed."
)

WAS_FREE = (
    "This project was made when every layer could contract across by itself. Sections now hold together, warp and curve across, "
    "so that frequencies, couplings and capacitances have changed; 'each layer free' under Structure > Sections gives the "
    "numbers of then."
)


@step(UPGRADES, from_version=1)
def _level(raw: dict[str, Any]) -> None:
    """'Wide strip' gave way to a level of the mechanics; what a revision was released with stays as it was."""
    structure = raw.get("structure")
    if isinstance(structure, dict) and "level" not in structure:
        said = WAS_WIDE if structure.pop("wide_strip", False) is True else WAS_FREE
        notes = raw.get("notes", "")
        raw["notes"] = f"{notes}\n\n{said}".strip() if isinstance(notes, str) else notes
    releases = raw.get("releases", [])
    for released in releases if isinstance(releases, list) else []:
        frozen = released.get("structure") if isinstance(released, dict) else None
        if isinstance(frozen, dict):
            frozen.pop("wide_strip", None)
            frozen["level"] = "plain"


LOOP_MOVED = (
    "The active loop of this project is now part of each candidate, open as it was: close it under Study > Active loop, and "
    "damping, limits and papers count it."
)


@step(UPGRADES, from_version=2)
def _loop(raw: dict[str, Any]) -> None:
    """A loop belonged to the project and changed no prediction: every candidate gets it, open."""
    design = raw.pop("loop", None)
    if not isinstance(design, dict) or (design.get("law") == "position" and not design.get("filters")):
        return  # nobody has designed one
    candidates = raw.get("candidates", [])
    for candidate in candidates if isinstance(candidates, list) else []:
        if isinstance(candidate, dict):
            candidate["loop"] = copy.deepcopy(design)
    notes = raw.get("notes", "")
    raw["notes"] = f"{notes}\n\n{LOOP_MOVED}".strip() if isinstance(notes, str) else notes
