"""A long record thinned to the points a screen can show, without losing a peak."""

from __future__ import annotations

import numpy as np

from core.measured.record import Array, Values

POINTS = 1600


def thinned(values: Values, start: float, step: float, low: float, high: float, points: int = POINTS) -> tuple[Array, Array]:
    """x and y of the samples between `low` and `high`: all of them where they are few, else the least and the
    largest of each share of the axis."""
    first = int(np.clip(np.floor((low - start) / step), 0, len(values)))
    last = int(np.clip(np.ceil((high - start) / step) + 1, 0, len(values)))
    part = np.real(values[first:last])
    count = len(part)
    if count <= 2 * points:
        return np.asarray(start + step * np.arange(first, last), dtype=float), np.asarray(part, dtype=float)
    share = count // points
    whole = part[: share * (count // share)].reshape(-1, share)
    x = start + step * (first + share * (np.arange(len(whole)) + 0.5))
    return np.repeat(x, 2), np.stack([whole.min(axis=1), whole.max(axis=1)], axis=1).ravel().astype(float)
