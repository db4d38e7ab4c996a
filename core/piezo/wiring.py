"""Patches joined into groups: signs, parallel or series, and the nodes left floating.

Every plate's voltage is V = S V_g + N V_f, with V_g the groups' lead voltages and V_f the inner
nodes of series groups, which carry no charge (N^T Q = 0) and therefore stiffen the beam.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.piezo.package import Plates
from core.project.candidate import Candidate

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wiring:
    """Lead and floating patterns of the plates' voltages: (J, G) and (J, F)."""

    leads: Array
    floating: Array
    group_ids: tuple[str, ...]


def plate_sign(plates: Plates, j: int, polarity: int) -> float:
    """Sign of a plate in its group: the underside ceramic of a bending pair is wired opposite."""
    return -float(polarity) if plates.paired[j] and not plates.on_top[j] else float(polarity)


def wire(candidate: Candidate, plates: Plates) -> Wiring:
    """Patterns of every group; a plate in no group is shorted (its voltage is zero)."""
    leads, floating = [], []
    n = len(plates)
    for group in candidate.groups:
        signs = np.zeros(n)
        for member in group.members:
            for j, patch in enumerate(plates.patches):
                if patch == member.patch:
                    signs[j] = plate_sign(plates, j, member.polarity)
        used = np.flatnonzero(signs)
        if group.wiring == "parallel" or len(used) < 2:
            leads.append(signs)
            continue
        leads.append(signs / len(used))
        for a, b in pairwise(used):
            node = np.zeros(n)
            node[a], node[b] = signs[a], -signs[b]
            floating.append(node)
    return Wiring(
        np.array(leads).reshape(len(leads), n).T,
        np.array(floating).reshape(len(floating), n).T,
        tuple(g.id for g in candidate.groups),
    )


@dataclass(frozen=True)
class Terminals:
    """Electrical terminals of the groups after the floating nodes are eliminated.

    theta_g = theta combine, C_g = capacitance; `stiffeners` = (..., J, F) columns b such that each
    theta b adds (theta b . q)^2 / 2 to the strain energy. Leading axes are layouts.
    """

    combine: Array
    capacitance: Array
    stiffeners: Array


def eliminate(wiring: Wiring, blocked: Array) -> Terminals:
    """Condense the floating nodes: with B = N^T C N,

    combine = S - N B^-1 N^T C S,  C_g = combine^T C combine,  stiffeners = N B^(-1/2).

    For one series group alone this is 1/C_g = s^T C^-1 s and theta_g = C_g theta C^-1 s.
    """
    s, n, lead = wiring.leads, wiring.floating, blocked.shape[:-2]
    if n.shape[1] == 0:
        combine, stiffeners = (np.broadcast_to(v, (*lead, *v.shape)) if lead else v for v in (s, n))
        return Terminals(combine, s.T @ blocked @ s, stiffeners)
    lower = np.linalg.cholesky(n.T @ blocked @ n)
    half = np.swapaxes(np.linalg.solve(lower, np.broadcast_to(n.T, (*lower.shape[:-1], len(n)))), -1, -2)
    combine = s - half @ (np.swapaxes(half, -1, -2) @ blocked @ s)
    return Terminals(combine, np.swapaxes(combine, -1, -2) @ blocked @ combine, half)
