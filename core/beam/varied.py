"""Inputs that take many values at once: one array over layouts in place of a number of the project.

A `Variation` names inputs by their path (`core.project.at_path`) and gives each an array (P,) in SI. The
path of a profile (a layer's thickness, the damping ratios) takes factors on it. Two paths name what the
project has no field for: `candidates[C].patches[P].ceramic_thickness_m` is the thickness of that patch's
ceramic alone, `structure.root.k_r_nm_rad` of a clamp makes it give.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

import msgspec
import numpy as np
from numpy.typing import NDArray

from core.beam.spec import BeamSpec, beam_spec
from core.project.material import Material
from core.project.record import Constant
from core.project.structure import Structure, Support

Array = NDArray[np.float64]
Number = float | Array
"""One number, or an array (P,) of them."""
Variation = Mapping[str, Array]

THICKNESS = 0
"""Row of a spec's tables; then stiffness, then mass."""


def number(variation: Variation, path: str, nominal: float) -> Number:
    """The input's value, or its values where it varies."""
    return variation.get(path, nominal)


def size_of(variation: Variation) -> int | None:
    """How many layouts there are; None for one."""
    return next((len(v) for v in variation.values()), None)


def nominal_structure(structure: Structure, variation: Variation) -> Structure:
    """The structure whose supports and divisions serve all layouts: a clamp that gives in some of them
    is elastic, in the middle of its range of flexibility."""
    for end in ("root", "tip"):
        given = variation.get(f"structure.{end}.k_r_nm_rad")
        if given is not None and getattr(structure, end).kind == "clamped":
            soft, stiff = 1.0 / given.min(), 1.0 / given.max()
            middle = Support("elastic", np.inf, float(2.0 / (soft + stiff)))
            structure = msgspec.structs.replace(structure, **{end: middle})
    return structure


def varied_spec(
    nominal: BeamSpec, structure: Structure, materials: tuple[Material, ...], variation: Variation
) -> BeamSpec:
    """The nominal structure with its varying numbers stacked; tables only where one of them varies."""
    tables, stiffness, loss, density = (
        a[..., None, :] for a in (nominal.tables, nominal.stiffness_pa, nominal.loss_pa, nominal.density_kg_m3)
    )
    used = {piece.material for layer in structure.layers for piece in layer.pieces}
    for material in (m for m in materials if m.name in used):
        stiff, dense, lossy = (_change(variation, material, f) for f in _MATERIAL)
        if stiff is None and dense is None and lossy is None:
            continue
        stiffer, denser, lossier = (np.ones(1) if c is None else c for c in (stiff, dense, lossy))
        share, stiff_share, loss_share, dense_share = _share(
            structure, materials, nominal.temperature_c, material.name
        )
        density = density + dense_share[..., None, :] * (denser - 1.0)[:, None]
        tables = tables + share[..., None, :] * (denser - 1.0)[:, None]
        stiffness = stiffness + stiff_share[..., None, :] * (stiffer - 1.0)[:, None]
        loss = loss + loss_share[..., None, :] * (stiffer * lossier - 1.0)[:, None]
    for i in range(len(structure.layers)):
        thicker = variation.get(f"structure.layers[{i}].thickness_m")
        if thicker is not None:
            tables = np.array(np.broadcast_to(tables, (*tables.shape[:-2], len(thicker), tables.shape[-1])))
            tables[:, THICKNESS, i] *= thicker[:, None]
    masses = range(len(structure.masses))
    out = replace(
        nominal,
        mass_kg=_points(variation, [f"structure.masses[{i}].mass_kg" for i in masses], nominal.mass_kg),
        rotary_kg_m2=_points(
            variation, [f"structure.masses[{i}].rotary_inertia_kg_m2" for i in masses], nominal.rotary_kg_m2
        ),
        stiffness=_points(variation, [r.path for r in nominal.restraints], nominal.stiffness),
    )
    count = max(a.shape[-2] for a in (tables, stiffness, loss))
    if count == 1:
        points = ("mass_kg", "rotary_kg_m2", "stiffness")
        return nominal if all(getattr(out, n) is getattr(nominal, n) for n in points) else out
    tables, stiffness, loss, density = (
        np.broadcast_to(a, (*a.shape[:-2], count, a.shape[-1])) for a in (tables, stiffness, loss, density)
    )
    return replace(out, tables=tables, stiffness_pa=stiffness, loss_pa=loss, density_kg_m3=density, stacked=True)


def _points(variation: Variation, paths: list[str], nominal: Array) -> Array:
    """(K,), or (P, K) where one of them varies."""
    if not any(p in variation for p in paths):
        return nominal
    columns = [number(variation, p, float(v)) for p, v in zip(paths, nominal, strict=True)]
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


_MATERIAL = ("youngs_modulus_pa", "density_kg_m3", "loss_factor")


def _change(variation: Variation, material: Material, name: str) -> Array | None:
    """(P,) the varied constant over the nominal one; None where it does not vary."""
    values, nominal = variation.get(f"materials[{material.name}].{name}"), getattr(material, name).value
    return None if values is None or not nominal else values / nominal


@lru_cache(maxsize=64)
def _share(
    structure: Structure, materials: tuple[Material, ...], temperature_c: float | None, name: str
) -> tuple[Array, Array, Array, Array]:
    """What one material puts into the structure's tables, stiffness, loss and density (all are linear in it)."""

    def doubled(c: Constant) -> Constant:
        return msgspec.structs.replace(c, value=2.0 * c.value)

    def twice(m: Material) -> Material:
        also = ("youngs_modulus_across_pa", "shear_modulus_pa", "shear_modulus_through_pa")
        given = {name: doubled(c) for name in also if (c := getattr(m, name)) is not None}
        return msgspec.structs.replace(
            m,
            youngs_modulus_pa=doubled(m.youngs_modulus_pa),
            density_kg_m3=doubled(m.density_kg_m3),
            **given,
        )

    changed = tuple(twice(m) if m.name == name else m for m in materials)
    one, two = (beam_spec(structure, each, temperature_c) for each in (materials, changed))
    return (
        two.tables - one.tables,
        two.stiffness_pa - one.stiffness_pa,
        two.loss_pa - one.loss_pa,
        two.density_kg_m3 - one.density_kg_m3,
    )
