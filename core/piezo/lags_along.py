"""Build-up lengths of strain over the bond, told once along the whole part as polynomials: a patch that is dragged asks at its ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.gauss import legendre, rule
from core.beam.mesh import Mesh, at_points, base_mesh
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LagsAlong:
    """Build-up lengths along the whole part: coefficients (J, e, n) of Legendre polynomials over the elements of a mesh, in which
    sections are smooth."""

    mesh: Mesh
    coefficients: Array

    @staticmethod
    def of(spec: BeamSpec, lags: Callable[[Array], Array]) -> LagsAlong:
        """Of `lags`, (J, k) at places x (k,)."""
        r = rule(LAG_POINTS)
        mesh = at_points(base_mesh(spec, LAG_MODES), r)
        values = lags(mesh.x_m.ravel()).reshape(-1, *mesh.x_m.shape)
        return LagsAlong(mesh, values @ r.to_legendre)

    @property
    def is_smooth(self) -> bool:
        """Whether polynomials tell them: not where a sheet of the part turns from soft to stiff inside an element."""
        last, most = np.abs(self.coefficients[..., -2:]).max(initial=0.0), np.abs(self.coefficients).max(initial=0.0)
        return bool(last <= UNTOLD * most)

    def at(self, x: Array) -> Array:
        """(J, k) at places x (J, k)."""
        inside = np.clip(x, 0.0, self.mesh.bounds_m[-1])
        element = np.searchsorted(self.mesh.bounds_m[1:-1], inside)
        own = self.coefficients[np.arange(len(x))[:, None], element]
        return np.asarray((own * legendre(self.mesh.parameter(inside, element), own.shape[-1])).sum(axis=-1))


LAG_POINTS = 10
"""In every element: its linear dimensions change by less than a factor of 1.7, so that what is left out is 1e-9."""
UNTOLD = 1e-6
"""Of the largest coefficient: how small the last two must be."""
LAG_MODES = 8
"""Elements are as long as the waves of so many modes ask for."""
