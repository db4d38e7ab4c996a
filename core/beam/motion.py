"""Motions of the bent beam, loads on it, and the work of one along the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.gauss import flattened
from core.beam.mesh import Mesh

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Motion:
    """Deflection and slope of k shapes: at the points (..., k, e, q) and at the boundaries
    (..., k, e + 1); and windows of further functions (..., e, k, m)."""

    deflection: Array
    slope: Array
    deflection_at: Array
    slope_at: Array
    window: Array | None = None


@dataclass(frozen=True)
class Loads:
    """Forces on k motions: at the points (..., k, e, q), forces and moments at the boundaries
    (..., k, e + 1); and at the points moments, what counts curvature times dx/ds there, and loads on windows of
    further functions (..., e, k, m)."""

    inside: Array
    force_at: Array
    moment_at: Array
    moment: Array | None = None
    bend: Array | None = None
    window: Array | None = None


def summed(a: Motion, b: Motion) -> Motion:
    return Motion(
        a.deflection + b.deflection,
        a.slope + b.slope,
        a.deflection_at + b.deflection_at,
        a.slope_at + b.slope_at,
        a.window if b.window is None else b.window if a.window is None else a.window + b.window,
    )


def less(loads: Array | None, share: Array, parts: Array | None) -> Array | None:
    """Loads (..., k, e, q) less shares (..., k, j) of others."""
    if parts is None:
        return loads
    taken = combined(share, parts, 2)
    return -taken if loads is None else loads - taken


def less_window(loads: Array | None, share: Array, parts: Array | None) -> Array | None:
    """The same of loads on windows (..., e, k, m)."""
    if parts is None:
        return loads
    taken = share[..., None, :, :] @ parts
    return -taken if loads is None else loads - taken


def joined(parts: list[Array]) -> Array:
    """Vectors from their parts; those of no length left out."""
    kept = [p for p in parts if p.shape[-1]]
    return kept[0] if len(kept) == 1 else np.concatenate(kept, axis=-1)


def combined(share: Array, parts: Array, axes: int) -> Array:
    """Sum over j of share (..., k, j) times parts (..., j, *axes)."""
    flat = flattened(parts) if axes == 2 else parts
    return (share @ flat).reshape(*share.shape[:-1], *parts.shape[-axes:])


def work_of(motion: Motion, loads: Loads) -> Array:
    """(..., k, j) work of j loads along k motions."""

    out = flattened(motion.deflection) @ np.swapaxes(flattened(loads.inside), -1, -2)
    if loads.force_at.any():
        out = out + motion.deflection_at @ np.swapaxes(loads.force_at, -1, -2)
    if loads.moment_at.any():
        out = out + motion.slope_at @ np.swapaxes(loads.moment_at, -1, -2)
    if loads.moment is not None:
        out = out + flattened(motion.slope) @ np.swapaxes(flattened(loads.moment), -1, -2)
    if loads.window is not None and motion.window is not None:
        left, right = (flattened(np.swapaxes(v, -2, -3)) for v in (motion.window, loads.window))
        out = out + left @ np.swapaxes(right, -1, -2)
    return np.asarray(out)


def boundary_of(mesh: Mesh, x_m: float) -> Array:
    """(..., e + 1) one at the boundary nearest to x, zero elsewhere."""
    index = np.abs(mesh.bounds_m - x_m).argmin(axis=-1)
    return (np.arange(mesh.bounds_m.shape[-1]) == index[..., None]).astype(float)
