"""From geometry to charge: moment per volt g(x) and the blocked capacitance matrix.

    M_b = EI w'' + g V,   q' = -g w'' + c V

of the section that is free across strip by strip, with no axial force: patches over the same x share the axial
strain, and ceramics over each other the strain across, so the capacitance is a full matrix. Leading axes are
layouts.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh
from core.beam.section import Covered, Section, at_layouts
from core.piezo.package import Plates
from core.piezo.per_volt import Volts, volts_of
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]


class PerVolt:
    """What a volt on each ceramic puts into the sections under it, in the covered elements (n, q).

    Iterates over (sheet, plate, force in N/V, moment about the neutral axis in N m/V)."""

    def __init__(self, section: Section, bonded: BondedStrips) -> None:
        assert section.covered is not None
        self._at, self._bonded = section.covered, bonded
        self._lead = section.covered.index[:-1]
        self._neutral = section.neutral_axis_m[section.covered.index]
        self.electrode = at_layouts(bonded.strips.electrode, self._lead, 2)
        self._mid = at_layouts(bonded.strips.mid_m, self._lead, 1)

    @property
    def sheets(self) -> list[int]:
        return np.flatnonzero(self._bonded.is_ceramic).tolist()

    def height_m(self, sheet: int) -> Array:
        """(n, q) of the ceramic's mid-plane above the underside."""
        return np.asarray(self._bonded.strips.on_top[sheet] * self._at.top_m + self._mid[:, sheet, None])

    def __iter__(self) -> Iterator[tuple[int, int, Array, Array]]:
        for k in self.sheets:
            there, e = self._at.there[..., k, None], self.electrode
            force, moment = self._at.strips.per_volt(there, self.height_m(k), e[:, k, :1], e[:, k, 1:2])
            yield k, int(self._bonded.plate[k]), force, moment - self._neutral * force


class Charges:
    """What a volt on each plate does to the sections under it.

    moment : (..., J, e, q) bending moment per volt g(x), N m/V, zero where a plate does not work.
    strains : (..., J, e, R, q) the same of the strains of further functions; None without any.
    blocked_f : (..., J, J) blocked capacitance, end zones included at their free permittivity.
    """

    def __init__(
        self, mesh: Mesh, section: Section, bonded: BondedStrips | None, plates: Plates,
        active: NDArray[np.bool_] | None, volts: Volts | None = None,
    ) -> None:  # fmt: skip
        lead, count = mesh.x_m.shape[:-2], len(plates)
        self.moment = np.zeros((*lead, count, *mesh.x_m.shape[-2:]))
        inside = (plates.x_b_eff_m - plates.x_a_eff_m) * (plates.working_width_m / plates.width_m)
        ends = (plates.x_b_m - plates.x_a_m) - inside
        own = plates.width_m / plates.thickness_m * plates.coefficients.permittivity_free * ends
        self.blocked_f = np.broadcast_to(own, (*lead, count))[..., None] * np.eye(count)
        self.strains: Array | None = None
        if section.further is not None:
            count_of = section.further.coupling.shape[-2:]
            self.strains = np.zeros((*self.moment.shape[:-1], *count_of))
        if bonded is None or active is None:
            return
        if section.further is not None:
            self._add_further(np.nonzero(active.any(axis=-2)), bonded, mesh, section, volts)
        elif section.covered is not None:
            self._add(section.covered, bonded, mesh, section)

    def _add(self, at: Covered, bonded: BondedStrips, mesh: Mesh, section: Section) -> None:
        lead, weight, axial = at.index[:-1], mesh.weight_m[at.index], section.axial[at.index]
        thickness = at_layouts(bonded.strips.thickness_m, lead, 1)
        volts = PerVolt(section, bonded)
        forces: dict[int, Array] = {}
        for k, j, force, moment in volts:
            self.moment[..., j, :, :][at.index] = moment
            forces[k] = force
            width = (at.there[..., k, None] * at.strips.width_m).sum(axis=-2)
            self._sum(lead, j, j, (volts.electrode[:, k, 2] / thickness[:, k])[:, None] * width * weight)
        lies = at.there[..., volts.sheets]
        over = np.einsum("nsk,nsl->kl", lies, lies) > 0.0
        under = lies.any(axis=1).astype(float)
        together = under.T @ under > 0.0
        for (a, k), (b, m) in product(enumerate(volts.sheets), repeat=2):
            if not together[a, b]:
                continue
            shared = forces[k] * forces[m] / axial
            if over[a, b]:
                heights = (volts.height_m(k), volts.height_m(m))
                across = (volts.electrode[:, k, 1:2], volts.electrode[:, m, 1:2])
                both = (at.there[..., k] * at.there[..., m])[..., None]
                shared = shared + at.strips.sideways(both, heights, across)
            self._sum(lead, int(bonded.plate[k]), int(bonded.plate[m]), shared * weight)

    def _add_further(
        self, index: tuple[NDArray[np.intp], ...], bonded: BondedStrips, mesh: Mesh, section: Section, volts: Volts | None
    ) -> None:
        """The same where further functions tell how the section moves: their strains have columns too."""
        assert self.strains is not None
        if volts is None:
            per_volt = PerVolt(section, bonded)
            volts = volts_of(section, bonded, per_volt.sheets, [per_volt.height_m(k) for k in per_volt.sheets])
        lead, weight = index[:-1], mesh.weight_m[index]
        sheets = np.flatnonzero(bonded.is_ceramic).tolist()
        for i, k in enumerate(sheets):
            j = int(bonded.plate[k])
            self.moment[..., j, :, :][index] = volts.moment[:, i]
            self.strains[..., j, :, :, :][index] = volts.strains[:, i]
        for (i, k), (m, other) in product(enumerate(sheets), repeat=2):
            self._sum(lead, int(bonded.plate[k]), int(bonded.plate[other]), volts.shared[:, i, m] * weight)

    def _sum(self, lead: tuple[NDArray[np.intp], ...], j: int, k: int, density: Array) -> None:
        """Add the integral over the covered elements to every layout's capacitance."""
        total = density.sum(axis=-1)
        if lead:
            np.add.at(self.blocked_f[..., j, k], lead, total)
        else:
            self.blocked_f[j, k] += total.sum()
