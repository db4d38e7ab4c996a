"""Steps that bring an older file up to date, on plain dictionaries before they are checked.

One decorated function a step, from its version to the next:

    @step(UPGRADES, from_version=1)
    def _bond_temperature(raw):
        raw["..."] = ...

Format 1 is the first, so there is no step yet.
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
