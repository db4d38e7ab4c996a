"""What is asked for, judged for a candidate that can be predicted."""

from __future__ import annotations

import logging

from core.predict.asked import Answer, answer
from core.predict.prediction import Prediction
from core.project.model import Project

log = logging.getLogger(__name__)


def judge(project: Project, candidate_id: str, prediction: Prediction) -> Answer | None:
    """None where the temperature or the load asked for cannot be predicted; the drawing page says why."""
    try:
        return answer(project, candidate_id, prediction)
    except (ValueError, ArithmeticError) as error:
        log.info("what is asked for could not be judged for candidate %s: %s", candidate_id, error)
        return None
