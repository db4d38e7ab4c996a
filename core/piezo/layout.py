"""Layouts solved: modes, coupling and capacitance of the structure with its patches.

`solve` is the engine of everything: one layout with the accuracy promised, or thousands that differ in
the inputs a `Variation` names. What it returns is at short circuit, with the inner nodes of series groups
floating. Arrays of many layouts have a leading axis; what speaks of one place x serves one layout.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from core.beam.askew import crossings_m, spaced
from core.beam.bending_made import narrowed, restrained, unrestrained
from core.beam.distinct import distinct
from core.beam.memory import keep_freed_memory
from core.beam.mesh import base_mesh, mesh_on
from core.beam.mode_kinds import twist_share
from core.beam.modes import BeamSolution, point_rows, solve_beam
from core.beam.ritz import BARE_SPARE, BARE_STEPS, PROMISED, Accuracy, bare_moments, polynomials
from core.beam.section import base_section, section_on, strip_active
from core.beam.section_further import with_functions
from core.beam.spec import beam_spec
from core.beam.varied import Variation, nominal_structure, number, size_of, varied_spec
from core.piezo.charge import Charges
from core.piezo.choice import functions_of, marks_m
from core.piezo.coupled_beam import CoupledBeam, rows_joined, transposed
from core.piezo.energy import Sections
from core.piezo.package import Plates, bonded_strips, plates_of
from core.piezo.sheets import marked
from core.piezo.tabulated import is_one, told
from core.piezo.wiring import eliminate, wire
from core.project.candidate import Candidate
from core.project.model import Project
from core.stopping import may_stop

Array = NDArray[np.float64]

MIN_KEPT = 12
MOMENTS_AT_ONCE = 8
"""Moments of the bare structure are made in such steps, so that one set serves many questions."""
TWISTS = 6
"""Moments more where torsion is among the modes."""
BEYOND = 3
"""Of the modes kept, so many are there for what is left of the others: elements are divided for the rest."""


def _hung(candidate: Candidate, name: str, varied: Variation) -> Array:
    """(..., K) a number of every tuned mass."""
    path = f"candidates[{candidate.id}].absorbers"
    values = [number(varied, f"{path}[{a.id}].{name}", getattr(a, name)) for a in candidate.absorbers]
    return np.stack(np.broadcast_arrays(*values), axis=-1) if values else np.zeros(0)


def _ends(plates: Plates, places_m: Array, count: int | None) -> Array:
    """(..., k) every x where a package ends or a tuned mass sits."""
    return _beside(plates.ends_m(), places_m, () if count is None else (count,))


def _widths(plates: Plates) -> tuple[float, ...]:
    """Widths of ceramics and packages that all layouts share: where the part is as wide, its section bends."""
    widths: set[float] = set()
    for j in range(len(plates)):
        own = distinct(plates.width_m[..., j])
        if len(own) == 1:
            widths |= {float(own[0]), float(own[0] + 2.0 * plates.side_margin_m[j])}
    return tuple(sorted(widths))


def _beside(one: Array, other: Array, lead: tuple[int, ...] = ()) -> Array:
    """Two sets of places (..., k) as one; either may serve all layouts, which are `lead` where neither tells."""
    lead = np.broadcast_shapes(one.shape[:-1], other.shape[:-1], lead)
    if not lead:
        return np.concatenate([one, other])
    return np.concatenate([np.broadcast_to(v, (*lead, v.shape[-1])) for v in (one, other)], axis=-1)


def _twists_last(beam: BeamSolution, n_modes: int) -> tuple[BeamSolution, int]:
    """The modes in another order: first those that bend the part, as many as are kept, then those below them that twist it,
    then the rest; and how many twist, no more than bend. The last of all modes is only a completion and never kept."""
    share = twist_share(beam.bending, beam.unit)
    twists = share > 0.5
    bends = np.cumsum(~twists, axis=-1)
    n_modes = min(n_modes, int(bends[..., -2].min()))
    kept = ~twists & (bends <= n_modes)
    last = kept.shape[-1] - 1 - kept[..., ::-1].argmax(axis=-1)
    among = twists & (np.arange(kept.shape[-1]) < last[..., None])
    count = min(n_modes, int(among.sum(axis=-1).max()))
    among = twists & (np.cumsum(twists, axis=-1) <= count)
    order = np.argsort(np.where(kept, 0, np.where(among, 1, 2)), axis=-1, kind="stable")
    mu = np.take_along_axis(beam.mu_s2, order, axis=-1)
    unit = np.take_along_axis(beam.unit, order[..., None], axis=-2)
    return BeamSolution(beam.bending, mu, unit), count


def solve(
    project: Project,
    candidate: Candidate,
    n_modes: int = MIN_KEPT,
    temperature_c: float | None = None,
    *,
    variation: Variation | None = None,
    accuracy: Accuracy = PROMISED,
    finer: int = 0,
) -> CoupledBeam:
    """Solve one candidate of a valid project, or many layouts of it that differ in `variation`.

    `n_modes` modes are kept (fewer if the discrete model has fewer); `temperature_c` None is the
    reference temperature of the service. `finer` is for convergence studies: more and shorter elements, more moments.
    """
    may_stop()
    keep_freed_memory()
    varied = variation or {}
    structure = nominal_structure(project.structure, varied)
    nominal = beam_spec(structure, project.materials, project.at_c(temperature_c))
    spec = varied_spec(nominal, structure, project.materials, varied) if varied else nominal
    plates = plates_of(project, candidate, spec, varied)
    bonded = bonded_strips(plates)
    count, waves = size_of(varied), max(n_modes - BEYOND, BEYOND)
    places = _hung(candidate, "x_m", varied)
    base = base_mesh(nominal, waves, accuracy.fewer_points, finer, _widths(plates))
    functions = functions_of(nominal, plates)
    if bonded is not None and plates.is_askew:
        bonded = marked(bonded, functions)
    ends, marks = _ends(plates, places, count), None
    if functions:
        marks = marks_m(nominal, plates, functions)
        marks = np.broadcast_to(marks, (*ends.shape[:-1], marks.shape[-1]))
    if bonded is not None and bonded.strips.askew is not None:
        ends = _beside(ends, crossings_m(nominal, bonded.strips.askew))
        if bonded.strips.askew.is_turned and marks is not None:
            ends, marks = spaced(_beside(plates.working.corners_m(), _beside(ends, marks)), base.bounds_m), marks[..., :0]
    mesh = mesh_on(spec, base, ends, marks)
    strips = None if bonded is None else bonded.strips
    active = None if strips is None else strip_active(strips, mesh)
    volts = None
    if is_one(spec, functions, bonded):
        section, volts = told(spec, mesh, base, functions, bonded, active)
    else:
        section = section_on(spec, mesh, base_section(nominal, base), strips, active)
        if functions:
            section = with_functions(spec, mesh, section, functions, strips, nominal, base)
    charges = Charges(mesh, section, bonded, plates, active, volts)
    blocked = charges.blocked_f
    wiring = wire(candidate, plates)
    terminals = eliminate(wiring, blocked)
    few = len(plates) > 0 or count is not None
    may_stop()
    plain = unrestrained(spec, mesh, section, nominal.restraints, loose=few)
    theta_rows = plain.moment_rows(charges.moment, charges.strains)
    place_rows = point_rows(plain, places, 0, "right") if places.size else theta_rows[..., :0, :]
    wanted = accuracy.moments(n_modes, further=bool(functions)) + 8 * finer + (TWISTS if plates.is_askew else 0)
    start = None
    if few:
        at_once = -(-wanted // MOMENTS_AT_ONCE) * MOMENTS_AT_ONCE
        moments = bare_moments(nominal, waves, at_once, tuple(f for f in functions if f.reach_m is None))
        start = moments.on(plain, wanted)
        wanted_rows = [theta_rows, place_rows]
        if functions:
            # A force at the tip, so that its static answer is as exact as that of the charges.
            wanted_rows.append(point_rows(plain, np.array([spec.span_m]), 0, "left"))
        plain, start, rows = narrowed(plain, start, np.concatenate(wanted_rows, axis=-2))
        theta_rows, place_rows = np.split(rows, [len(plates), len(plates) + place_rows.shape[-2]], axis=-2)[:2]
    may_stop()
    bending = restrained(plain)
    for f in range(terminals.stiffeners.shape[-1]):
        row = (terminals.stiffeners[..., f][..., None, :] @ theta_rows)[..., 0, :]
        bending = bending.stiffened(row, np.ones(()))
    theta_rows = bending.updated(theta_rows)
    group_rows = transposed(terminals.combine) @ theta_rows
    place_rows = bending.updated(place_rows)
    if start is None:
        start, accuracy = polynomials(bending, wanted + BARE_SPARE), Accuracy(0, BARE_STEPS)
    else:
        start = bending.updated(start)
        accuracy = replace(accuracy, steps=0 if functions else accuracy.times(n_modes))
    beam = solve_beam(bending, start, rows_joined(group_rows, place_rows), accuracy)
    twisted = 0
    if plates.is_askew:
        beam, twisted = _twists_last(beam, n_modes)
    return CoupledBeam(
        beam=beam,
        sections=Sections(spec, base, mesh, section, bonded, active),
        ceramics=plates,
        wiring=wiring,
        terminals=terminals,
        n_kept=min(n_modes + twisted, beam.mu_s2.shape[-1] - 1),
        n_twist=twisted,
        damping=project.structure.damping,
        inherent=varied.get("structure.damping.ratios"),
        blocked_f=blocked,
        theta_rows=theta_rows,
        group_theta_rows=group_rows,
        place_rows=place_rows,
        hung_kg=_hung(candidate, "mass_kg", varied).sum(axis=-1),
    )
