"""Where nothing holds a part together that has no lay-up: its ceramics are all there is."""

from __future__ import annotations

from collections.abc import Iterable

from core.project.patch import Patch
from core.project.structure import Structure

TINY_M = 1e-9


def gaps_m(structure: Structure, patches: Iterable[Patch]) -> tuple[tuple[float, float], ...]:
    """Stretches of the span under no ceramic of a part without layers, in order; none of a part with layers."""
    if structure.layers:
        return ()
    found, end = [], 0.0
    for patch in sorted(patches, key=lambda patch: patch.x_start_m):
        if patch.x_start_m > end + TINY_M:
            found.append((end, min(patch.x_start_m, structure.span_m)))
        end = max(end, patch.x_end_m)
    if end < structure.span_m - TINY_M:
        found.append((end, structure.span_m))
    return tuple(found)
