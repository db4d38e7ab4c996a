"""The simplex search: its budget is counted in rounds, and one point at a time or several make no difference."""

import numpy as np
import pytest

from core.circuit.simplex import ROUNDS_MOST, Budget, simplex


def valley(x):
    """Rosenbrock (1960), least at (1, 1)."""
    return (1.0 - x[..., 0]) ** 2 + 100.0 * (x[..., 1] - x[..., 0] ** 2) ** 2


START, WIDTH = np.array([[-1.2, 1.0]]), np.full((1, 2), 0.5)


def test_it_finds_the_floor_of_a_bent_valley():
    assert simplex(valley, START, WIDTH, 200)[0] == pytest.approx([1.0, 1.0], abs=1e-4)


def test_points_asked_for_together_lead_the_same_way():
    assert np.array_equal(simplex(valley, START, WIDTH, 60, at_once=True), simplex(valley, START, WIDTH, 60))


def test_a_search_ends_with_its_budget_and_says_that_it_still_moved():
    budget = Budget.rounds(25)
    short = simplex(valley, START, WIDTH, 200, budget=budget)
    assert budget.left[0] == 0 and budget.wanders
    assert valley(short)[0] < valley(START)[0]
    again = simplex(valley, START, WIDTH, 200, budget=budget)
    assert valley(again)[0] <= valley(START)[0] and budget.wanders


def test_one_that_stands_says_nothing():
    budget = Budget.rounds(200)
    simplex(valley, START, WIDTH, 200, budget=budget)
    assert budget.left[0] > 0 and not budget.wanders


def test_a_search_among_others_goes_as_far_as_alone():
    """Whatever the others still take of their own."""
    starts = np.array([[-1.2, 1.0], [0.9, 0.8], [3.0, -2.0]])
    widths = np.full((3, 2), 0.5)
    together = Budget.rounds(60, 3)
    found = simplex(valley, starts, widths, 200, budget=together)
    for n in range(3):
        alone = Budget.rounds(60)
        assert np.array_equal(found[n], simplex(valley, starts[n : n + 1], widths[:1], 200, budget=alone)[0])
        assert (together.left[n], together.wanders[n]) == (alone.left[0], alone.wanders[0])
    assert len({*together.left.tolist()}) > 1


def test_the_budget_grows_with_the_values_up_to_a_cap():
    lefts = [Budget.of(values).left[0] for values in (1, 2, 6, 24)]
    assert lefts[0] < lefts[1] < lefts[2] == lefts[3] == ROUNDS_MOST
