"""From geometry to charge: moment per volt g(x) and the blocked capacitance matrix.

    M_b = EI w'' + g V,   q' = -g w'' + c V

of the section that is free across strip by strip, with no axial force: patches over the same x share the axial
strain, and ceramics over each other the strain across, so the capacitance is a full matrix. Leading axes are
layouts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh
from core.beam.section import Section
from core.piezo.package import Plates
from core.piezo.per_volt import Volts, volts_of
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]


class Charges:
    """What a volt on each plate does to the sections under it.

    moment : (..., J, e, q) bending moment per volt g(x), N m/V, zero where a plate does not work.
    strains : (..., J, e, R, q) the same of the strains of further functions; None without any.
    blocked_f : (..., J, J) blocked capacitance, end zones included at their free permittivity.
    """

    def __init__(
        self, mesh: Mesh, section: Section, bonded: BondedStrips | None, plates: Plates,
        active: NDArray[np.bool_] | None, volts: Sequence[Volts] | None = None,
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
        if volts is None:
            volts = () if section.covered is None else (volts_of(section, bonded),)
        for each in volts:
            self._add(each, bonded, mesh)

    def _add(self, volts: Volts, bonded: BondedStrips, mesh: Mesh) -> None:
        index, plate = volts.index, bonded.plate.tolist()
        for i, k in enumerate(volts.sheets):
            self.moment[..., plate[k], :, :][index] = volts.moment[:, i]
            if self.strains is not None and volts.strains is not None:
                self.strains[..., plate[k], :, :, :][index] = volts.strains[:, i]
        weight = mesh.weight_m[index]
        for (k, m), density in volts.shared.items():
            total = (density * weight).sum(axis=-1)
            for row, column in {(plate[k], plate[m]), (plate[m], plate[k])}:
                if index[:-1]:
                    np.add.at(self.blocked_f[..., row, column], index[:-1], total)
                else:
                    self.blocked_f[row, column] += total.sum()
