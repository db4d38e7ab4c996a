"""Sheets off the centreline or turned: rectangles in axes of their own, and what of the width they cover at each x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

STRAIGHT = 1e-9
"""Sine or cosine of a turn below which an edge runs along an axis."""
APART = 1e-3
"""Of the span: corners of turned sheets nearer to a boundary of elements than that have none of their own. In elements as
short as a turn of a degree makes them functions across the width would be held by rounding; what is lost is how points of
integration take a jump between them."""
LANE_STEPS = 64
"""Along each edge, to see where it passes the edge of a lane of the part."""


@dataclass(frozen=True)
class Askew:
    """Rectangles (..., k): xi0 to xi1 along and eta0 to eta1 across axes turned by an angle about the middle (x, y) of the
    package each belongs to. Some layouts may have leading axes."""

    x_m: Array
    y_m: Array
    cosine: Array
    sine: Array
    xi0_m: Array
    xi1_m: Array
    eta0_m: Array
    eta1_m: Array

    def arrays(self) -> tuple[Array, ...]:
        return (self.x_m, self.y_m, self.cosine, self.sine, self.xi0_m, self.xi1_m, self.eta0_m, self.eta1_m)

    def taken(self, kept: NDArray[np.intp]) -> Askew:
        return Askew(*(v[..., kept] for v in self.arrays()))

    @property
    def is_turned(self) -> bool:
        return bool((np.abs(self.sine) > STRAIGHT).any())

    def corners(self) -> tuple[Array, Array]:
        """x and y (..., k, 4) of the corners, in their order round the rectangle."""
        xi = np.stack(np.broadcast_arrays(self.xi0_m, self.xi1_m, self.xi1_m, self.xi0_m), axis=-1)
        eta = np.stack(np.broadcast_arrays(self.eta0_m, self.eta0_m, self.eta1_m, self.eta1_m), axis=-1)
        x, y, c, s = (v[..., None] for v in (self.x_m, self.y_m, self.cosine, self.sine))
        return x + xi * c - eta * s, y + xi * s + eta * c

    def corners_m(self) -> Array:
        """(..., 4 k) x of the corners."""
        x = self.corners()[0]
        return x.reshape(*x.shape[:-2], -1)

    def reach_m(self) -> tuple[Array, Array]:
        """(..., k) the least and the largest x."""
        x = self.corners()[0]
        return x.min(axis=-1), x.max(axis=-1)

    def sides(self, x: Array, lead: tuple[NDArray[np.intp], ...]) -> tuple[Array, Array]:
        """(n, k, q) between which y each lies at x (n, q), elements of the layouts `lead`; the same twice where it does not."""
        def of(v: Array) -> Array:
            return (v[lead] if v.ndim > 1 and lead else np.asarray(v)[None])[..., None]

        xm, ym, c, s, xi0, xi1, eta0, eta1 = (of(v) for v in self.arrays())
        d = x[:, None, :] - xm
        across, along = _between(eta0 + d * s, eta1 + d * s, c), _between(xi0 - d * c, xi1 - d * c, s)
        low = np.maximum(across[0], along[0])
        return ym + low, ym + np.maximum(np.minimum(across[1], along[1]), low)


def _between(first: Array, second: Array, factor: Array) -> tuple[Array, Array]:
    """y for which factor y lies between two values; everywhere for a factor of nothing."""
    used = np.abs(factor) > STRAIGHT
    safe = np.where(used, factor, 1.0)
    a, b = first / safe, second / safe
    return np.where(used, np.minimum(a, b), -np.inf), np.where(used, np.maximum(a, b), np.inf)


def spaced(places_m: Array, base_m: Array) -> Array:
    """Places (..., k), those that count most first, without those near a boundary (b,) or an earlier one; in many layouts
    what one has not is at the first boundary."""
    least = APART * float(base_m[-1])
    kept = [np.broadcast_to(b, places_m.shape[:-1]) for b in base_m]
    found = []
    for i in range(places_m.shape[-1]):
        x = places_m[..., i]
        near = np.any([np.abs(x - other) < least for other in kept], axis=0)
        if not near.all():
            x = np.where(near, base_m[0], x)
            kept.append(x)
            found.append(x)
    return np.stack(found, axis=-1) if found else places_m[..., :0]


def crossings_m(spec: BeamSpec, sheets: Askew) -> Array:
    """(..., m) every x at which edges cross each other, the edge of a lane of the part or its centreline: strips change
    their order there, and functions aslant jump where they are nothing. Of many layouts each has its own, in the same number (a place that a layout has not is its first corner)."""
    x, y = sheets.corners()
    y = np.broadcast_to(y, x.shape)
    lead = x.shape[:-2]
    x, y = x.reshape(-1, *x.shape[-2:]), y.reshape(-1, *x.shape[-2:])
    each = [_of_one(spec, np.stack([x[i], y[i]], axis=-1)) for i in range(len(x))]
    most = max(len(v) for v in each)
    out = np.array([np.concatenate([v, np.full(most - len(v), x[i].min())]) for i, v in enumerate(each)])
    return out.reshape(*lead, most)


def _of_one(spec: BeamSpec, corners: Array) -> Array:
    """Of one layout's corners (k, 4, 2)."""
    edges = np.concatenate([corners, np.roll(corners, -1, axis=1)], axis=-1).reshape(-1, 4)
    edges = np.array(list({tuple(v): None for v in np.round(edges, 12).tolist()}))
    a, b = edges[:, :2], edges[:, 2:]
    found = _of_edges(a, b)
    a, b = (v[np.abs(b[:, 0] - a[:, 0]) > 1e-12] for v in (a, b))
    if len(a):
        t = np.linspace(0.0, 1.0, LANE_STEPS + 1)
        along = a[:, :1] + (b - a)[:, :1] * t
        across = a[:, 1:] + (b - a)[:, 1:] * t
        edges = spec.lane_edges_m(along)
        gap = across - np.concatenate([-edges, np.zeros_like(along)[None], edges])
        near, far = gap[..., :-1], gap[..., 1:]
        hit = ((near * far < 0.0) | (near == 0.0)) & (near != far) & (along[:, :-1] > 0.0) & (along[:, 1:] < spec.span_m)
        share = np.divide(near, near - far, out=np.zeros_like(near), where=hit)
        found = np.concatenate([found, np.broadcast_to(along[:, :-1] + (along[:, 1:] - along[:, :-1]) * share, hit.shape)[hit]])
    return distinct(found) if len(found) else found


def _of_edges(a: Array, b: Array) -> Array:
    """x of the inner crossings of straight edges from a to b (m, 2)."""
    u = b - a
    w = a[None] - a[:, None]
    det = u[:, None, 0] * u[None, :, 1] - u[:, None, 1] * u[None, :, 0]
    size = np.hypot(u[:, 0], u[:, 1])
    apart = np.abs(det) > 1e-9 * size[:, None] * size
    safe = np.where(apart, det, 1.0)
    t = (w[..., 0] * u[None, :, 1] - w[..., 1] * u[None, :, 0]) / safe
    inside = apart & (t > 1e-9) & (t < 1.0 - 1e-9)
    both = np.triu(inside & inside.T)
    return np.asarray((a[:, None, 0] + t * u[:, None, 0])[both])
