"""What was asked for and whether it is met, and which limits a layout exceeds, for the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from core.predict.asked import Answer, answer
from core.predict.asked_text import answer_text, asked_text, verdict_text
from core.predict.loads.limit_words import margin_words
from core.predict.prediction import Prediction
from core.project.candidate import Candidate
from core.project.model import Project

NOTHING_ASKED = "No target is entered for this part: what is reached is told, not judged."


def answers(
    project: Project, candidates: Sequence[Candidate], predictions: Mapping[str, Prediction]
) -> dict[str, Answer]:
    """Each candidate's answer to what is asked for; empty where nothing is."""
    if not project.service.asked.modes:
        return {}
    return {c.id: answer(project, c.id, predictions[c.id]) for c in candidates if c.id in predictions}


def target_words(project: Project, found: Answer | None) -> str:
    """The target and what the choice does of it, in sentences."""
    if found is None:
        return NOTHING_ASKED
    told = " ".join(verdict_text(found, verdict) for verdict in found.verdicts)
    text = asked_text(project.service)
    return f"Asked for: {text}. {told}"


def cell(found: Answer | None) -> str:
    """One candidate's answer in a cell: "missed: mode 1 16 points short"."""
    return "" if found is None else answer_text(found)


def exceeded(prediction: Prediction, most: int | None = None) -> str:
    """The limits a layout exceeds, worst first; empty where it exceeds none. Beyond `most` they are counted."""
    broken = [limit for limit in prediction.limits if limit.margin < 1.0]
    told = [f"{limit.name} {limit.patch or ''}".strip() + f", {margin_words(limit)}" for limit in broken[:most]]
    rest = len(broken) - len(told)
    return "; ".join([*told, f"and {rest} more"] if rest else told)
