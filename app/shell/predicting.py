"""Prediction as the window asks for it: what cannot be predicted becomes a problem in words."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from core.predict.remarks.problems import UNSOLVED, Problem, blocks_prediction, problems_of
from core.project.model import Project

if TYPE_CHECKING:
    from core.predict.prediction import Prediction

log = logging.getLogger(__name__)


def solved(project: Project, candidate_id: str) -> tuple[Prediction | None, tuple[Problem, ...]]:
    """The prediction, or None where the problems keep it from being made."""
    problems = problems_of(project, candidate_id)
    if any(blocks_prediction(problem) for problem in problems):
        return None, problems
    # imported here so that the window is up before the numerics are loaded
    from core.predict.predict import predict

    try:
        return predict(project, candidate_id), problems
    except Exception:  # told as a problem in words, and logged in full
        log.exception("prediction failed")
        return None, (*problems, Problem("", UNSOLVED))


def worked_out(prediction: Prediction, *, whole: bool, with_limits: bool = True) -> tuple[Prediction | None, tuple[Problem, ...]]:
    """The prediction with every part worked out, or with what every frame of a drag tells, the limits only where asked
    for; None where that fails."""
    try:
        if whole:
            return prediction.whole(), ()
        _ = prediction.modes, prediction.limits if with_limits else ()
        return prediction, ()
    except Exception:  # told as a problem in words, and logged in full
        log.exception("a part of the prediction failed")
        return None, (Problem("", UNSOLVED),)
