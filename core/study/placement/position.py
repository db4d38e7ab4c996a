"""The strip under the drawing: what each mode's damping would be with the patch starting at x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.ritz import PROMISED_TO_MANY
from core.predict.predict import bare, modes_kept
from core.project.model import Patch, Project
from core.project.plan import package_margins
from core.study.layouts import Layouts, layouts, placed
from core.study.placement.places import judge

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PositionStrip:
    """Curves over the start of one patch, P positions.

    zeta, k2 : (P, modes); allowed : (P,); reasons : why a position is not allowed ('' where it
    is); tension, compression : (P,) largest static strain of each sign under the service forces, both
    positive numbers; best_x_m : (modes,) allowed start of largest damping.
    """

    patch: str
    x_start_m: Array
    zeta: Array
    k2: Array
    allowed: NDArray[np.bool_]
    reasons: tuple[str, ...]
    tension: Array
    compression: Array
    best_x_m: Array


def damping_against_position(
    project: Project, candidate_id: str | None, patch_id: str, n: int = 120, modes: int = 5
) -> PositionStrip:
    """Move the patch from end to end of the span, everything else as it is.

    Circuits that follow a tuning rule follow it at every position; what is shown at x is what the
    prediction gives there. Raises KeyError for an unknown candidate or patch.
    """
    candidate = project.candidate(candidate_id)
    patch = next((p for p in candidate.patches if p.id == patch_id), None)
    if patch is None:
        raise KeyError(patch_id)
    x = _starts(project, patch, n)
    kept = modes_kept(project, bare(project))
    found = layouts(project, candidate, placed(candidate, patch_id, x), modes, kept=kept, accuracy=PROMISED_TO_MANY)
    modes = min(modes, found.beam.n_kept)
    zeta = found.damping(modes)
    index = next((j for j, g in enumerate(candidate.groups) for m in g.members if m.patch == patch_id), None)
    k2 = np.zeros((n, modes)) if index is None else found.beam.group_k2[:, :modes, index]
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
        tension=_worst(found, patch_id, found.static.tension),
        compression=_worst(found, patch_id, found.static.compression),
        best_x_m=x[where.argmax(axis=0)],
    )


def _starts(project: Project, patch: Patch, n: int) -> Array:
    """Equal steps from end to end, and the two places where the package just fits."""
    last = max(project.structure.span_m - patch.length_m, 0.0)
    margin = package_margins(project.package(patch.package))[0]
    snug = [v for v in (margin, last - margin) if 0.0 < v < last]
    return np.unique(np.concatenate([np.linspace(0.0, last, n - len(set(snug))), snug]))


def _worst(found: Layouts, patch_id: str, strain: Array) -> Array:
    """(P,) the largest of one sign over the patch's plates and the service forces."""
    return strain[..., found.plates_of((patch_id,))].max(axis=(1, 2), initial=0.0)
