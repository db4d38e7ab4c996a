"""The strip under the drawing: what each mode's damping would be with the patch starting at x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.project.model import Patch, Project
from core.project.plan import package_margins
from core.study.many.damping import present_detune, sweep_damping
from core.study.many.sweep import sweep
from core.study.placement.places import judge

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PositionStrip:
    """Curves over the start of one patch, P positions.

    zeta, k2 : (P, modes); allowed : (P,); reasons : why a position is not allowed ('' where it
    is); static_strain : (P,) the static strain of larger size under the service forces, tension
    positive; best_x_m : (modes,) allowed start of largest damping.
    """

    patch: str
    x_start_m: Array
    zeta: Array
    k2: Array
    allowed: NDArray[np.bool_]
    reasons: tuple[str, ...]
    static_strain: Array
    best_x_m: Array


def damping_against_position(
    project: Project, candidate_id: str | None, patch_id: str, n: int = 120, modes: int = 5
) -> PositionStrip:
    """Move the patch from end to end of the span, everything else as it is.

    Circuits that follow a tuning rule follow it at every position: by the closed form, and for an
    optimum by the closed form times what the optimum is of it at the present place. Raises KeyError
    for an unknown candidate or patch.
    """
    candidate = project.candidate(candidate_id)
    patch = next((p for p in candidate.patches if p.id == patch_id), None)
    if patch is None:
        raise KeyError(patch_id)
    x = _starts(project, patch, n)
    found = sweep(project, candidate, patch_id, x, patch.length_m, patch.width_m, n_modes=modes)
    modes = min(modes, found.mu_s2.shape[1] - 1)
    zeta = sweep_damping(found, candidate.groups, modes, present_detune(project, candidate))
    index = next((j for j, g in enumerate(candidate.groups) for m in g.members if m.patch == patch_id), None)
    k2 = np.zeros((n, modes)) if index is None else found.coupling(index, modes)[0]
    length, width = np.full(len(x), patch.length_m), np.full(len(x), patch.width_m)
    code, words = judge(project, candidate, patch, x, length, width)
    allowed = code < 0
    where = np.where(allowed[:, None], np.nan_to_num(zeta), -1.0)
    return PositionStrip(
        patch=patch_id,
        x_start_m=x,
        zeta=zeta,
        k2=k2,
        allowed=allowed,
        reasons=tuple(f"A patch starting here would lie {words[c]}." if c >= 0 else "" for c in code),
        static_strain=_worst(found.static_strain, found.compressive_strain),
        best_x_m=x[where.argmax(axis=0)],
    )


def _starts(project: Project, patch: Patch, n: int) -> Array:
    """Equal steps from end to end, and the two places where the package just fits."""
    last = max(project.structure.span_m - patch.length_m, 0.0)
    margin = package_margins(project.package(patch.package))[0]
    snug = [v for v in (margin, last - margin) if 0.0 < v < last]
    return np.unique(np.concatenate([np.linspace(0.0, last, n - len(set(snug))), snug]))


def _worst(tension: Array, compression: Array) -> Array:
    if tension.shape[1] == 0:
        return np.zeros(len(tension))
    t, c = tension.max(axis=1), compression.max(axis=1)
    return np.where(t >= c, t, -c)
