"""Searches on the shipped examples: where they lead, what binds, and what they say when they fail."""

from __future__ import annotations

import dataclasses
import itertools
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.preferred import nearest
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_candidate, with_structure
from core.project.problems import find_problems
from core.project.structure import KeepOut
from core.study.carried import free_sections
from core.study.placement.maps import default_request, placement_map
from core.study.search.explore import APART
from core.study.search.goals import Goal, Limits, SearchRequest, Target
from core.study.search.scoring import evaluate, levels_apart
from core.study.search.search import search
from core.study.search.templates import templates
from tests.core.scenes import lab
from tests.levels import beam_example

TYPE_II = ("Type II, 50 x 25 x 0.25",)


def names(project):
    return tuple(package.name for package in project.packages)


@pytest.fixture(scope="module")
def ski():
    """Mode 1 of the ski with one patch: the plate screws forbid the best place."""
    project = beam_example("touring-ski")
    return project, search(project, SearchRequest(Goal("damping", 1), Limits(names(project))))


def test_the_keep_out_that_forbids_the_clamp_is_named(ski):
    _, result = ski
    best = result.found[0]
    assert best.candidate.patches[0].x_start_m == pytest.approx(0.016, abs=1e-4)
    assert best.binding == ('the keep-out "plate screws" forbids starting nearer the root',)
    assert not best.at_edge


def test_candidates_are_clearly_different_sorted_and_predictable(ski):
    project, result = ski
    assert len(result.found) == 5
    scores = [f.score for f in result.found]
    assert scores == sorted(scores, reverse=True)
    starts = [f.candidate.patches[0].x_start_m for f in result.found]
    for one, two in itertools.combinations(starts, 2):
        assert abs(one - two) > 0.95 * APART * project.structure.span_m
    for number, found in enumerate(result.found):
        kept = replace_id(found.candidate, f"Z{number}")
        grown = with_candidate(project, kept)
        assert find_problems(grown) == ()
        assert predict(grown, kept.id).modes[0].zeta == pytest.approx(found.zeta[0], rel=1e-6)


def replace_id(candidate, name):
    return replace(candidate, id=name, name=name)


def test_no_place_on_a_fine_grid_is_better_than_the_best():
    project = lab()
    result = search(project, SearchRequest(Goal("damping", 2), Limits(TYPE_II)))
    best = result.found[0]
    margin = project.package(TYPE_II[0]).margin_m
    for start in np.linspace(margin, 0.25 - margin, 26):
        patch = replace(best.candidate.patches[0], x_start_m=float(start))
        moved = replace(best.candidate, id="Z", patches=(patch,))
        assert predict(with_candidate(project, moved), "Z").modes[1].zeta <= best.zeta[1] * (1 + 1e-6)


def test_same_seed_same_answer_on_any_executor():
    project = lab()
    request = SearchRequest(Goal("weighted", weights=(1.0, 0.5)), Limits(names(project)), wanted=3)
    with ThreadPoolExecutor(2) as pool:
        assert search(project, request, executor=pool) == search(project, request)


def test_an_edge_of_the_search_is_said():
    project = lab()
    inside = Limits(TYPE_II, x_range_m=(0.04, 0.28))
    result = search(project, SearchRequest(Goal("damping", 1), inside, wanted=1))
    assert result.found[0].at_edge
    assert result.found[0].binding == ("the edge of the search at 40 mm forbids starting nearer the root",)
    assert "edge of what was searched" in result.verdict
    open_end = Limits(TYPE_II, x_range_m=(0.04, float("inf")))
    assert search(project, SearchRequest(Goal("damping", 1), open_end, wanted=1)).found == result.found
    short = Limits(TYPE_II, length_m=(0.02, 0.06))
    found = search(project, SearchRequest(Goal("damping", 1), short, wanted=1)).found[0]
    assert "the longest ceramic searched, 60 mm" in found.binding


def test_two_patches_keep_clear_of_each_other():
    project = beam_example("touring-ski")
    request = SearchRequest(
        Goal("weighted", weights=(1.0, 1.0)), Limits(names(project), patches=(2,)), wanted=3
    )
    result = search(project, request)
    single = search(project, dataclasses.replace(request, limits=Limits(names(project)), wanted=1))
    assert result.found[0].score > 1.1 * single.found[0].score
    for found in result.found:
        assert find_problems(with_candidate(project, replace_id(found.candidate, "Z"))) == ()


def test_targets_take_the_lightest_that_does():
    project = lab()
    goal = Goal("targets", targets=(Target(1, zeta=0.004),))
    result = search(project, SearchRequest(goal, Limits(TYPE_II, length_m=(0.02, 0.1))))
    assert result.met
    best = result.found[0]
    assert best.meets
    assert best.zeta[0] == pytest.approx(0.004, rel=0.05)
    assert best.candidate.patches[0].length_m < 0.05
    assert best.added_mass_kg == min(f.added_mass_kg for f in result.found)


def test_when_nothing_meets_the_target_it_says_no_and_what_would_have_to_give():
    project = lab()
    goal = Goal("targets", targets=(Target(1, zeta=0.03),))
    result = search(project, SearchRequest(goal, Limits(TYPE_II), wanted=2))
    assert not result.met
    assert result.verdict.startswith(
        "No layout within these limits meets the targets. The closest gives mode 1 0.53 %"
    )
    assert "With a series R-L circuit: then the targets can be met." in result.gives
    assert any(line.startswith("With two patches: still") for line in result.gives)


def test_no_room_at_all_is_told():
    project = with_structure(lab(), keep_outs=(KeepOut("label", "top", 0.0, 0.3),))
    result = search(project, SearchRequest(Goal("damping", 1), Limits(TYPE_II)))
    assert result.found == ()
    assert "leave no room" in result.verdict
    assert "Without the keep-outs: then there is a layout." in result.gives


def test_part_values_keep_to_what_exists():
    project = lab()
    limits = Limits(TYPE_II, ("series R-L",), largest_inductance_h=40.0, preferred="E24")
    found = search(project, SearchRequest(Goal("damping", 2), limits, wanted=1)).found[0]
    values = found.candidate.groups[0].circuit.values
    assert values["inductance_h"] <= 40.0
    for value in values.values():
        assert nearest(value, "E24") == pytest.approx(value, rel=1e-9)
    assert found.candidate.groups[0].circuit.tuning is None


def test_a_mass_limit_binds():
    project = lab()
    goal, size = Goal("damping", 1), (0.02, 0.12)
    free = search(project, SearchRequest(goal, Limits(TYPE_II, length_m=size), wanted=1)).found[0]
    limit = 0.6 * free.added_mass_kg
    held = search(
        project, SearchRequest(goal, Limits(TYPE_II, length_m=size, added_mass_kg=limit), wanted=1)
    ).found[0]
    assert held.added_mass_kg <= limit * (1 + 1e-3)
    assert any(text.startswith("the added mass allowed") for text in held.binding)


def test_the_lowest_response_in_the_band():
    project = beam_example("touring-ski")
    found = search(project, SearchRequest(Goal("band"), Limits(names(project)), wanted=1)).found[0]
    kept = with_candidate(project, replace_id(found.candidate, "Z"))
    for letter in ("A", "B"):
        assert predict(kept, "Z").response.peak_after < predict(kept, letter).response.peak_after


def test_cancelled_and_progress():
    project = lab()
    request = SearchRequest(Goal("damping", 1), Limits(TYPE_II))
    assert search(project, request, cancelled=lambda: True) is None
    shares = []
    search(project, request, on_progress=lambda share, words: shares.append(share))
    assert shares == sorted(shares)


def test_the_best_layouts_so_far_are_told_while_it_runs():
    project = lab()
    request = SearchRequest(
        Goal("damping", 1), Limits(TYPE_II, circuits=("resistor", "series R-L")), wanted=3
    )
    told = []
    result = search(project, request, on_partial=told.append)
    assert result == search(project, request)
    assert any(not item.exact for item in told[0])
    assert all(0 < len(found) <= 3 for found in told if found)
    assert [item.candidate for item in told[-1]] == [f.candidate for f in result.found]
    assert all(item.exact for item in told[-1])


def test_the_true_outline_is_obeyed_where_the_stations_would_allow_more():
    from core.project.structure import Outline

    project = lab()
    span, half = project.structure.span_m, float(np.max(project.structure.width_m)) / 2
    # an opening between the stations, just beyond the root: the station widths do not know it
    hole = ((0.01, -0.004), (0.03, -0.004), (0.03, 0.004), (0.01, 0.004))
    edge = ((0.0, -half), (span, -half), (span, half), (0.0, half))
    cut = with_structure(project, outline=Outline(edge, (hole,)))
    best = search(cut, SearchRequest(Goal("damping", 1), Limits(TYPE_II), wanted=1)).found[0]
    assert best.candidate.patches[0].x_start_m >= 0.03
    problems = find_problems(with_candidate(cut, replace_id(best.candidate, "Z")))
    assert not any("[Z]" in problem.path for problem in problems)


def test_the_exact_refinement_keeps_the_limits():
    project = beam_example("half-board")
    limits = Limits(names(project), length_m=(0.045, 0.135))
    result = search(project, SearchRequest(Goal("damping", 1), limits, wanted=2))
    for found in result.found:
        assert found.strain_margin >= 1.0 - 1e-3
    # the best is held by what it is short of, not by a layout better than itself
    assert result.found[0].binding and "static strain" in result.found[0].binding[-1]
    assert not any("better layout" in words for words in result.found[0].binding)


def test_the_margins_of_the_package_stay_on_the_span():
    project = lab()
    margin = project.package(TYPE_II[0]).margin_m
    free_end = SearchRequest(Goal("damping", 1), Limits(TYPE_II, x_range_m=(0.2, 0.3)))
    for request in (SearchRequest(Goal("damping", 1), Limits(TYPE_II)), free_end):
        for found in search(project, request).found:
            patch = found.candidate.patches[0]
            assert margin - 1e-9 <= patch.x_start_m and patch.x_end_m <= 0.3 - margin + 1e-9
    at_root = search(project, SearchRequest(Goal("damping", 1), Limits(TYPE_II))).found[0]
    assert at_root.candidate.patches[0].x_start_m == pytest.approx(margin, abs=1e-9)
    assert at_root.binding == ("the support forbids starting nearer the root",)
    assert not at_root.at_edge


def test_peaks_of_a_free_part_are_not_searched():
    project = lab()
    free = with_structure(project, root=replace(project.structure.root, kind="free"))
    with pytest.raises(ValueError, match="free to move as a rigid body"):
        search(free, SearchRequest(Goal("band"), Limits(TYPE_II)))


def test_peaks_of_an_output_that_cannot_move_are_neither_searched_nor_mapped():
    """There is no response to lower: a search for it divided nothing by nothing."""
    project = lab()
    held = replace(project, view=replace(project.view, output_x_m=0.0))
    with pytest.raises(ValueError, match="The output, the root, cannot move"):
        search(held, SearchRequest(Goal("band"), Limits(TYPE_II)))
    with pytest.raises(ValueError, match="The output, the root, cannot move"):
        placement_map(held, default_request(held, "P1", quantity="peak change", shape=(4, 3)))


def test_the_voltage_at_the_leads_is_a_limit_with_an_answer():
    project = lab()
    request = SearchRequest(Goal("damping", 1), Limits(TYPE_II), wanted=2)
    loud = search(project, request).found[0].voltage_v
    quiet = Limits(TYPE_II, largest_voltage_v=0.8 * loud)
    held = search(project, dataclasses.replace(request, limits=quiet))
    assert held.found and all(f.voltage_v <= 0.8 * loud for f in held.found)
    none = Limits(TYPE_II, largest_voltage_v=1e-6 * loud)
    refused = search(project, dataclasses.replace(request, limits=none))
    assert refused.found == () and not refused.met
    assert "None of the best layouts keeps the leads below" in refused.verdict
    assert refused.gives == ("With the voltage at the leads left aside: then there is a layout.",)


def test_near_a_layout_others_are_scored_as_in_full():
    """At 'across': carried over from one layout, objectives of those close by are those of full ones, the nearer the better."""
    project = with_structure(library.example("touring-ski"), level="across")
    request = SearchRequest(Goal("weighted", weights=(1.0, 1.0)), Limits(names(project), ("series R-L",), patches=(2,)))
    template = templates(project, request)[0]
    middle = np.array([[0.12, 0.45]])
    said = levels_apart(project, request, template, middle)
    for far, near in ((0.0, 2e-3), (0.004, 4e-3), (0.02, 1.5e-2)):
        v = middle + far * np.array([[1.0, 0.0], [0.0, -1.0], [-1.0, 1.0]])
        full = evaluate(project, request, template, v).objective
        carried = evaluate(project, request, template, v, said.at(np.zeros(3, dtype=int))).objective
        assert carried == pytest.approx(full, rel=near)
    free = evaluate(free_sections(project), request, template, middle).objective
    assert abs(free / evaluate(project, request, template, middle).objective - 1.0)[0] > 0.02
