"""Many samples of one layout with all their inputs varied, solved together.

The engine is that of the sweep (Rayleigh-Ritz on every sample's true section, trial moments of the
nominal structure); only the tables of the structure are made for every sample, as the nominal
tables plus each material's own share times its change.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import msgspec
import numpy as np
from numpy.typing import NDArray

from core.beam.restraint import restraints
from core.beam.spec import BeamSpec, beam_spec
from core.piezo.ceramic import coefficients
from core.piezo.package import CeramicPlate, bonded_strips, plates_of_patch
from core.project.model import Candidate, Constant, Material, Project, Structure
from core.study.many.sweep import Sweep, solve_layouts
from core.study.many.trials import build_trials
from core.study.tolerance.sampled import factor, with_sample, with_samples
from core.study.tolerance.uncertain import Uncertain

Array = NDArray[np.float64]

LEAST_BLOCKED = 0.02
"""Of the free permittivity."""
THICKNESS, STIFFNESS, MASS = 0, 1, 2
"""Rows of a spec's tables."""


def vary(
    project: Project,
    held: Candidate,
    inputs: tuple[Uncertain, ...],
    values: Array,
    *,
    n_modes: int,
    points_m: tuple[float | None, ...] = (),
) -> Sweep:
    """Modal data of every sample; `values` (P, inputs) in SI, `held` the candidate with its circuits
    fixed. ValueError for a candidate without a patch."""
    if not held.patches:
        raise ValueError("There is no patch whose tolerances could count. Add one first.")
    middle = with_sample(project, held, inputs, _middle(inputs))
    nominal = beam_spec(middle.structure, middle.materials)
    varied = with_samples(project, held, inputs, values)
    spec = _stacked(project, varied, nominal, inputs, values)
    candidate = varied.candidate(held.id)
    plates: list[CeramicPlate] = []
    for patch in candidate.patches:
        x, length, width = (
            np.broadcast_to(np.asarray(v, dtype=float), (len(values),))
            for v in (patch.x_start_m, patch.length_m, patch.width_m)
        )
        plates += plates_of_patch(varied, patch, spec, x, length, width)
    bonded = bonded_strips(varied, candidate, tuple(plates), spec)
    assert bonded is not None
    trials, primary = build_trials(spec, bonded, tuple(plates), len(values), n_modes, nominal)
    found = solve_layouts(
        project, candidate, spec, bonded, tuple(plates), (), trials, primary, points_m, False
    )
    inherent = factor(inputs, values, "structure.damping.ratios")
    return found if inherent is None else replace(found, zeta0=found.zeta0 * inherent[:, None])


def is_possible(
    project: Project, held: Candidate, inputs: tuple[Uncertain, ...], values: Array
) -> NDArray[np.bool_]:
    """(P,) whether each sample's ceramics can be: k31^2 below 1 leaves a blocked permittivity."""
    varied = with_samples(project, held, inputs, values)
    out = np.ones(len(values), dtype=bool)
    for name in {patch.package for patch in held.patches}:
        ceramic = varied.package(name).ceramic
        c = coefficients(ceramic, wide_strip=project.structure.wide_strip, temperature_c=None)
        out &= c.permittivity_blocked > LEAST_BLOCKED * c.permittivity_free
    return out


def _middle(inputs: tuple[Uncertain, ...]) -> Array:
    """Nominal values, but the middle of a clamp's range: the trial shapes must know that it gives."""
    return np.array([0.5 * (i.low + i.high) if i.kind == "clamp" else i.nominal for i in inputs])


@lru_cache(maxsize=64)
def _share(structure: Structure, materials: tuple[Material, ...], name: str) -> tuple[Array, Array]:
    """What one material puts into the structure's tables and loss widths (both are linear in it)."""

    def doubled(c: Constant) -> Constant:
        return msgspec.structs.replace(c, value=2.0 * c.value)

    changed = tuple(
        msgspec.structs.replace(
            m, youngs_modulus_pa=doubled(m.youngs_modulus_pa), density_kg_m3=doubled(m.density_kg_m3)
        )
        if m.name == name
        else m
        for m in materials
    )
    once, twice = beam_spec(structure, materials), beam_spec(structure, changed)
    return twice.tables - once.tables, twice.loss_width - once.loss_width


def _stacked(
    project: Project, varied: Project, nominal: BeamSpec, inputs: tuple[Uncertain, ...], values: Array
) -> BeamSpec:
    """The nominal spec with tables for every sample: an axis of samples before the segments'."""
    n = len(values)
    tables = np.repeat(nominal.tables[..., None, :], n, axis=-2)
    loss = np.repeat(nominal.loss_width[..., None, :], n, axis=-2)
    used = {piece.material for layer in project.structure.layers for piece in layer.pieces}
    for old, new in zip(project.materials, varied.materials, strict=True):
        if old.name not in used:
            continue
        share, loss_share = _share(project.structure, project.materials, old.name)
        stiff, dense, lossy = (
            _change(getattr(old, f), getattr(new, f))
            for f in ("youngs_modulus_pa", "density_kg_m3", "loss_factor")
        )
        tables[:, STIFFNESS] += share[:, STIFFNESS, :, None, :] * (stiff - 1.0)[:, None]
        tables[:, MASS] += share[:, MASS, :, None, :] * (dense - 1.0)[:, None]
        loss += loss_share[:, :, None, :] * (stiff * lossy - 1.0)[:, None]
    for i in range(len(project.structure.layers)):
        thicker = factor(inputs, values, f"structure.layers[{i}].thickness_m")
        if thicker is not None:
            tables[:, THICKNESS, i] *= thicker[:, None]
    return replace(
        nominal,
        tables=tables,
        loss_width=loss,
        stacked=True,
        masses=varied.structure.masses,
        restraints=restraints(varied.structure),
    )


def _change(old: Constant, new: Constant) -> Array:
    """(P,) or (1,) the varied value over the nominal one."""
    return np.atleast_1d(new.value / old.value if old.value else np.ones(1))
