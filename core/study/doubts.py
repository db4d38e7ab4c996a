"""Which assumed input the answer leans on most: each one moved to the ends of its tolerance, alone.

A tolerance study tells how far all inputs together spread a result, by thousands of samples; this
tells in a fraction of a second which single assumption to settle first. A support taken as rigid has
no tolerance of its own: it is moved to a rotational stiffness of 50 EI/L, a good clamp of a bench
vice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace

from core.predict.asked import asked_modes, under_asked
from core.predict.predict import held_circuits, predict
from core.predict.prediction import Prediction
from core.project.candidate import Candidate
from core.project.model import Project
from core.study.tolerance.samples import with_sample
from core.study.tolerance.uncertain import Uncertain, uncertain_inputs

SOFT_CLAMP = 1.0 / 50.0
"""EI/(k_r L) of a clamp that is called good."""
POINTS = 60


@dataclass(frozen=True)
class Doubt:
    """An assumed input and what the figure asked about becomes over its tolerance.

    quantity : "peak" (share of what it was), "damping" (ratio) or "settling" (s); `nominal` is the figure
    as predicted, low and high the least and largest over the tolerance; effect : the larger departure.
    """

    path: str
    label: str
    mode: int
    quantity: str
    nominal: float
    low: float
    high: float

    @property
    def effect(self) -> float:
        return max(self.high - self.nominal, self.nominal - self.low)


def doubts(
    project: Project, candidate_id: str | None = None, stopped: Callable[[], bool] = lambda: False
) -> tuple[Doubt, ...]:
    """The assumed inputs of a valid project's candidate, the one that moves the answer most first.

    The figure is that asked for, of the first mode it is asked for, at the reference temperature.
    Returns what there is when `stopped` says so. KeyError for an unknown candidate.
    """
    project = under_asked(project)
    candidate = project.candidate(candidate_id)
    held = held_circuits(project, candidate)
    mode = asked_modes(replace(project, active=candidate.id))[0]
    quantity = project.service.asked.quantity if project.service.asked.modes else "peak"
    base = predict(_with(project, held), candidate.id, points=POINTS)
    if _figure(base, mode, quantity) is None:
        quantity = "damping"
    nominal = _figure(base, mode, quantity)
    if nominal is None:
        return ()
    found = []
    for item in uncertain_inputs(project, held):
        if stopped():
            break
        if item.status != "assumed":
            continue
        values = [nominal]
        for end in _ends(item):
            varied = with_sample(project, held, (item,), np.array([end]))
            figure = _figure(predict(varied, candidate.id, points=POINTS), mode, quantity)
            values += [] if figure is None else [figure]
        if len(values) > 1:
            found.append(Doubt(item.path, item.label, mode, quantity, nominal, min(values), max(values)))
    return tuple(sorted(found, key=_by_effect))


def _by_effect(doubt: Doubt) -> float:
    return -doubt.effect


def _with(project: Project, held: Candidate) -> Project:
    return replace(project, candidates=tuple(held if c.id == held.id else c for c in project.candidates))


def _ends(item: Uncertain) -> tuple[float, ...]:
    if item.kind == "clamp" and not item.varies:
        return (SOFT_CLAMP,)
    return tuple(v for v in (item.low, item.high) if v != item.nominal)


def _figure(prediction: Prediction, mode: int, quantity: str) -> float | None:
    if quantity == "settling":
        settled = prediction.ring_down.settle_after_s
        return settled if math.isfinite(settled) else None
    found = next((m for m in prediction.modes if m.number == mode), None)
    if found is None or math.isnan(found.zeta):
        return None
    if quantity == "damping":
        return found.zeta
    change = found.peak_change_db
    return None if change is None or not math.isfinite(change) else 10.0 ** (change / 20.0) - 1.0
