"""Maps against the single prediction, their masks and bands, and the ways to run them."""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.electrics.electrode import LEAST_USE, use_remark
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Group, Member, Tuning
from core.project.edit import with_candidate, with_package, with_patch, with_view
from core.project.structure import KeepOut
from core.study.placement.map_values import AXES, QUANTITIES
from core.study.placement.maps import BAND, default_request, placement_map
from tests.core.scenes import lab


def placed(project, request, i, j):
    """The project with the patch at a cell of the map."""
    candidate = project.candidate(request.candidate)
    patch, size = candidate.patches[0], request.size_m[j]
    changes = {"length": {"length_m": size}, "width": {"width_m": size}, "thickness": {}}[request.axis]
    if request.axis == "thickness":
        package = replace(project.package(patch.package), name="cut", ceramic_thickness_m=size)
        project, changes = with_package(project, package), {"package": "cut"}
    moved = replace(patch, x_start_m=request.x_start_m[i], **changes)
    return with_candidate(project, replace(candidate, patches=(moved,)))


def exact_value(project, quantity, mode):
    if quantity == "electrode use":
        return solve(project, project.candidate()).electrode_use[mode - 1]
    found = predict(project)
    if quantity == "strain margin":
        return min(limit.margin for limit in found.limits if limit.name.endswith("strain, static"))
    result = found.modes[mode - 1]
    return {"damping": result.zeta, "coupling": result.k2, "peak change": result.peak_change_db}[quantity]


def closed_form(project):
    candidate = project.candidate()
    circuit = candidate.groups[0].circuit
    circuit = replace(circuit, tuning=replace(circuit.tuning, rule="closed form"))
    group = replace(candidate.groups[0], circuit=circuit)
    return with_candidate(project, replace(candidate, groups=(group,)))


@pytest.mark.parametrize("axis", list(AXES))
@pytest.mark.parametrize("quantity", list(QUANTITIES))
def test_cells_agree_with_the_single_prediction(quantity, axis):
    """Damping and K^2 within 0.2 %, electrode use 0.6 %, margins 0.2 %, peaks within 0.03 dB: the peak
    is that of the response, not an estimate from the damping."""
    project = with_view(closed_form(lab()), before="patch shorted")
    request = default_request(project, "P1", quantity=quantity, axis=axis, mode=2, shape=(6, 3))
    found = placement_map(project, dataclasses.replace(request, respect_limits=False))
    tolerance = {"electrode use": 6e-3, "strain margin": 2e-3}.get(quantity, 2e-3)
    for i, j in ((0, 0), (2, 1), (3, 1)):
        assert found.reason[i, j] < 0
        exact = exact_value(placed(project, request, i, j), quantity, 2)
        absolute = 0.03 if quantity == "peak change" else 2e-6
        assert found.values[i, j] == pytest.approx(exact, rel=tolerance, abs=absolute)


def test_the_best_and_its_band():
    project = lab()
    found = placement_map(project, default_request(project, "P1", mode=1, shape=(30, 8)))
    values = np.where(np.isfinite(found.values), found.values, 0.0)
    assert found.best_value == values.max()
    assert (found.band == (values >= (1.0 - BAND) * values.max())).all()
    assert found.across_m[found.best[0]] == 0.004  # the margin just clears the clamp
    assert found.present == (project.candidate().patches[0].x_start_m, 0.05)
    assert found.done == 1.0


def test_an_optimum_at_the_edge_of_the_map_says_so():
    project = lab()
    request = default_request(project, "P1", mode=1, shape=(12, 4))
    found = placement_map(project, dataclasses.replace(request, size_m=(0.02, 0.03, 0.04)))
    assert found.at_edge == ("the largest ceramic length mapped, 40 mm",)
    later = dataclasses.replace(request, x_start_m=tuple(np.linspace(0.05, 0.2, 6)))
    assert "the smallest start mapped, 50 mm" in placement_map(project, later).at_edge


def test_masked_cells_say_why():
    project = library.example("touring-ski")
    found = placement_map(project, default_request(project, "P1", mode=1, shape=(41, 9)))
    reasons = {found.reason_at(i, j) for i in range(41) for j in range(9)}
    assert any('keep-out "plate screws"' in r for r in reasons)
    assert any('keep-out "graphic window"' in r for r in reasons)
    assert "past the tip at 800.0 mm" in reasons
    assert np.isnan(found.values[found.reason >= 0]).all()
    assert np.isfinite(found.values[found.reason < 0]).all()
    start = found.across_m[found.best[0]]
    assert start > 0.012


def test_a_turned_package_meets_a_corner_zone():
    """A zone that covers half the width: only cells whose package reaches it are masked."""
    project = lab()
    corner = ((0.1, 0.008), (0.14, 0.008), (0.14, 0.02), (0.1, 0.02))
    zone = KeepOut("via", "top", 0.1, 0.14, corner)
    project = replace(project, structure=replace(project.structure, keep_outs=(zone,)))
    request = default_request(project, "P1", axis="width", mode=1, shape=(31, 3))
    found = placement_map(project, dataclasses.replace(request, size_m=(0.006, 0.025)))
    via = [i for i, reason in enumerate(found.reasons) if "via" in reason]
    assert len(via) == 1
    narrow, wide = (found.reason[:, j] == via[0] for j in (0, 1))
    assert not narrow.any()
    assert wide.any()


def test_static_strain_beyond_the_limit_masks():
    project = lab()
    forces = tuple(replace(f, force_n=10.0 * f.force_n) for f in project.service.static_forces)
    project = replace(project, service=replace(project.service, static_forces=forces))
    found = placement_map(project, default_request(project, "P1", mode=1, shape=(20, 3)))
    assert "static strain" in found.reason_at(0, 1)
    assert found.across_m[found.best[0]] > 0.1


def test_executor_partial_results_and_cancel():
    project = lab()
    request = default_request(project, "P1", mode=1, shape=(40, 12))
    plain = placement_map(project, request)
    parts = []
    with ThreadPoolExecutor(2) as pool:
        spread = placement_map(project, request, executor=pool, on_partial=parts.append)
    assert np.array_equal(plain.values, spread.values, equal_nan=True)
    assert np.array_equal(plain.reason, spread.reason)
    assert plain.reasons == spread.reasons
    assert [p.done for p in parts] == sorted(p.done for p in parts)
    assert parts and all(np.isfinite(p.values).any() and p.done < 1.0 for p in parts)
    assert placement_map(project, request, cancelled=lambda: True) is None


def test_requests_that_make_no_sense_are_refused_in_words():
    project = lab()
    request = default_request(project, "P1", quantity="strain margin", mode=1, shape=(4, 3))
    bare = replace(project, service=replace(project.service, static_forces=()))
    with pytest.raises(ValueError, match="no static force"):
        placement_map(bare, request)
    with pytest.raises(ValueError, match="No mode has a weight"):
        placement_map(project, dataclasses.replace(request, quantity="damping", weights=(0.0, 0.0)))
    with pytest.raises(KeyError):
        placement_map(project, dataclasses.replace(request, patch="P9"))


def test_a_patch_over_a_strain_node_is_told_to_move():
    """The electrode use falls below 0.7 where the curvature changes sign under the patch."""
    project = lab()
    request = default_request(project, "P1", quantity="electrode use", mode=2, shape=(40, 3))
    found = placement_map(project, dataclasses.replace(request, size_m=(0.05,)))
    node = int(np.abs(found.across_m + 0.025 - 0.2166 * 0.3).argmin())
    assert found.values[node, 0] < LEAST_USE
    assert "shorten, move or split" in use_remark(found.values[node, 0])
    assert use_remark(found.best_value) == ""


@pytest.mark.parametrize("axis", ["thickness", "width"])
def test_a_map_over_length_has_the_values_of_single_predictions(axis):
    project = library.example("lab-beam")
    patch = project.candidate().patches[0]
    request = default_request(project, "P1", mode=1, axis=axis, over="length", shape=(4, 3))
    found = placement_map(project, request)
    assert found.present[0] == patch.length_m
    for i, length in enumerate(request.length_m):
        for j, size in enumerate(request.size_m):
            if found.reason_at(i, j):
                continue
            changed = replace(patch, length_m=length)
            made = project
            if axis == "width":
                changed = replace(changed, width_m=size)
            else:
                package = replace(project.package(patch.package), ceramic_thickness_m=size)
                made = replace(project, packages=tuple(package if p.name == package.name else p for p in project.packages))
            made = with_patch(made, made.active, changed)
            assert found.values[i, j] == pytest.approx(predict(made).modes[0].zeta, rel=1e-3)


@pytest.mark.parametrize("rule", ["closed form", "optimum"])
def test_a_map_gives_what_the_prediction_gives_whatever_mode_the_circuits_are_tuned_on(rule):
    """Two groups, one on a mode far above the one mapped: as many modes are kept as the prediction keeps."""
    project = library.example("lab-beam")
    candidate = project.candidate("A")
    first = candidate.patches[0]
    other = replace(first, id="PX", x_start_m=first.x_start_m + 0.4 * project.structure.span_m)
    groups = tuple(
        Group(f"G{mode}", (Member(patch.id),), circuit=Circuit("series R-L", {}, Tuning(mode, rule)))
        for patch, mode in ((first, 9), (other, 2))
    )
    candidate = replace(candidate, patches=(first, other), groups=groups)
    project = with_view(with_candidate(project, candidate), modes_shown=3)
    request = dataclasses.replace(
        default_request(project, first.id, mode=2, shape=(2, 2)),
        x_start_m=(first.x_start_m,), size_m=(first.length_m,), respect_limits=False,
    )  # fmt: skip
    found = placement_map(project, request)
    assert found.values[0, 0] == pytest.approx(predict(project, candidate.id).modes[1].zeta, rel=1e-5)
