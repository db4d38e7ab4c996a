"""Changes of one circuit value that a slider makes; pure, old project in, new out."""

from __future__ import annotations

from app.panels import edits
from core.circuit import preferred
from core.predict.group_result import GroupResult
from core.project.model import Project

JUST_BESIDE = 1e-6
USUAL_SERIES = "E24"
"""Whose values arrows go along where a candidate takes parts of any value."""


def with_value(project: Project, result: GroupResult, name: str, value: float) -> Project:
    """The group's circuit fixed at the values in effect, this one changed."""
    in_effect = {one.name: one.value for one in result.values} | {name: value}
    return edits.with_tuning(project, f"{edits.group_path(project, result.id)}.circuit", False, in_effect)


def series_of(project: Project) -> str:
    """The preferred values that arrows go along."""
    chosen = project.candidate().build.series
    return USUAL_SERIES if chosen == "exact" else chosen


def stepped(value: float, steps: int, series: str) -> float:
    """The preferred value that many further up, or down where `steps` is negative."""
    side, beside = ("up", 1.0 + JUST_BESIDE) if steps > 0 else ("down", 1.0 - JUST_BESIDE)
    for _ in range(abs(steps)):
        value = float(preferred.nearest(value * beside, series, side))  # type: ignore[arg-type]
    return value
