"""Mutated project files: words within two seconds, and what loads without a problem is predicted."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from functools import partial
from typing import Any

import pytest

from core.predict.predict import predict
from core.predict.remarks.problems import blocks_prediction, problems_of
from core.predict.report.report import prediction_json, prediction_text
from core.project import library, store
from core.project.store import ProjectFileError
from core.study.temperature.temperature import temperature_study
from core.study.temperature.temperature_report import temperature_json, temperature_text
from tests.fuzz.cases import BATCHES, run
from tests.fuzz.mutations import damaged, mutated
from tests.levels import beam_example

EXAMPLES = [json.loads(store.dumps(library.example(key))) for key, _ in library.examples()]


BEAMS = [json.loads(store.dumps(beam_example(key))) for key, _ in library.examples()]
"""At a third of the time a layout, for the few of the fast suite."""


def case(dice: random.Random, examples: Sequence[Any] = EXAMPLES) -> str:
    """What a person is told of a mutated file: its faults, its problems, or its numbers."""
    raw = mutated(dice.choice(examples), dice)
    data = json.dumps(raw, ensure_ascii=False).encode("utf-8", "surrogatepass")
    if dice.random() < 0.2:
        data = damaged(data, dice)
    try:
        project = store.loads(data)
    except ProjectFileError as told:
        return str(told)
    assert store.loads(store.dumps(project)) == project
    problems = [p.message for p in problems_of(project, project.active) if blocks_prediction(p)]
    if problems:
        return "\n".join(problems[:20])
    found, temperature = predict(project), temperature_study(project)
    json.dumps([prediction_json(project, found), temperature_json(temperature)], allow_nan=False)
    # Names are a person's own and may be anything; numbers are ours.
    prediction_text(project, found), temperature_text(temperature)
    return ""


@pytest.mark.parametrize("batch", range(2))
def test_a_few_mutated_projects(batch):
    run(batch, 250, partial(case, examples=BEAMS))


@pytest.mark.slow
@pytest.mark.timeout(0)
@pytest.mark.parametrize("batch", range(BATCHES))
def test_many_mutated_projects(batch):
    run(batch, 5000, case)
