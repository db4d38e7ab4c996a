"""Which inputs a spread comes from: Spearman's rank correlation of each with the outcome.

Its square is the share of the outcome's scatter, counted in ranks, that goes with the input alone;
a Latin hypercube keeps the inputs independent, so the shares add up to at most 1 but for chance
(Saltelli et al. 2008, Global Sensitivity Analysis, on rank-transformed regression).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.study.uncertain import Uncertain

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Cause:
    """An input behind a spread; `correlation` -1 to 1, positive where more of it gives more."""

    path: str
    label: str
    correlation: float

    @property
    def share(self) -> float:
        """Share of the scatter, 0 to 1."""
        return self.correlation**2


def main_causes(inputs: tuple[Uncertain, ...], values: Array, outcomes: Array) -> list[tuple[Cause, ...]]:
    """Per outcome (column of `outcomes`, (S, M)) the inputs by falling share; `values` (S, inputs)."""
    if len(values) < 3:
        return [()] * outcomes.shape[1]
    rho = rank_correlation(values, outcomes)
    out = []
    for column in rho.T:
        order = np.argsort(-np.abs(column), kind="stable")
        out.append(tuple(Cause(inputs[i].path, inputs[i].label, float(column[i])) for i in order))
    return out


def rank_correlation(values: Array, outcomes: Array) -> Array:
    """(inputs, M) Spearman's rho; samples in which an outcome is nan do not count for it."""
    out = np.zeros((values.shape[1], outcomes.shape[1]))
    whole = _standard_ranks(values) if np.isfinite(outcomes).any() else values
    for m in range(outcomes.shape[1]):
        known = np.isfinite(outcomes[:, m])
        if known.sum() < 3:
            continue
        ranks = whole if known.all() else _standard_ranks(values[known])
        out[:, m] = ranks.T @ _standard_ranks(outcomes[known, m : m + 1])[:, 0]
    return out


def _standard_ranks(a: Array) -> Array:
    """Ranks of each column, centred and of unit length; ties share their mean rank."""
    ranks = np.empty(a.shape)
    for j in range(a.shape[1]):
        order = np.argsort(a[:, j], kind="stable")
        sorted_values = a[order, j]
        place = np.arange(len(a), dtype=float)
        first = np.concatenate([[True], sorted_values[1:] != sorted_values[:-1]])
        if not first.all():
            group = np.cumsum(first) - 1
            place = (np.bincount(group, place) / np.bincount(group))[group]
        ranks[order, j] = place
    ranks -= ranks.mean(axis=0)
    length = np.sqrt((ranks**2).sum(axis=0))
    return ranks / np.where(length > 0.0, length, 1.0)
