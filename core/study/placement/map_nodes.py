"""Where a map is worked out in full, so that its other cells can be carried over: nodes, and more of them where they do not foretell.

In the middle between nodes everything is worked out once more. Where it is not what the nodes foretell, middles become nodes, a few
times over; between those that still miss, cells are worked out in full.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor

import numpy as np
from numpy.typing import NDArray

from core.project.model import Project
from core.project.structure import Structure
from core.study.carried import LEVELS
from core.study.executors import run_chunks
from core.study.placement.carrying import NEAR_LIMIT, Carrier, Found, Gathered, Nodes, joined, nodes
from core.study.placement.map_values import CARRIED, IN_FULL, MapRequest, Quantity, along_axes, node_chunk

Array = NDArray[np.float64]

ROUNDS = 3
"""How often middles become nodes."""


def carries(structure: Structure, quantity: Quantity) -> bool:
    """Whether cells of such a map are carried over at all."""
    return structure.level in LEVELS and quantity in CARRIED


def carrier_for(
    project: Project, request: MapRequest, free: NDArray[np.intp], executor: Executor | None, cancelled: Callable[[], bool] | None
) -> Carrier | None:
    """What carries the cells (P,) of a map over; None where all are worked out in full."""
    if not carries(project.structure, request.quantity) or not len(free):
        return None
    at = nodes(*along_axes(project, request, free), request.modes)
    if at is None:
        return None
    least_use = 0.0 if request.quantity == "strain margin" else NEAR_LIMIT if request.respect_limits else np.inf

    def worked(along: Array, size: Array) -> Found | None:
        parts = spread(len(along), IN_FULL)
        jobs = [(node_chunk, (project, request, along[part], size[part])) for part in parts]
        found: dict[int, Found] = {}
        for index, one in run_chunks(jobs, executor, cancelled):
            if not np.isfinite(one[0].root).any():
                return None  # modes among those asked curve across: nothing foretells them
            found[index] = one
        return joined([found[k] for k in range(len(parts))], parts) if len(found) == len(parts) else None

    first = worked(*at.each)
    if first is None:
        return None
    gathered, lost = Gathered.of(at, first), np.zeros(0, dtype=np.intp)
    open_ = np.arange(len(at.along) - 1)
    for left in reversed(range(ROUNDS)):
        found = worked(*gathered.middles(open_))
        if found is None:
            return None
        lost = open_[gathered.missed(open_, found, request.modes, least_use)]
        if not left or not len(lost):
            break
        new = Nodes(gathered.middles(lost)[0], at.size)
        found = worked(*new.each)
        if found is None:
            return None
        gathered = gathered.joined(Gathered.of(new, found))
        after = np.searchsorted(gathered.at.along, new.along)
        open_ = np.unique(np.concatenate([after - 1, after]))
    carrier = gathered.carrier(np.asarray(request.size_m), request.modes, least_use)
    carrier.lost[lost] = True
    return carrier


def spread(count: int, chunk: int) -> list[NDArray[np.intp]]:
    """Indices 0..count-1 in chunks, each chunk strided over the whole range."""
    n = max(1, -(-count // chunk))
    return [np.arange(k, count, n, dtype=np.intp) for k in range(n) if k < count]
