"""Published experiments: each prediction within the band its unknowns allow, and the pages that show them true."""

from __future__ import annotations

import pytest

from core.predict.remarks.problems import find_problems
from core.project import library
from tests.published.experiments import EXPERIMENTS, PLACES, compared, project_of, table, written

FOUND = tuple(compared())


@pytest.mark.parametrize(("key", "name", "measured", "predicted"), FOUND, ids=[f"{k}: {m.quantity}" for k, _, m, _ in FOUND])
def test_the_prediction_lies_within_its_band(key, name, measured, predicted):
    low, high = measured.band
    assert low <= predicted / measured.value - 1.0 <= high, (name, predicted)


@pytest.mark.parametrize("key", EXPERIMENTS)
def test_an_experiment_is_sound_and_names_its_source(key):
    project = project_of(key)
    assert find_problems(project) == ()
    assert "facts only" in project.notes and any(year in project.notes for year in ("2007", "2009", "2011", "2012", "1989"))
    remembered = any(measured.memory for measured in EXPERIMENTS[key][1])
    assert remembered == ("FROM MEMORY" in project.notes)


def test_what_is_offered_for_validation_is_compared():
    assert {key for key, _ in library.validation_examples()} <= set(EXPERIMENTS)


@pytest.mark.parametrize("page", PLACES, ids=lambda page: page.name)
def test_the_pages_show_what_is_predicted_now(page):
    """To 3 % of each value: `python -m tests.published.experiments --write` renews them."""
    shown = written(page.read_text(encoding="utf-8"))
    assert shown is not None
    for old, new in zip(_rows(shown), _rows(table()), strict=True):
        assert old[:3] == new[:3]
        assert float(old[3].split()[0]) == pytest.approx(float(new[3].split()[0]), rel=0.03)


def _rows(text: str) -> list[list[str]]:
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines()[2:]]
