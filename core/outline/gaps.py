"""Gaps of an outline: ends of its chains that face each other and do not meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]

MOST_CHAINS = 200
"""With more loose chains the drawing holds something else than an outline with gaps."""
SAID = 3
"""Gaps named; more only counted."""


@dataclass(frozen=True)
class Gap:
    """Two ends, m, and how far they lie apart."""

    a: Point
    b: Point
    width_m: float


def find_gaps(chains: Sequence[Array]) -> tuple[Gap, ...]:
    """Ends paired with their nearest, the nearest pairs first taken; returned with the widest first.

    Empty where there are no chains or too many.
    """
    if not chains or len(chains) > MOST_CHAINS:
        return ()
    ends = np.array([end for chain in chains for end in (chain[0], chain[-1])])
    i, j = np.triu_indices(len(ends), 1)
    apart = np.hypot(*(ends[i] - ends[j]).T)
    taken: set[int] = set()
    found = []
    for k in np.argsort(apart, kind="stable"):
        a, b = int(i[k]), int(j[k])
        # Both ends of one chain face each other only when no other chain is left between them.
        if a in taken or b in taken or (a // 2 == b // 2 and len(ends) - len(taken) > 2):
            continue
        taken |= {a, b}
        if apart[k] > 0:
            found.append(Gap(_point(ends[a]), _point(ends[b]), float(apart[k])))
    return tuple(sorted(found, key=lambda gap: -gap.width_m))


def gap_words(gaps: Sequence[Gap]) -> str:
    """Where the gaps are and how wide, the widest first."""
    said = [f"{_mm(gap.a)} and {_mm(gap.b)} mm are {1e3 * gap.width_m:.3g} mm apart" for gap in gaps[:SAID]]
    more = f", and {len(gaps) - SAID} more" if len(gaps) > SAID else ""
    return "; ".join(said) + more


def _point(end: Array) -> Point:
    return float(end[0]), float(end[1])


def _mm(point: Point) -> str:
    return f"({1e3 * point[0]:.1f}, {1e3 * point[1]:.1f})"
