"""The root stiffness from a measured f1: found again, refused in words, checked with f2 and f3, taken as measured."""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.measured import root
from core.piezo.layout import solve
from core.project.candidate import Candidate
from core.project.structure import Support
from tests.levels import beam_example


@pytest.fixture(scope="module")
def lab():
    return beam_example("lab-beam")


def frequencies(project, state):
    beam = solve(project, Candidate("", "") if state == "bare" else project.candidate())
    omega = beam.omega_rad_s * (np.sqrt(1.0 + beam.k2) if state == "open" else 1.0)
    return tuple((omega[:3] / 2 / np.pi).tolist())


@pytest.mark.parametrize("state", ["bare", "shorted", "open"])
def test_the_stiffness_behind_a_frequency_is_found_again(lab, state):
    true = Support("elastic", 5e8, 100.0)
    measured = frequencies(root.with_root(lab, true), state)
    found = root.find_root(lab, measured, state=state)
    assert found.k_r_nm_rad == pytest.approx(100.0, rel=2e-3)
    assert found.low_nm_rad < 100.0 < found.high_nm_rad
    assert [check.mode for check in found.checks] == [2, 3]
    assert all(check.explained and abs(check.off) < 1e-4 for check in found.checks)


def test_fifty_times_the_stiffness_of_the_span_takes_four_per_cent(lab):
    # frequencies of a uniform strip on k_r L/EI = 50 against the rigid clamp, -3.8, -3.6, -3.4 %:
    # roots of the exact equation of the uniform beam
    rigid = frequencies(lab, "bare")
    found = root.find_root(lab, (0.962 * rigid[0], 0.964 * rigid[1], 0.966 * rigid[2]), state="bare")
    assert found.clamping == pytest.approx(50.0, rel=0.02)
    assert "f1 −3.8 % against a rigid clamp" in root.root_text(found)
    assert root.against_rigid(root.with_root_found(lab, found))[0] == pytest.approx(-0.038, abs=5e-4)


def test_the_range_comes_from_the_uncertainty(lab):
    f1 = 0.95 * frequencies(lab, "bare")[0]
    narrow, wide = (root.find_root(lab, (f1,), state="bare", uncertainty=u) for u in (1e-3, 1e-2))
    assert wide.low_nm_rad < narrow.low_nm_rad < narrow.k_r_nm_rad < narrow.high_nm_rad < wide.high_nm_rad
    # f falls by about 1/kappa, so that 0.1 % of f is 0.1 % * kappa of the stiffness
    assert narrow.tolerance == pytest.approx(1e-3 * narrow.clamping / 2, rel=0.3)


def test_above_the_rigid_clamp_is_refused_with_what_to_look_at(lab):
    rigid = frequencies(lab, "bare")[0]
    with pytest.raises(root.RootError) as refused:
        root.find_root(lab, (1.02 * rigid,), state="bare")
    for word in ("2.0 % above the rigid clamp", "mass", "modulus", "span"):
        assert word in str(refused.value)
    within = root.find_root(lab, (rigid * (1 + 5e-4),), state="bare")
    assert math.isinf(within.high_nm_rad) and within.tolerance is None
    assert "at least" in root.root_text(within)


def test_a_check_that_the_root_does_not_explain_says_so(lab):
    soft = frequencies(root.with_root(lab, Support("elastic", 5e8, 100.0)), "bare")
    found = root.find_root(lab, (soft[0], 1.04 * soft[1]), state="bare")
    assert not found.checks[0].explained
    assert "+4.0 %" in root.check_text(found.checks[0]) and "modulus" in root.check_text(found.checks[0])


@pytest.mark.parametrize("f1", [None, 0.0, -3.0, math.nan, math.inf, 0.05])
def test_no_frequency_and_one_below_a_hinge_are_refused(lab, f1):
    with pytest.raises(root.RootError):
        root.find_root(lab, (f1,), state="bare")


def test_a_root_that_is_free_by_intent_is_not_found(lab):
    free = replace(lab, structure=replace(lab.structure, root=Support("free")))
    with pytest.raises(root.RootError, match="free"):
        root.find_root(free, (20.0,))


def test_what_is_taken_is_marked_as_measured_with_its_range(lab):
    found = root.find_root(lab, (0.95 * frequencies(lab, "bare")[0],), state="bare")
    taken = root.with_root_found(lab, found)
    origin = taken.origins["structure.root.k_r_nm_rad"]
    assert taken.structure.root == found.support
    assert origin.status == "measured" and "f1 = " in origin.source and origin.tolerance == found.tolerance
    assert "structure.root.kind" not in taken.origins
