"""Further functions with only a few unknowns left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from core.beam.gauss import flattened

if TYPE_CHECKING:
    from core.beam.further import Further

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Narrowed:
    """Further functions with only a few unknowns left, r of them. To others it is as `Further`; what is a window there is
    (..., 1, k, r) of the unknowns themselves."""

    whole: Further
    basis: Array
    """(..., e, r, m) windows of the unknowns."""
    bend: Array
    """(..., r, e, q) what they bend the centreline by."""
    value: Array
    """(..., r, e, F, q)"""
    push: Array
    turn: Array | None
    """(..., r, e, q) their inertia against the deflection and the slope, None without."""
    own: Array
    """(..., r, r) and against each other."""
    lever: Array | None = None
    """(..., K, r) inertia of point masses off the centreline between the deflection there and the unknowns."""

    @property
    def size(self) -> int:
        return int(self.own.shape[-1])

    @property
    def functions(self) -> int:
        return self.whole.functions

    def window(self, z: Array) -> Array:
        return z[..., None, :, :]

    def curvature(self, window: Array) -> Array:
        return _spread(window[..., 0, :, :], self.bend)

    def values(self, window: Array) -> Array:
        z, shape = window[..., 0, :, :], self.value.shape
        return (z @ self.value.reshape(*shape[:-3], -1)).reshape(*z.shape[:-1], *shape[-3:])

    def inertia(
        self, deflection: Array, slope: Array, window: Array | None, besides: Array | None = None
    ) -> tuple[Array, Array | None, Array]:
        loads = _read(deflection, self.push)
        if besides is not None:
            loads = loads + self._of_forces(besides)
        if self.turn is not None:
            loads = loads + _read(slope, self.turn)
        if window is None:
            return np.zeros(()), None, loads[..., None, :, :]
        z = window[..., 0, :, :]
        moment = None if self.turn is None else _spread(z, self.turn)
        return _spread(z, self.push), moment, (loads + z @ self.own)[..., None, :, :]

    def rows(
        self, bend: Array, window: Array | None = None, values: Array | None = None, strains: Array | None = None
    ) -> Array:
        out = _read(bend, self.bend)
        if window is not None:
            out = out + window[..., 0, :, :]
        if values is not None:
            out = out + self._of_forces(values)
        if strains is not None:
            loads = np.swapaxes(self.whole.from_strains(strains), -2, -3)
            out = out + flattened(loads) @ np.swapaxes(flattened(np.swapaxes(self.basis, -2, -3)), -1, -2)
        return out

    def _of_forces(self, values: Array) -> Array:
        """(..., k, r) loads of forces on the values (..., k, e, F, q)."""
        flat = self.value.reshape(*self.value.shape[:-3], -1)
        return np.asarray(values.reshape(*values.shape[:-3], -1) @ np.swapaxes(flat, -1, -2))

    def strains(self, z: Array, s: Array | None = None) -> Array:
        flat = flattened(np.swapaxes(self.basis, -2, -3))
        window = (z @ flat).reshape(*z.shape[:-1], self.basis.shape[-3], self.basis.shape[-1])
        return self.whole.strains_of(np.swapaxes(window, -2, -3), s)


def _spread(z: Array, each: Array) -> Array:
    """(..., k, e, q) of unknowns (..., k, r) what each makes (..., r, e, q)."""
    return (z @ flattened(each)).reshape(*z.shape[:-1], *each.shape[-2:])


def _read(loads: Array, each: Array) -> Array:
    """(..., k, r) work of loads (..., k, e, q) along what each unknown makes."""
    return flattened(loads) @ np.swapaxes(flattened(each), -1, -2)
