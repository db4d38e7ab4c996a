"""What a document needs computed, computed: predictions of one or all candidates, temperatures."""

from __future__ import annotations

from collections.abc import Callable

from core.handover.documents import Needs, Results
from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.predict.remarks.problems import blocks_prediction, problems_of
from core.project.model import Project
from core.study.temperature.temperature import temperature_study
from core.study.tolerance.tolerance import ToleranceResult, tolerance_study

SAMPLES = 1000
"""As many as the study starts with, and its seed: the record shows what the study shows."""

Stopped = Callable[[], bool]


def compute_results(
    project: Project,
    candidate_id: str,
    needs: Needs,
    *,
    known: Prediction | None = None,
    stopped: Stopped = lambda: False,
) -> Results:
    """Results for a document. Candidates with problems have no prediction; `known` is reused.

    `stopped` is asked between the steps; what was not computed by then is missing.
    """
    if needs == "nothing":
        return Results()
    wanted = [c.id for c in project.candidates] if needs == "all candidates" else [candidate_id]
    found: dict[str, Prediction] = {}
    for one in wanted:
        if stopped():
            break
        if known is not None and known.candidate == one:
            found[one] = known
        elif able(project, one):
            found[one] = predict(project, one).whole()
    study = None
    if needs in ("temperature", "all candidates") and candidate_id in found and not stopped():
        study = temperature_study(project, candidate_id)
    tolerance = None
    if needs in ("tolerance", "all candidates") and candidate_id in found and not stopped():
        tolerance = _tolerance(project, candidate_id, stopped)
    return Results(found, study, tolerance)


def _tolerance(project: Project, candidate_id: str, stopped: Stopped) -> ToleranceResult | None:
    """What the spread of the inputs makes of the chosen one; None where nothing varies."""
    try:
        return tolerance_study(project, candidate_id, samples=SAMPLES, seed=1, cancelled=stopped)
    except ValueError:  # no patch, or every input taken as exact: the record does without
        return None


def able(project: Project, candidate_id: str) -> bool:
    """Whether a candidate can be predicted: no problem of its own nor of what all share."""
    return not any(blocks_prediction(p) for p in problems_of(project, candidate_id))
