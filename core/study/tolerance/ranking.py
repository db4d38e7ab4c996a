"""Which inputs a spread comes from.

The share of an input is the larger of two: Spearman's rank correlation squared, and the first-order
sensitivity index of the ranks, the scatter of the outcome's mean over slices of the input (Sobol'
1993, estimated from the given samples; Fisher's correction for the number of slices). The first is
sharp where more means more; the second sees an input that costs in both directions, as everything
does that detunes a resonant shunt. A Latin hypercube keeps the inputs independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.study.tolerance.uncertain import Uncertain
from core.units import words

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Cause:
    """An input behind a spread: its share of the scatter, 0 to 1, and Spearman's correlation."""

    path: str
    label: str
    share: float
    correlation: float

    @property
    def direction(self) -> int:
        """1 where more of the input gives more, -1 where it gives less, 0 where both ways count."""
        if self.correlation**2 < 0.5 * self.share:
            return 0
        return 1 if self.correlation >= 0.0 else -1


@dataclass(frozen=True)
class ToldCause:
    """A cause with its share in whole per cent: "14 %"."""

    cause: Cause
    text: str


def told_causes(causes: tuple[Cause, ...], samples: int, most: int) -> tuple[tuple[ToldCause, ...], str]:
    """The first causes that stand out of chance, and the share of all others together ("17 %").

    Every place that tells shares takes them from here: they add up to 100 %, and a share reads the same
    however many are told.
    """
    known = [cause for cause in causes if cause.share > max(noise_share(samples), LEAST_TOLD)]
    rest = max(1.0 - sum(cause.share for cause in known), 0.0)
    texts = words.shares([*(cause.share for cause in known), rest])
    told = tuple(ToldCause(cause, text) for cause, text in zip(known[:most], texts, strict=False))
    others = sum(int(text.removesuffix(" %")) for text in texts[len(told) :])
    return told, f"{others} %"


SLICES = 16
LEAST_TOLD = 0.003


def noise_share(samples: int) -> float:
    """Shares below this may be chance: about two standard deviations of what an input without any
    effect gets."""
    return SLICES / max(samples, SLICES)


def main_causes(inputs: tuple[Uncertain, ...], values: Array, outcomes: Array) -> list[tuple[Cause, ...]]:
    """Per outcome (column of `outcomes`, (S, M)) the inputs by falling share; `values` (S, inputs)."""
    if len(values) < 3:
        return [()] * outcomes.shape[1]
    rho, index = correlation_and_share(values, outcomes)
    share = _of_a_whole(np.maximum(rho**2, index), noise_share(len(values)))
    # More of a negative constant (d31) is more of its size.
    sign = np.array([-1.0 if i.nominal < 0.0 else 1.0 for i in inputs])
    out = []
    for m in range(outcomes.shape[1]):
        order = np.argsort(-share[:, m], kind="stable")
        out.append(
            tuple(
                Cause(inputs[i].path, inputs[i].label, float(share[i, m]), float(sign[i] * rho[i, m]))
                for i in order
            )
        )
    return out


def _of_a_whole(share: Array, noise: float) -> Array:
    """Shares (inputs, M) scaled where those that stand out of the noise would come to more than all of
    the scatter: each is estimated by itself, and the larger of two estimates errs upwards."""
    told = np.where(share > noise, share, 0.0).sum(axis=0)
    return share / np.maximum(told, 1.0)


def correlation_and_share(values: Array, outcomes: Array) -> tuple[Array, Array]:
    """(inputs, M) each: Spearman's rho, and the share of each outcome's rank scatter that slices of
    one input explain. Samples in which an outcome is nan do not count for it."""
    rho, share = (np.zeros((values.shape[1], outcomes.shape[1])) for _ in range(2))
    whole = _ranks(values)
    for m in range(outcomes.shape[1]):
        known = np.isfinite(outcomes[:, m])
        if known.sum() < 3:
            continue
        ranks = whole if known.all() else _ranks(values[known])
        y = _standard(_ranks(outcomes[known, m : m + 1]))[:, 0]
        rho[:, m] = _standard(ranks).T @ y
        if len(y) >= 8 * SLICES:
            share[:, m] = _first_order(ranks, y)
    return rho, share


def _first_order(ranks: Array, y: Array) -> Array:
    """(inputs,) between-slice scatter of y (centred, unit length) over all, Fisher's correction."""
    n, d = ranks.shape
    place = np.minimum((ranks * (SLICES / n)).astype(np.intp), SLICES - 1) + SLICES * np.arange(d)
    size = np.bincount(place.ravel(), minlength=SLICES * d)
    total = np.bincount(place.ravel(), np.repeat(y, d), minlength=SLICES * d)
    between = (total**2 / np.maximum(size, 1)).reshape(d, SLICES).sum(axis=1)
    return np.maximum(1.0 - (1.0 - between) * (n - 1) / (n - SLICES), 0.0)


def _ranks(a: Array) -> Array:
    """Ranks of each column from 0; ties share their mean rank."""
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
    return ranks


def _standard(ranks: Array) -> Array:
    """Centred columns of unit length; a column without scatter is nothing."""
    centred = ranks - ranks.mean(axis=0)
    length = np.sqrt((centred**2).sum(axis=0))
    return centred / np.where(length > 0.0, length, 1.0)
