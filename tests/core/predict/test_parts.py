"""A prediction in parts: worked out when asked for, and the same in whichever order."""

import json
import random

import pytest

from core.predict.parts import ON_REQUEST, PARTS
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library


def numbers(project, found):
    return json.dumps(prediction_json(project, found)), prediction_text(project, found)


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_a_part_says_the_same_whatever_was_asked_before(key):
    project = library.example(key)
    plain = numbers(project, predict(project))
    assert numbers(project, predict(project).whole()) == plain
    names = sorted(PARTS)
    random.Random(1).shuffle(names)
    found = predict(project)
    for name in names:
        getattr(found, name)
    assert numbers(project, found) == plain


def test_only_what_is_asked_for_is_worked_out():
    found = predict(library.example("touring-ski"))
    assert found.asked_for == frozenset()
    assert found.modes[0].zeta > found.modes[0].zeta_before > 0
    assert found.asked_for == {"modes"}
    assert found.limits
    assert found.asked_for == {"modes", "limits"}
    assert found.whole() is found
    assert found.asked_for == PARTS


def test_the_whole_leaves_what_waits_for_its_page():
    """A release works out everything but what it costs to miss a value, which tunes every circuit anew."""
    project = library.example("lab-beam")
    found = predict(project).whole()
    group = found.groups[0]
    assert not ON_REQUEST & vars(group).keys()
    assert "prices" not in prediction_json(project, found)["groups"][0]
    asked = prediction_json(project, found, with_prices=True)["groups"][0]["prices"]
    assert [p["name"] for p in asked] == [p.name for p in group.prices] != []


def test_a_part_is_worked_out_once():
    found = predict(library.example("lab-beam"))
    for name in PARTS:
        assert getattr(found, name) is getattr(found, name)


def test_the_whole_fails_where_any_part_does(monkeypatch):
    def broken(*_):
        raise ArithmeticError("no ring-down")

    monkeypatch.setattr("core.predict.parts.ring_down", broken)
    found = predict(library.example("lab-beam"))
    assert found.modes
    with pytest.raises(ArithmeticError):
        found.whole()

