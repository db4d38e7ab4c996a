"""One layout solved: modes, coupling and capacitance of the structure with its patches.

`solve` is the engine of a drag step. Everything it returns is at short circuit, with the inner
nodes of series groups floating.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import Elements, build_elements, curvature_moments
from core.beam.mesh import build_mesh
from core.beam.modes import BeamSolution, solve_beam
from core.beam.spec import BeamSpec, beam_spec
from core.piezo.coupling import blocked_capacitance, moment_density
from core.piezo.energy import EnergyShares, energy_density, energy_shares, loss_factors
from core.piezo.open_circuit import coupling, coupling_single
from core.piezo.package import BondedStrips, CeramicPlate, bonded_strips, plates_of
from core.piezo.wiring import Terminals, Wiring, eliminate, wire
from core.project.model import Candidate, Damping, Project

Array = NDArray[np.float64]

MIN_KEPT = 12


@dataclass(frozen=True)
class CoupledBeam:
    """A structure with patches, in modal form (N kept modes, J ceramic plates, G groups).

    Modal coordinates: q'' + 2 zeta omega q' + omega^2 q + theta V = f and
    Q = -theta^T q + C V. A functional of the deflection is a row (n,); its modal values are
    `omega_rad_s * (units @ row)`, the static compliance of two rows their dot product.
    """

    spec: BeamSpec
    beam: BeamSolution
    plates: tuple[CeramicPlate, ...]
    bonded: BondedStrips | None
    wiring: Wiring
    terminals: Terminals
    n_kept: int
    damping: Damping
    blocked_f: Array
    """(J, J) blocked capacitance of the plates."""
    theta_rows: Array
    """(J, n) charge rows of the plates: theta in dof space."""
    group_theta_rows: Array
    """(G, n)"""

    @property
    def omega_rad_s(self) -> Array:
        """(N,) natural frequencies of the elastic modes."""
        return self.beam.omega_rad_s[: self.n_kept]

    @property
    def units(self) -> Array:
        """(N, n) unit vectors of the kept modes."""
        return self.beam.unit[: self.n_kept]

    @property
    def n_rigid(self) -> int:
        return self.beam.frame.n_rigid

    @property
    def group_ids(self) -> tuple[str, ...]:
        return self.wiring.group_ids

    @cached_property
    def _group_projection(self) -> Array:
        """(n, G) theta_k/omega_k of every discrete mode."""
        return self.beam.unit @ self.group_theta_rows.T

    @cached_property
    def theta(self) -> Array:
        """(N, J) coupling of each plate, N/V in modal units."""
        return self.omega_rad_s[:, None] * (self.units @ self.theta_rows.T)

    @cached_property
    def group_theta(self) -> Array:
        """(N, G) coupling of each group."""
        return self.omega_rad_s[:, None] * self._group_projection[: self.n_kept]

    @property
    def free_f(self) -> Array:
        """(J, J) static free capacitance, C + theta^T K^-1 theta."""
        return self.blocked_f + self.theta_rows @ self.theta_rows.T

    @property
    def group_blocked_f(self) -> Array:
        """(G, G) true blocked capacitance of the groups."""
        return self.terminals.capacitance

    @cached_property
    def group_free_f(self) -> Array:
        """(G, G) static free capacitance of the groups."""
        return self.group_blocked_f + self.group_theta_rows @ self.group_theta_rows.T

    @cached_property
    def group_corrected_f(self) -> Array:
        """(G, G) C^(N): what makes the static free capacitance exact with N modes kept."""
        scaled = self._group_projection[: self.n_kept]
        return self.group_free_f - scaled.T @ scaled

    @cached_property
    def _group_coupling(self) -> tuple[Array, Array]:
        n, g = self.n_kept, len(self.group_ids)
        k2, c_n = np.zeros((n, g)), np.zeros((n, g))
        for j in range(g):
            k2[:, j], c_n[:, j] = coupling_single(
                self.beam.mu_s2, self._group_projection[:, j], float(self.group_blocked_f[j, j]), n
            )
        return k2, c_n

    @property
    def group_k2(self) -> Array:
        """(N, G) K^2 of each group, the others shorted."""
        return self._group_coupling[0]

    @property
    def modal_capacitance_f(self) -> Array:
        """(N, G) capacitance that goes with K^2: theta_n^2/(K_n^2 omega_n^2)."""
        return self._group_coupling[1]

    @cached_property
    def k2(self) -> Array:
        """(N,) K^2 with every group open."""
        g = len(self.group_ids)
        if g == 0:
            return np.zeros(self.n_kept)
        if g == 1:
            return self.group_k2[:, 0]
        live = np.flatnonzero(np.diag(self.group_blocked_f) > 0.0)
        p = self._group_projection[:, live]
        return coupling(self.beam.mu_s2, p, self.group_blocked_f[np.ix_(live, live)], self.n_kept)

    @cached_property
    def _energy_density(self) -> Array:
        return energy_density(self.elements, self.omega_rad_s, self.beam.gauss_curvature(self.n_kept))

    @cached_property
    def energy(self) -> EnergyShares:
        """Strain energy shares of the kept modes."""
        return energy_shares(self.elements, self.bonded, self._energy_density, len(self.plates))

    @cached_property
    def ceramic_share(self) -> Array:
        """(N,) share of strain energy in all ceramics."""
        return self.energy.ceramic.sum(axis=0)

    @cached_property
    def package_share(self) -> Array:
        """(N,) share in all packages, bond and skins included."""
        return self.energy.package.sum(axis=0)

    @property
    def layer_share(self) -> dict[str, Array]:
        """Share per structural layer."""
        return dict(zip(self.spec.layer_names, self.energy.layers, strict=True))

    @cached_property
    def electrode_use(self) -> Array:
        """(N,) K^2 over its ceiling k31^2/(1 - k31^2) times the ceramic's energy share; nan
        without a patch. By Cauchy-Schwarz at most 1 for a thin ceramic."""
        factor = np.array(
            [p.coefficients.k31_squared / (1 - p.coefficients.k31_squared) for p in self.plates]
        )
        ceiling = factor @ self.energy.ceramic if len(self.plates) else np.zeros(self.n_kept)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(ceiling > 0.0, self.k2 / ceiling, np.nan)

    @cached_property
    def zeta0(self) -> Array:
        """(N,) inherent damping ratio of each mode."""
        if self.damping.from_loss_factors:
            return 0.5 * loss_factors(self.spec, self.elements, self.bonded, self._energy_density)
        given = np.asarray(self.damping.ratios, dtype=float)
        return given[np.minimum(np.arange(self.n_kept), len(given) - 1)]

    def deflection_row(self, x: Array | float) -> Array:
        return self.beam.row(x, 0)

    def slope_row(self, x: Array | float) -> Array:
        return self.beam.row(x, 1)

    def curvature_row(self, x: Array | float, *, side: str = "right") -> Array:
        return self.beam.row(x, 2, side=side)

    def base_row(self) -> Array:
        """(n,) load row of unit base acceleration (deflection counted relative to the base)."""
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
        scale = self.spec.span_m**3 / max(float(self.elements.section.bending.max()), 1e-300)
        return 1.0 / compliance if compliance > 1e-12 * scale else None

    @property
    def elements(self) -> Elements:
        return self.beam.elements

    @property
    def total_mass_kg(self) -> float:
        """Beam, attachments and patches."""
        return float((self.elements.section.mass * self.elements.weight_m).sum()) + self.attached_mass_kg

    @property
    def attached_mass_kg(self) -> float:
        return float(sum(m.mass_kg for m in self.spec.masses))

    @property
    def added_mass_kg(self) -> float:
        """Mass of every package on the span, bond included."""
        if self.bonded is None or self.elements.active is None:
            return 0.0
        per_length = (self.bonded.strips.mass_width * self.bonded.strips.thickness_m) @ self.elements.active
        return float(per_length @ self.elements.mesh.length_m)

    @property
    def bare_mass_kg(self) -> float:
        return self.total_mass_kg - self.added_mass_kg


def solve(
    project: Project,
    candidate: Candidate,
    n_modes: int = MIN_KEPT,
    temperature_c: float | None = None,
    *,
    refine: int = 1,
    more_terms: int = 0,
) -> CoupledBeam:
    """Solve one candidate of a valid project.

    `n_modes` modes are kept (fewer if the discrete model has fewer); `temperature_c` None takes
    every constant at its reference. `refine` and `more_terms` are for convergence studies.
    """
    spec = beam_spec(project.structure, project.materials, temperature_c)
    plates = plates_of(project, candidate, spec)
    bonded = bonded_strips(project, candidate, plates, spec)
    ends: set[float] = set()
    if bonded is not None:
        ends = {*bonded.strips.x0_m.tolist(), *bonded.strips.x1_m.tolist()}
    mesh = build_mesh(spec, np.array(list(ends)), max(8, n_modes - 4), refine=refine, more_terms=more_terms)
    elements = build_elements(spec, mesh, None if bonded is None else bonded.strips)
    density = moment_density(elements, plates)
    blocked = blocked_capacitance(elements, plates)
    wiring = wire(candidate, plates)
    terminals = eliminate(wiring, blocked)
    stiffeners = [np.tensordot(b, density, axes=1) for b in terminals.stiffeners.T]
    beam = solve_beam(spec, elements, stiffeners)
    theta_rows = beam.frame.apply(curvature_moments(elements, density), None)
    return CoupledBeam(
        spec=spec,
        beam=beam,
        plates=plates,
        bonded=bonded,
        wiring=wiring,
        terminals=terminals,
        n_kept=min(n_modes, len(beam.omega_rad_s) - 1),
        damping=project.structure.damping,
        blocked_f=blocked,
        theta_rows=theta_rows,
        group_theta_rows=terminals.combine.T @ theta_rows,
    )
