"""Work ends between two evaluations once it is told to, and only there where somebody may tell."""

import numpy as np
import pytest

from core.circuit import simplex as search
from core.predict.predict import predict
from core.project import library
from core.stopping import Stopped, may_stop, until
from core.study.temperature.temperature import temperature_study


def test_nothing_stops_where_nobody_may_say_so():
    may_stop()
    with until(lambda: False):
        may_stop()


def test_what_was_told_holds_inside_only():
    with pytest.raises(Stopped), until(lambda: True):
        may_stop()
    may_stop()


@pytest.mark.parametrize("work", [predict, temperature_study])
def test_a_study_ends_at_its_next_layout(work):
    with pytest.raises(Stopped), until(lambda: True):
        work(library.example("lab-beam"))


def test_a_search_ends_at_its_next_evaluation():
    asked = []

    def value(x):
        asked.append(len(x))
        return (x**2).sum(axis=-1)

    with pytest.raises(Stopped), until(lambda: len(asked) > 3):
        search.simplex(value, np.array([[1.0, 1.0]]), np.array([[0.5, 0.5]]), 100)
    assert len(asked) < 8
