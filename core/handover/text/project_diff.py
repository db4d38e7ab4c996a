"""Two project files side by side in words: what changed in the inputs, and both predictions."""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.releases import difference, inputs
from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.predict.remarks.problems import UNSOLVED, blocks_prediction, problems_of
from core.project.model import Project
from core.study.compare import Difference
from core.units import words


def diff_text(before: Project, after: Project) -> str:
    """What changed from one project to another, candidate by candidate with old and new prediction."""
    parts = [*_inputs(difference(before, after))]
    ids = dict.fromkeys([c.id for c in before.candidates] + [c.id for c in after.candidates])
    for id in ids:
        parts += ["", *_candidate(before, after, id)]
    return "\n".join(parts)


def project_text(project: Project) -> str:
    """A project as lines of input and prediction, one of each a line, for tools that compare texts."""
    parts = [f"{label}: {value}" for label, value in inputs(project)]
    for candidate in project.candidates:
        found = _predicted(project, candidate.id)
        parts += [f"{candidate.called}, {label}: {value}" for label, value in _rows(found).items()]
    return "\n".join(parts)


def _inputs(found: tuple[Difference, ...]) -> Iterator[str]:
    if not found:
        yield "No input differs."
        return
    yield "What changed"
    yield from _columns([(each.label, each.reference, each.other) for each in found])


def _candidate(before: Project, after: Project, id: str) -> Iterator[str]:
    old = next((c for c in before.candidates if c.id == id), None)
    new = next((c for c in after.candidates if c.id == id), None)
    if old is None or new is None:
        there = new or old
        assert there is not None
        yield f"Candidate {there.called} is {'new' if old is None else 'gone'}"
        owner = after if old is None else before
        yield from (f"  {label}: {value}" for label, value in _rows(_predicted(owner, id)).items())
        return
    yield f"Candidate {new.called}, predicted before and after"
    first, second = _rows(_predicted(before, id)), _rows(_predicted(after, id))
    labels = dict.fromkeys([*first, *second])
    yield from _columns([(each, first.get(each, "–"), second.get(each, "–")) for each in labels])


def _predicted(project: Project, id: str) -> Prediction | str:
    """The prediction, or why there is none."""
    problems = [p.message for p in problems_of(project, id) if blocks_prediction(p)]
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        return problems[0] + more
    try:
        return predict(project, id).whole()
    except (ValueError, ArithmeticError):
        return UNSOLVED


def _rows(found: Prediction | str) -> dict[str, str]:
    """What of a prediction is told, by its label."""
    if isinstance(found, str):
        return {"not predicted": found}
    rows: dict[str, str] = {}
    for mode in found.modes:
        rows[f"mode {mode.number} frequency"] = words.frequency(mode.f_short_hz)
        rows[f"mode {mode.number} K²"] = words.coupling(mode.k2)
        rows[f"mode {mode.number} damping"] = words.damping(mode.zeta)
        if mode.peak_change_db is not None:
            rows[f"mode {mode.number} peak"] = words.decibel(mode.peak_change_db)
    for limit in found.limits[:1]:
        rows["worst limit"] = f"{limit.name} {limit.patch}, {words.times(limit.margin)} allowable over value"
    rows["added mass"] = words.mass(found.added_mass_kg)
    return rows


def _columns(rows: list[tuple[str, str, str]]) -> Iterator[str]:
    """Label, before and after in columns; a pair of long texts on a line each."""
    wide = [max((len(row[i]) for row in rows if len(row[i]) <= 60), default=0) for i in (0, 1)]
    for label, before, after in rows:
        if max(map(len, (label, before, after))) > 60:
            yield f"  {label}"
            yield f"    {before}"
            yield f"  → {after}"
        else:
            changed = " " if before == after else "→"
            yield f"  {label:<{wide[0]}}  {before:>{wide[1]}} {changed} {after}"
