"""Samples of uncertain inputs, the project that one of them stands for, and what all of them vary."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.piezo.ceramic import coefficients
from core.project.at_path import replaced_at, value_at
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.record import Constant
from core.project.structure import Support
from core.study.tolerance.uncertain import Uncertain, clamp_stiffness

Array = NDArray[np.float64]
Spread = Literal["limits", "two sigma"]

LEAST_BLOCKED = 0.02
"""Of the free permittivity."""
WIDEST_SIGMA = 3.0
"""A normal spread is cut here: parts further out fail inspection."""


def draw(inputs: tuple[Uncertain, ...], samples: int, seed: int, spread: Spread = "limits") -> Array:
    """(samples, inputs) values in SI: a Latin hypercube, each input's range cut into as many equal
    shares as there are samples and each share met once.

    "limits" takes a tolerance as the limits of a uniform spread, "two sigma" as two standard
    deviations of a normal one. The same seed gives the same values.
    """
    if not inputs:
        return np.zeros((samples, 0))
    from scipy.special import ndtri  # slow to import, needed only here
    from scipy.stats.qmc import LatinHypercube

    unit = LatinHypercube(len(inputs), seed=seed).random(samples)
    low, high = (np.array([getattr(i, name) for i in inputs]) for name in ("low", "high"))
    values = low + (high - low) * unit
    if spread == "two sigma":
        bell = np.clip(ndtri(np.clip(unit, 1e-12, 1.0 - 1e-12)), -WIDEST_SIGMA, WIDEST_SIGMA)
        middle, sigma = 0.5 * (low + high), 0.25 * (high - low)
        known = np.array([i.known for i in inputs])
        values = np.where(known, middle + sigma * bell, values)
    return values


def with_sample(project: Project, held: Candidate, inputs: tuple[Uncertain, ...], values: Array) -> Project:
    """The project as one sample makes it; its prediction is what that sample must come to.

    `values` (inputs,) in SI; `held` takes the candidate's place.
    """
    out = _with_candidate(project, held)
    for item, value in zip(inputs, values.tolist(), strict=True):
        out = _set(out, project, item, value)
    return out


def variation_of(
    project: Project, held: Candidate, inputs: tuple[Uncertain, ...], values: Array
) -> dict[str, Array]:
    """What the samples (rows of `values`) vary, as the engine takes it: each is `with_sample`'s project."""
    out: dict[str, Array] = {}
    for item, column in zip(inputs, values.T, strict=True):
        column, path = np.ascontiguousarray(column), item.path
        if item.kind == "clamp":
            path = f"structure.{_end_of(item)}.k_r_nm_rad"
            column = np.asarray(clamp_stiffness(project, _end_of(item), column))
        elif path.endswith(".x_start_m"):
            patch = value_at(_with_candidate(project, held), path.removesuffix(".x_start_m"))
            column = np.clip(column, 0.0, _last_start(project, patch))
        out[path] = column
    return out


def is_possible(
    project: Project, held: Candidate, inputs: tuple[Uncertain, ...], values: Array
) -> NDArray[np.bool_]:
    """(P,) whether each sample's ceramics can be: a coupling below 1 leaves a blocked permittivity."""
    varied = variation_of(project, held, inputs, values)
    out = np.ones(len(values), dtype=bool)
    for name in {patch.package for patch in held.patches}:
        c = coefficients(
            project.package(name).ceramic,
            level=project.structure.level,
            temperature_c=project.at_c(),
            variation=varied,
            path=f"packages[{name}].ceramic",
        )
        out &= np.asarray(c.permittivity_blocked > LEAST_BLOCKED * c.permittivity_free)
    return out


def _end_of(item: Uncertain) -> str:
    return "root" if item.path.startswith("structure.root") else "tip"


def _last_start(project: Project, patch: Patch) -> float:
    """A patch placed off the end in some sample stops at the end."""
    return max(project.structure.span_m - patch.length_m, 0.0)


def _with_candidate(project: Project, held: Candidate) -> Project:
    candidates = tuple(held if c.id == held.id else c for c in project.candidates)
    return replace(project, candidates=candidates)


def _set(out: Project, nominal: Project, item: Uncertain, value: float) -> Project:
    if item.kind == "clamp":
        end = _end_of(item)
        support = Support("elastic", np.inf, float(clamp_stiffness(nominal, end, value)))
        return replaced_at(out, f"structure.{end}", support)
    if item.path.endswith(".x_start_m"):
        patch = value_at(out, item.path.removesuffix(".x_start_m"))
        value = min(max(value, 0.0), _last_start(nominal, patch))
    old = value_at(out, item.path)
    if isinstance(old, Constant):
        return replaced_at(out, f"{item.path}.value", value)
    if item.kind == "factor":
        return replaced_at(out, item.path, _scaled(old, value))
    return replaced_at(out, item.path, value)


def _scaled(old: Any, value: float) -> Any:
    return tuple(v * value for v in old) if isinstance(old, tuple) else old * value
