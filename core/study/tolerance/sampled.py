"""Samples of uncertain inputs, and the project that a sample, or many samples, stand for."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.project.at_path import replaced_at, value_at
from core.project.model import Candidate, Constant, Project, Support
from core.study.tolerance.uncertain import Uncertain, clamp_stiffness

Array = NDArray[np.float64]
Spread = Literal["limits", "two sigma"]

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


def with_samples(project: Project, held: Candidate, inputs: tuple[Uncertain, ...], values: Array) -> Project:
    """The project with an array (samples,) in place of every number that varies.

    Profiles that a factor scales stay nominal (see `factor`). Such a project is for array code that
    only reads it: it cannot be compared, saved or used as a key.
    """
    out = _with_candidate(project, held)
    for item, column in zip(inputs, values.T, strict=True):
        if item.kind != "factor":
            out = _set(out, project, item, np.ascontiguousarray(column))
    return out


def factor(inputs: tuple[Uncertain, ...], values: Array, path: str) -> Array | None:
    """(samples,) the factor on the profile at `path`; None where it does not vary."""
    for item, column in zip(inputs, values.T, strict=True):
        if item.path == path:
            return column
    return None


def _with_candidate(project: Project, held: Candidate) -> Project:
    candidates = tuple(held if c.id == held.id else c for c in project.candidates)
    return replace(project, candidates=candidates)


def _set(out: Project, nominal: Project, item: Uncertain, value: Any) -> Project:
    if item.kind == "clamp":
        end = "root" if item.path.startswith("structure.root") else "tip"
        support = Support("elastic", np.inf, clamp_stiffness(nominal, end, value))  # type: ignore[arg-type]
        return replaced_at(out, f"structure.{end}", support)
    if item.path.endswith(".x_start_m"):
        value = _on_the_span(nominal, out, item.path, value)
    old = value_at(out, item.path)
    if isinstance(old, Constant):
        return replaced_at(out, f"{item.path}.value", value)
    if item.kind == "factor":
        return replaced_at(out, item.path, _scaled(old, value))
    return replaced_at(out, item.path, value)


def _scaled(old: Any, value: float) -> Any:
    return tuple(v * value for v in old) if isinstance(old, tuple) else old * value


def _on_the_span(nominal: Project, out: Project, path: str, value: Any) -> Any:
    """A patch placed off the end in some sample stops at the end."""
    patch = value_at(out, path.removesuffix(".x_start_m"))
    last = max(nominal.structure.span_m - patch.length_m, 0.0)
    return np.clip(value, 0.0, last) if isinstance(value, np.ndarray) else min(max(value, 0.0), last)
