"""A structure with its patches solved: modes, coupling, capacitance, and what is read off them.

Arrays of many layouts have a leading axis; what speaks of one place x serves one layout.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh
from core.beam.modes import BeamSolution
from core.beam.section import Section
from core.beam.spec import BeamSpec
from core.piezo.ceramic_strain import CeramicStrain, ceramic_strains
from core.piezo.coupling import coupling, coupling_single
from core.piezo.energy import Density, EnergyShares, Sections, energy_density, loss_factors
from core.piezo.package import CeramicPlate, Plates
from core.piezo.per_volt import PerVolt
from core.piezo.wiring import Terminals, Wiring, eliminate
from core.project.structure import Damping

Array = NDArray[np.float64]


FEW_PLACES = 8
"""Of so many at once the rows of a layout are remembered."""


@dataclass(frozen=True, eq=False)
class Carried:
    """What carries layouts worked in one way over to another (`core.study.carried`): factors on the frequency, on the coupling and on
    the inherent damping of every discrete mode (..., v), on every capacitance of a group and on what of it loses (..., G), and
    what is added to the coupling after that, theta over omega (..., v, G). Of one layout, for all alike, or of each."""

    frequency: Array
    coupling: Array
    damping: Array
    capacitance: Array
    lossy: Array
    added: Array | None = None


@dataclass(frozen=True)
class CoupledBeam:
    """A structure with patches, in modal form (N kept modes, J ceramic plates, G groups).

    Modal coordinates: q'' + 2 zeta omega q' + omega^2 q + theta V = f and
    Q = -theta^T q + C V. A functional of the deflection is a row (..., n); its modal values are
    `omega_rad_s * (units @ row)`, the static compliance of two rows their dot product.
    """

    beam: BeamSolution
    sections: Sections
    ceramics: Plates
    wiring: Wiring
    terminals: Terminals
    n_kept: int
    damping: Damping
    inherent: Array | None
    """(P,) factor on the damping ratios; None for 1."""
    blocked_f: Array
    """(..., J, J) blocked capacitance of the plates."""
    theta_rows: Array
    """(..., J, n) charge rows of the plates: theta in dof space."""
    group_theta_rows: Array
    """(..., G, n)"""
    place_rows: Array
    """(..., K, n) deflection where tuned masses sit."""
    hung_kg: Array
    """(...) their masses together."""
    n_twist: int = 0
    """Of the modes kept the last ones twist the part, where bending and torsion meet: modes keep their rank as a patch
    leaves the centreline. Each of the two kinds is in the order of its frequencies."""
    carried: Carried | None = None

    @cached_property
    def kept(self) -> dict[str, Any]:
        """What others worked out of the layout alone, whatever hangs on it."""
        return {}

    def carried_over(self, c: Carried) -> CoupledBeam:
        """The same with factors on what was found. Shapes and masses stay as they are."""
        count = self.beam.mu_s2.shape[-1]
        r = c.frequency[..., :count]
        beam = BeamSolution(self.beam.bending, self.beam.mu_s2 / r**2, self.beam.unit / r[..., None])
        root = np.sqrt(c.capacitance)[..., None]
        mine = self.wiring.leads != 0.0
        own = mine @ root + (1.0 - mine.any(axis=-1, keepdims=True))
        terminals = replace(self.terminals, capacitance=self.terminals.capacitance * root * transposed(root))
        return replace(
            self, beam=beam, terminals=terminals, blocked_f=self.blocked_f * own * transposed(own), theta_rows=self.theta_rows * own,
            group_theta_rows=self.group_theta_rows * root, carried=c,
        )  # fmt: skip

    @property
    def spec(self) -> BeamSpec:
        return self.sections.spec

    @property
    def mesh(self) -> Mesh:
        return self.sections.mesh

    @property
    def section(self) -> Section:
        """At the points of the mesh."""
        return self.sections.section

    @cached_property
    def plates(self) -> tuple[CeramicPlate, ...]:
        """The ceramics of one layout in plain numbers."""
        return tuple(self.ceramics.plate(j) for j in range(len(self.ceramics)))

    @property
    def omega_rad_s(self) -> Array:
        """(..., N) natural frequencies of the elastic modes."""
        return self.beam.omega_rad_s[..., : self.n_kept]

    @property
    def units(self) -> Array:
        """(..., N, n) unit vectors of the kept modes."""
        return self.beam.unit[..., : self.n_kept, :]

    @property
    def n_rigid(self) -> int:
        return self.beam.bending.n_rigid

    @property
    def group_ids(self) -> tuple[str, ...]:
        return self.wiring.group_ids

    @cached_property
    def port_rows(self) -> Array:
        """(..., P, n) of all that something hangs on: the groups, then the places of tuned masses."""
        return rows_joined(self.group_theta_rows, self.place_rows)

    @cached_property
    def _port_projection(self) -> Array:
        """(..., v, P) theta_k/omega_k of every discrete mode."""
        found = self.beam.unit @ transposed(self.port_rows)
        if self.carried is not None:
            groups, count = len(self.group_ids), found.shape[-2]
            found[..., :groups] *= self.carried.coupling[..., :count, None]
            if self.carried.added is not None:
                found[..., :groups] += self.carried.added[..., :count, :]
        return found

    @cached_property
    def _answer(self) -> Array:
        """(..., P, P) static answer of the part to what is on the ports; what carries couplings over adds to it as well."""
        found = self.port_rows @ transposed(self.port_rows)
        if self.carried is None:
            return found
        before, after = self.beam.unit @ transposed(self.port_rows), self._port_projection
        before = before * self.carried.frequency[..., : before.shape[-2], None]
        return np.asarray(found + transposed(after) @ after - transposed(before) @ before)

    @property
    def _group_projection(self) -> Array:
        """(..., v, G)"""
        return self._port_projection[..., : len(self.group_ids)]

    @cached_property
    def theta(self) -> Array:
        """(..., N, J) coupling of each plate, N/V in modal units; without what `Carried` adds to that of a group."""
        found = self.omega_rad_s[..., None] * (self.units @ transposed(self.theta_rows))
        return found if self.carried is None else found * self.carried.coupling[..., : self.n_kept, None]

    @cached_property
    def group_theta(self) -> Array:
        """(..., N, G) coupling of each group."""
        return self.omega_rad_s[..., None] * self._group_projection[..., : self.n_kept, :]

    @cached_property
    def port_theta(self) -> Array:
        """(..., N, P) of the groups, and the deflection at the places."""
        return self.omega_rad_s[..., None] * self._port_projection[..., : self.n_kept, :]

    @cached_property
    def port_corrected_f(self) -> Array:
        """(..., P, P) `group_corrected_f`, and the compliance of the truncated modes at the places, m/N."""
        scaled = self._port_projection[..., : self.n_kept, :]
        return self._on_ports(self.group_blocked_f) + self._answer - transposed(scaled) @ scaled

    def port_loss_f(self) -> Array:
        """(..., P, P) `group_loss_f`; nothing at the places."""
        return self._on_ports(self.group_loss_f())

    def _on_ports(self, of_groups: Array) -> Array:
        places = self.place_rows.shape[-2]
        if not places:
            return of_groups
        groups = of_groups.shape[-1]
        out = np.zeros((*of_groups.shape[:-2], groups + places, groups + places))
        out[..., :groups, :groups] = of_groups
        return out

    @property
    def free_f(self) -> Array:
        """(..., J, J) static free capacitance, C + theta^T K^-1 theta."""
        return self.blocked_f + self.theta_rows @ transposed(self.theta_rows)

    @property
    def group_blocked_f(self) -> Array:
        """(..., G, G) true blocked capacitance of the groups."""
        return self.terminals.capacitance

    @cached_property
    def group_free_f(self) -> Array:
        """(..., G, G) static free capacitance of the groups."""
        groups = len(self.group_ids)
        return self.group_blocked_f + self._answer[..., :groups, :groups]

    @cached_property
    def group_unbonded_f(self) -> Array:
        """(..., G) capacitance of the groups as wired, every package loose."""
        each = self.ceramics.unbonded_f[..., None] * np.eye(len(self.ceramics))
        return np.asarray(np.diagonal(eliminate(self.wiring, each).capacitance, axis1=-2, axis2=-1))

    @cached_property
    def group_corrected_f(self) -> Array:
        """(..., G, G) C^(N): what makes the static free capacitance exact with N modes kept."""
        return self.corrected_f(self.n_kept)

    def corrected_f(self, n_modes: int) -> Array:
        """(..., G, G) the same with so many modes."""
        scaled = self._group_projection[..., :n_modes, :]
        return self.group_free_f - transposed(scaled) @ scaled

    def coupling(self, group: int, n_modes: int) -> tuple[Array, Array]:
        """K^2 and modal capacitance of a group with the others shorted, (..., n_modes) each."""
        projection, blocked = self._group_projection[..., group], self.group_blocked_f[..., group, group]
        if not self.n_twist:
            return coupling_single(self.beam.mu_s2, projection, blocked, n_modes)
        order, rank = self._by_frequency
        mu, sorted_by = (np.take_along_axis(v, order, axis=-1) for v in (self.beam.mu_s2, projection))
        found = coupling_single(mu, sorted_by, blocked, int(rank[..., :n_modes].max()) + 1)
        k2, c_n = (np.take_along_axis(v, rank[..., :n_modes], axis=-1) for v in found)
        return k2, c_n

    @cached_property
    def _by_frequency(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """(..., v) the order of the discrete modes by frequency, and the place of each in it."""
        order = np.argsort(-self.beam.mu_s2, axis=-1, kind="stable")
        return order, np.argsort(order, axis=-1, kind="stable")

    @cached_property
    def _group_coupling(self) -> tuple[Array, Array]:
        shape = (*self.omega_rad_s.shape, len(self.group_ids))
        k2, c_n = np.zeros(shape), np.zeros(shape)
        for j in range(len(self.group_ids)):
            k2[..., j], c_n[..., j] = self.coupling(j, self.n_kept)
        return k2, c_n

    @property
    def group_k2(self) -> Array:
        """(..., N, G) K^2 of each group, the others shorted."""
        return self._group_coupling[0]

    @property
    def modal_capacitance_f(self) -> Array:
        """(..., N, G) capacitance that goes with K^2: theta_n^2/(K_n^2 omega_n^2)."""
        return self._group_coupling[1]

    @cached_property
    def k2(self) -> Array:
        """(..., N) K^2 with every group open."""
        groups = len(self.group_ids)
        if groups == 0:
            return np.zeros(self.omega_rad_s.shape)
        if groups == 1:
            return self.group_k2[..., 0]
        own = np.diagonal(self.group_blocked_f, axis1=-2, axis2=-1)
        live = np.flatnonzero((own > 0.0).reshape(-1, groups).all(axis=0))
        blocked = self.group_blocked_f[..., live[:, None], live]
        return coupling(self.beam.mu_s2, self._group_projection[..., live], blocked, self.n_kept)

    def group_loss_f(self) -> Array:
        """(..., G, G) true blocked capacitance times tan delta, F: omega times it is a conductance."""
        root = np.sqrt(np.maximum(self.ceramics.coefficients.tan_delta, 0.0))
        combine = self.terminals.combine * root[..., None]
        if self.carried is not None:
            combine = combine * np.sqrt(self.carried.lossy / self.carried.capacitance)[..., None, :]
        return transposed(combine) @ self.blocked_f @ combine

    @cached_property
    def _energy_density(self) -> Density:
        return energy_density(self.beam, self.omega_rad_s)

    @cached_property
    def energy(self) -> EnergyShares:
        """Strain energy shares of the kept modes."""
        return EnergyShares(self.sections, self._energy_density, len(self.ceramics))

    @cached_property
    def ceramic_share(self) -> Array:
        """(..., N) share of strain energy in all ceramics."""
        return self.energy.ceramic.sum(axis=-2)

    @cached_property
    def ceramic_strains(self) -> tuple[CeramicStrain, ...]:
        """Of every ceramic per curvature; kept, for loads and circuits change where layouts do not."""
        return ceramic_strains(self.section, self.sections.bonded, self.ceramics.thickness_m, self.spec.level, with_volts=False)

    @cached_property
    def package_share(self) -> Array:
        """(..., N) share in all packages, bond and skins included."""
        return self.energy.package.sum(axis=-2)

    @property
    def layer_share(self) -> dict[str, Array]:
        """Share per structural layer."""
        names = self.spec.layer_names
        return dict(zip(names, self.energy.layers[: len(names)], strict=True))

    @cached_property
    def _best_use(self) -> Array:
        """(..., J) largest K^2 per share of strain energy in each ceramic: integral of g^2 over the ceramic's own
        stiffness, over its capacitance (Cauchy-Schwarz); k31^2/(1 - k31^2) for a thin one free across by itself."""
        out = np.zeros((*self.omega_rad_s.shape[:-1], len(self.ceramics)))
        at, bonded = self.sections.section.covered, self.sections.bonded
        if at is None or bonded is None:
            return out
        lead, weight = at.index[:-1], self.mesh.weight_m[at.index]
        for k, j, _, moment in PerVolt(self.sections.section, bonded):
            own = self.sections.sheet_bending[:, k]
            each = np.divide(moment**2 * weight, own, out=np.zeros_like(own), where=own > 0.0).sum(axis=-1)
            if lead:
                np.add.at(out[..., j], lead, each)
            else:
                out[j] += each.sum()
        blocked = np.diagonal(self.blocked_f, axis1=-2, axis2=-1)
        return np.divide(out, blocked, out=np.zeros_like(out), where=blocked > 0.0)

    def use_ceiling(self, plates: NDArray[np.bool_] | None = None) -> Array:
        """(..., N) largest K^2 that the strain energy in the ceramics (or some of them, (J,)) allows."""
        factor = self._best_use * (1.0 if plates is None else plates)
        return np.asarray((factor[..., None, :] @ self.energy.ceramic)[..., 0, :])

    @cached_property
    def electrode_use(self) -> Array:
        """(..., N) K^2 over its ceiling; nan without a patch. At most 1 for a patch alone."""
        ceiling = self.use_ceiling()
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(ceiling > 0.0, self.k2 / ceiling, np.nan)

    @cached_property
    def zeta0(self) -> Array:
        """(..., N) inherent damping ratio of each mode."""
        if self.damping.from_loss_factors:
            factor = 0.5 if self.carried is None else 0.5 * self.carried.damping[..., : self.n_kept]
            return factor * loss_factors(self.sections, self._energy_density)
        given = np.asarray(self.damping.ratios, dtype=float)
        ratios = given[np.minimum(np.arange(self.n_kept), len(given) - 1)]
        if self.inherent is not None:
            ratios = ratios * self.inherent[:, None]
        return ratios if self.omega_rad_s.ndim == 1 else np.broadcast_to(ratios, self.omega_rad_s.shape)

    def deflection_row(self, x: Array | float) -> Array:
        """(..., *x.shape, n); of one layout a few places are remembered, for loads, output and static forces mostly share
        theirs, and a hand at a circuit moves none."""
        if self.omega_rad_s.ndim > 1 or np.ndim(x) > 1 or not 0 < np.size(x) <= FEW_PLACES:
            return self.beam.row(x, 0)
        wanted, rows = np.ravel(x).tolist(), self._deflection_rows
        missing = [place for place in dict.fromkeys(wanted) if place not in rows]
        if missing:
            rows.update(zip(missing, self.beam.row(np.array(missing), 0), strict=True))
        found = np.array([rows[place] for place in wanted])
        return found if np.ndim(x) else found[0]

    @cached_property
    def _deflection_rows(self) -> dict[float, Array]:
        return {}

    def slope_row(self, x: Array | float) -> Array:
        return self.beam.row(x, 1)

    def curvature_row(self, x: Array | float, *, side: str = "right") -> Array:
        return self.beam.row(x, 2, side=side)

    def base_row(self) -> Array:
        """(..., n) load row of unit base acceleration (deflection counted relative to the base)."""
        return self.beam.base

    def rigid_deflection(self, x: Array | float) -> Array:
        """(n_rigid, *x.shape) mass-normalised rigid-body shapes."""
        return self.beam.rigid_deflection(x)

    @cached_property
    def tip_stiffness_n_m(self) -> float | None:
        """Static force over deflection at the tip; None where it cannot move or nothing holds it."""
        if self.n_rigid:
            return None
        row = self.deflection_row(self.spec.span_m)
        compliance = float(row @ row)
        scale = self.spec.span_m**3 / max(float(self.section.bending.max()), 1e-300)
        return 1.0 / compliance if compliance > 1e-12 * scale else None

    @property
    def added_kg(self) -> Array:
        """(...) mass of every package on the span, bond included, and of the tuned masses."""
        bonded, active = self.sections.bonded, self.sections.active
        if bonded is None or active is None:
            return np.broadcast_to(self.hung_kg, self.omega_rad_s.shape[:-1])
        per_strip = bonded.strips.mass_width * bonded.strips.thickness_m
        if bonded.strips.askew is not None:
            askew = bonded.strips.askew
            return np.asarray((per_strip * (askew.xi1_m - askew.xi0_m)).sum(axis=-1) + self.hung_kg)
        length = (active * self.mesh.length_m[..., None, :]).sum(axis=-1)
        return np.asarray((per_strip * length).sum(axis=-1) + self.hung_kg)

    @property
    def total_mass_kg(self) -> float:
        """Beam, attachments, patches and tuned masses of one layout."""
        beam = float((self.section.mass * self.mesh.weight_m).sum())
        return beam + self.attached_mass_kg + float(self.hung_kg)

    @property
    def attached_mass_kg(self) -> float:
        return float(self.spec.mass_kg.sum())

    @property
    def added_mass_kg(self) -> float:
        """Mass of every package on the span, bond included, and of the tuned masses, of one layout."""
        return float(self.added_kg)

    @property
    def bare_mass_kg(self) -> float:
        return self.total_mass_kg - self.added_mass_kg


def transposed(a: Array) -> Array:
    """(..., n, k) of (..., k, n)."""
    return np.swapaxes(a, -1, -2)


def rows_joined(first: Array, second: Array) -> Array:
    """Rows (..., k, n) of one, then of the other."""
    return np.concatenate([first, second], axis=-2) if second.shape[-2] else first
