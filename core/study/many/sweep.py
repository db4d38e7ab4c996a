"""Many layouts of one structure solved together: the moving patch takes many places and sizes.

Rayleigh-Ritz on the true section of every layout; only the trial space (see `trials.py`) is small,
which is where the speed comes from. Frequencies are upper bounds of the exact ones; a test holds
K^2 within 1e-3 of the single solution.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import BeamSpec, beam_spec
from core.piezo.open_circuit import coupling_single
from core.piezo.package import BondedStrips, CeramicPlate, Size, bonded_strips, per_layout, plates_of_patch
from core.piezo.wiring import Terminals, eliminate, wire
from core.project.model import Candidate, Project
from core.study.many.strain import energy_terms, inherent_damping, static_answers
from core.study.many.trials import (
    Trials,
    at_boundary,
    build_trials,
    functional_rows,
    plate_moment,
    working_span,
)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sweep:
    """Modal data of P layouts, v discrete modes each, G groups; see `CoupledBeam` for the terms.

    mu_s2 : (P, v) 1/omega^2, largest first; p : (P, v, G) theta/omega; blocked_f, free_f :
    (P, G, G); zeta0 : (P, v) inherent damping; added_mass_kg : (P,).
    """

    mu_s2: Array
    p: Array
    blocked_f: Array
    free_f: Array
    zeta0: Array
    added_mass_kg: Array
    static_strain: Array
    """(P, n_static) largest tensile strain of the moving patches' ceramics under each static force."""
    compressive_strain: Array
    """(P, n_static) largest compressive strain, a positive number."""
    loss_f: Array
    """(P, G, G) true blocked capacitance times tan delta."""
    ceramic_share: Array
    """(P, v, J) strain energy share of each ceramic; empty unless asked for."""
    static_use: Array
    """(P, 3) worst static strain in tension, in compression and open-lead field of the moving
    patches, each over its allowable: 1 is the limit."""
    rows: Array
    """(P, R, v) unit vectors times each functional asked for; the modal value is omega times it."""

    @property
    def omega_rad_s(self) -> Array:
        with np.errstate(divide="ignore"):
            return self.mu_s2**-0.5

    def coupling(self, group: int, n_modes: int) -> tuple[Array, Array]:
        """K^2 and modal capacitance of a group with the others shorted, (P, n_modes)."""
        return coupling_single(self.mu_s2, self.p[..., group], self.blocked_f[:, group, group], n_modes)

    def corrected_f(self, n_modes: int) -> Array:
        """(P, G, G) capacitance that keeps the static free one exact with n modes."""
        p = self.p[:, :n_modes]
        return self.free_f - np.swapaxes(p, -1, -2) @ p


@dataclass(frozen=True)
class Place:
    """Place and size of one patch in P layouts: arrays (P,), or one value for all of them.

    `thickness_m` is the ceramic's; None takes the package's.
    """

    x_start_m: Size
    length_m: Size
    width_m: Size
    thickness_m: Size | None = None


LEAST_ENERGY = 1e-10
"""Share of a trial's own energy added to every trial: combinations of trials with less than this
are rounding, and left alone would bring modes that do not exist. Low modes feel 1e-10 of it."""

BASE = None
"""In `points_m`: the load row of unit base acceleration in place of a deflection."""


def sweep(
    project: Project,
    candidate: Candidate,
    patch_id: str,
    x_start_m: Array,
    length_m: Array | float,
    width_m: Array | float,
    *,
    n_modes: int = 5,
    temperature_c: float | None = None,
) -> Sweep:
    """Solve the candidate with one patch at many places; all arrays (P,).

    Other patches stay where they are. The patch keeps package, face, bond and wiring.
    """
    places = {patch_id: Place(x_start_m, length_m, width_m)}
    return sweep_layouts(project, candidate, places, n_modes=n_modes, temperature_c=temperature_c)


def sweep_layouts(
    project: Project,
    candidate: Candidate,
    places: Mapping[str, Place],
    *,
    n_modes: int = 5,
    temperature_c: float | None = None,
    points_m: tuple[float | None, ...] = (),
    shares: bool = False,
    static: bool = True,
) -> Sweep:
    """Solve the candidate with the patches in `places` at many places, each of P layouts its own.

    `points_m` asks for functionals (`Sweep.rows`): the deflection at x, or with `BASE` the load of
    a unit base acceleration. `shares` asks for the strain energy shares of the ceramics,
    `static` for their strain under the service's static forces.
    """
    spec = beam_spec(project.structure, project.materials, temperature_c)
    n_layouts = max(np.size(v) for place in places.values() for v in (place.x_start_m, place.length_m))
    plates: list[CeramicPlate] = []
    for patch in candidate.patches:
        place = places.get(patch.id)
        if place is None:
            plates += plates_of_patch(project, patch, spec, patch.x_start_m, patch.length_m, patch.width_m)
            continue
        x, length, width = (
            np.broadcast_to(np.asarray(v, dtype=float), (n_layouts,))
            for v in (place.x_start_m, place.length_m, place.width_m)
        )
        plates += plates_of_patch(project, patch, spec, x, length, width, place.thickness_m)
    bonded = bonded_strips(project, candidate, tuple(plates), spec)
    assert bonded is not None
    trials, primary = build_trials(spec, bonded, tuple(plates), n_layouts, n_modes)
    moving = tuple(j for j, plate in enumerate(plates) if static and plate.patch in places)
    return solve_layouts(
        project, candidate, spec, bonded, tuple(plates), moving, trials, primary, points_m, shares
    )


def solve_layouts(
    project: Project,
    candidate: Candidate,
    spec: BeamSpec,
    bonded: BondedStrips,
    plates: tuple[CeramicPlate, ...],
    moving: tuple[int, ...],
    t: Trials,
    primary: tuple[int, ...],
    points_m: tuple[float | None, ...],
    shares: bool,
) -> Sweep:
    n_layouts, n_e, q, v = t.curvature.shape
    flat = t.curvature.reshape(n_layouts, n_e * q, v)
    stiff_w = (t.weight_m * t.section.bending).reshape(n_layouts, -1, 1)
    k = np.swapaxes(flat, -1, -2) @ (flat * stiff_w)
    sprung = [spec.restraints[i] for i in primary if np.all(np.isfinite(spec.restraints[i].stiffness))]
    for j, r in enumerate(sprung):
        k[:, v - len(sprung) + j, v - len(sprung) + j] += r.stiffness
    w = t.deflection.reshape(n_layouts, n_e * q, v)
    mass_w = (t.weight_m * t.section.mass).reshape(n_layouts, -1, 1)
    m = np.swapaxes(w, -1, -2) @ (w * mass_w)
    extra_rows = []
    for point in spec.masses:
        for order, inertia in ((0, point.mass_kg), (1, point.rotary_inertia_kg_m2)):
            row = at_boundary(t.bounds_m, t.deflection_start if order == 0 else t.slope_start, point.x_m)
            m += per_layout(inertia, 2) * row[:, :, None] * row[:, None, :]
            extra_rows.append((order, point.x_m, inertia, row))
    if len(primary) < 2:
        m = _without_rigid(spec, t, w, mass_w, m, extra_rows, primary)
    inverse = _inverse_root(k)
    middle = 0.5 * (t.bounds_m[:, 1:] + t.bounds_m[:, :-1])
    density = np.stack([plate_moment(p, t.section, middle) for p in plates], axis=1)
    theta = np.matmul((density * t.weight_m[:, None]).reshape(n_layouts, len(plates), -1), flat)
    blocked = _blocked(t, plates)
    terminals = _terminals(candidate, plates, blocked)
    rest = [r for i, r in enumerate(spec.restraints) if i not in primary]
    springs = [
        (at_boundary(t.bounds_m, t.deflection_start if r.order == 0 else t.slope_start, r.x_m), r.stiffness)
        for r in rest
    ]
    springs += [
        (np.einsum("pjf,pjv->pfv", terminals.stiffeners, theta)[:, f], 1.0)
        for f in range(terminals.stiffeners.shape[-1])
    ]
    to_final = inverse
    for row, stiffness in springs:
        hat = np.einsum("pv,pvn->pn", row, to_final)
        to_final = _fold_columns(to_final, hat, stiffness)
    s = np.swapaxes(to_final, -1, -2) @ m @ to_final
    mu, u = np.linalg.eigh(0.5 * (s + np.swapaxes(s, -1, -2)))
    mu, u = np.maximum(mu[:, ::-1], 1e-300), u[:, :, ::-1]
    group_theta = np.einsum("pjg,pjv->pgv", terminals.combine, theta) @ to_final
    p = np.swapaxes(group_theta @ u, -1, -2)
    free = terminals.capacitance + group_theta @ np.swapaxes(group_theta, -1, -2)
    shapes = to_final @ u
    free_plates = theta @ to_final
    free_plates = blocked + free_plates @ np.swapaxes(free_plates, -1, -2)
    static, compressed, use = static_answers(project, spec, plates, moving, t, to_final, theta, free_plates)
    lossy = project.structure.damping.from_loss_factors
    loss, ceramic = energy_terms(spec, bonded, len(plates), t, shapes, loss=lossy, ceramic=shares)
    zeta0 = inherent_damping(project, loss, mu.shape)
    rows = functional_rows(spec, t, points_m)
    per_length = np.einsum(
        "pk,pke->pe",
        np.broadcast_to(bonded.strips.mass_width * bonded.strips.thickness_m, t.active.shape[:2]),
        t.active,
    )
    tan = [np.sqrt(np.maximum(pl.coefficients.tan_delta, 0.0)) for pl in plates]
    combined = terminals.combine * np.stack(np.broadcast_arrays(*tan), axis=-1)[..., None]
    return Sweep(
        mu,
        p,
        terminals.capacitance,
        free,
        zeta0,
        (per_length * t.length_m).sum(axis=-1),
        static,
        compressed,
        np.swapaxes(combined, -1, -2) @ blocked @ combined,
        ceramic,
        use,
        rows @ shapes,
    )


def _inverse_root(k: Array) -> Array:
    """Columns that make the stiffness of each layout the identity: (P, v, v) with T^T K T = 1.

    Scaled to a unit diagonal first; a trial that does not exist for a layout (a plate with no
    working part) gets no weight.
    """
    diagonal = np.einsum("pvv->pv", k)
    alive = diagonal > 1e-250
    scale = np.where(alive, diagonal, 1.0) ** -0.5
    unit = k * scale[:, :, None] * scale[:, None, :]
    unit += LEAST_ENERGY * np.eye(k.shape[-1])
    unit = np.where(alive[:, :, None] & alive[:, None, :], unit, np.eye(k.shape[-1]))
    lower = np.linalg.cholesky(unit)
    columns = np.swapaxes(np.linalg.inv(lower), -1, -2)
    return (scale * alive)[:, :, None] * columns


def _fold_columns(to_final: Array, row: Array, stiffness: Size) -> Array:
    """Rank-one stiffening of every layout, as `core.beam.basis.stiffen` does for one."""
    norm2 = (row**2).sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        gamma = np.where(np.isinf(stiffness), 1.0, 1.0 - (1.0 + stiffness * norm2) ** -0.5)
        unit = np.where(norm2[:, None] > 0.0, row / np.sqrt(norm2)[:, None], 0.0)
    along = np.einsum("pvn,pn->pv", to_final, unit)
    return to_final - np.asarray(gamma).reshape(-1, 1, 1) * along[:, :, None] * unit[:, None, :]


def _without_rigid(
    spec: BeamSpec,
    t: Trials,
    w: Array,
    mass_w: Array,
    m: Array,
    extra: list[tuple[int, float, float, Array]],
    primary: tuple[int, ...],
) -> Array:
    """Mass matrix with the unrestrained rigid motion projected out (M-orthogonal complement)."""
    span = spec.span_m
    if primary:
        r = spec.restraints[primary[0]]
        directions = [(-r.x_m, 1.0)] if r.order == 0 else [(1.0, 0.0)]
    else:
        directions = [(1.0, 0.0), (-0.5 * span, 1.0)]
    x = t.x_m.reshape(len(w), -1)
    rigid = np.stack([a + b * x for a, b in directions], axis=-1)
    m_rr = np.swapaxes(rigid, -1, -2) @ (rigid * mass_w)
    m_rw = np.swapaxes(rigid, -1, -2) @ (w * mass_w)
    for order, at, inertia, row in extra:
        value = np.array([a + b * at if order == 0 else b for a, b in directions])
        inertia = per_layout(inertia, 2)
        m_rr = m_rr + inertia * np.outer(value, value)
        m_rw = m_rw + inertia * value[:, None] * row[:, None, :]
    return m - np.swapaxes(m_rw, -1, -2) @ np.linalg.solve(m_rr, m_rw)


def _blocked(t: Trials, plates: tuple[CeramicPlate, ...]) -> Array:
    """(P, J, J) blocked capacitance, as `core.piezo.coupling.blocked_capacitance` for one layout."""
    n_layouts, n = len(t.x_m), len(plates)
    middle = 0.5 * (t.bounds_m[:, 1:] + t.bounds_m[:, :-1])
    force = np.zeros((n_layouts, n, middle.shape[1]))
    out = np.zeros((n_layouts, n, n))
    for j, plate in enumerate(plates):
        c = plate.coefficients
        on = working_span(plate, middle)
        force[:, j] = per_layout(c.e31_c_m2, 1) * np.reshape(plate.width_m, (-1, 1)) * on
        inside = plate.x_b_eff_m - plate.x_a_eff_m
        ends = (plate.x_b_m - plate.x_a_m) - inside
        out[:, j, j] = (
            plate.width_m / plate.thickness_m * (c.permittivity_blocked * inside + c.permittivity_free * ends)
        )
    compliance = (t.weight_m / t.section.axial).sum(axis=-1)
    return out + np.matmul(force * compliance[:, None], np.swapaxes(force, -1, -2))


def _terminals(candidate: Candidate, plates: tuple[CeramicPlate, ...], blocked: Array) -> Terminals:
    """Terminals of every layout, stacked on the first axis."""
    wiring = wire(candidate, plates)
    each = [eliminate(wiring, b) for b in blocked] if wiring.floating.shape[1] else None
    if each is None:
        leads = np.broadcast_to(wiring.leads, (len(blocked), *wiring.leads.shape))
        empty = np.zeros((len(blocked), len(plates), 0))
        return Terminals(leads, np.swapaxes(leads, -1, -2) @ blocked @ leads, empty)
    return Terminals(
        np.stack([e.combine for e in each]),
        np.stack([e.capacitance for e in each]),
        np.stack([e.stiffeners for e in each]),
    )
