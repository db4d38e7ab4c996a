"""Maps and searches find the published best places of a patch on a uniform cantilever.

Thin limit: K_n^2 = (g^2/(C' EI)) J_n with J_n = Delta_n^2/(l lambda_n^4), Delta_n the difference of
the slope of mode n between the patch's ends (tip value 2). Problem of Ducarne J., Thomas O. & Deue
J.-F. 2012, Placement and dimension optimization of shunted piezoelectric patches for vibration
reduction, J. Sound Vib. 331, 3286-3303 (from memory; the thin limit is worked out here). The
optimum is flat, so the figure of merit is held, and the place to a step of the map.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Tuning
from core.project.structure import Damping
from core.study.placement.maps import default_request, placement_map
from core.study.search.goals import Goal, Limits, SearchRequest
from core.study.search.search import search
from tests.levels import together
from tests.published.build import EPS0, UNIT, ceramic, group, package, place, project, unit_beam

T = 1e-6
D31, S11, EPS_R = 1e-3, 1e3, 1e9
"""A patch a millionth as thick as the beam: nothing but its slope difference counts."""
MERIT = (EPS_R * EPS0 - D31**2 / S11) / T / (D31 / S11 * 0.5) ** 2
"""J_n over K_n^2 for EI = 1: capacitance per length over (moment per volt)^2."""


def thin_scene():
    plate = package(ceramic(s11e=S11, d31=D31, eps_r=EPS_R, rho=1e-3), 0.1, 1.0, T)
    return project(unit_beam(), [UNIT], [plate], [place(plate, 0.0)], [group("P1")])


def merit_map(mode: int, starts, lengths):
    """J of one mode over starts and lengths."""
    made = thin_scene()
    request = default_request(made, "P1", quantity="coupling", mode=mode, shape=(2, 2))
    request = dataclasses.replace(
        request, x_start_m=tuple(map(float, starts)), size_m=tuple(map(float, lengths))
    )
    found = placement_map(made, request)
    return found, found.values * MERIT


@pytest.mark.parametrize(
    ("mode", "start", "merit"),
    [(1, 0.0, 0.3468420463), (2, 0.0, 0.2318514466), (3, 0.659288, 0.2197377907),
     (4, 0.743042, 0.2095318484), (5, 0.789446, 0.197871583)],
)  # fmt: skip
def test_the_map_finds_the_best_place_of_a_short_patch(mode, start, merit):
    """0.1 L long: modes 1 and 2 at the root, modes 3 to 5 at the outermost curvature antinode."""
    found, values = merit_map(mode, np.linspace(0.0, 0.9, 181), [0.1])
    assert found.across_m[found.best[0]] == pytest.approx(start, abs=0.005)
    assert np.nanmax(values) == pytest.approx(merit, rel=1e-3)


@pytest.mark.parametrize(
    ("mode", "starts"),
    [(2, [0, 0.479733]), (3, [0, 0.258043, 0.659288]), (4, [0, 0.170593, 0.449417, 0.743042]),
     (5, [0, 0.121874, 0.338657, 0.56088, 0.789446])],
)  # fmt: skip
def test_the_map_shows_every_local_maximum(mode, starts):
    found, values = merit_map(mode, np.linspace(0.0, 0.9, 181), [0.1])
    line = np.concatenate([[-1.0], values[:, 0], [-1.0]])
    peaks = found.across_m[(line[1:-1] > line[:-2]) & (line[1:-1] > line[2:])]
    # The last start, patch flush with the tip, may end in a rise of the coupling of a higher mode.
    assert peaks[: len(starts)] == pytest.approx(starts, abs=0.005)


@pytest.mark.parametrize(
    ("mode", "start", "length", "merit"),
    [(1, 0.0, 0.510457, 0.8756041603), (2, 0.28978, 0.518445, 0.659669885),
     (3, 0.550791, 0.331679, 0.4644741619), (4, 0.679985, 0.236145, 0.3293690575)],
)  # fmt: skip
def test_the_map_finds_the_best_place_and_length(mode, start, length, merit):
    """The best patch spans the outermost strain lobe, a little shorter than it."""
    starts = np.linspace(max(start - 0.1, 0.0), start + 0.1, 41)
    found, values = merit_map(mode, starts, np.linspace(length - 0.1, length + 0.1, 41))
    i, j = found.best
    assert (found.across_m[i], found.size_m[j]) == pytest.approx((start, length), abs=0.0051)
    assert np.nanmax(values) == pytest.approx(merit, rel=1e-3)
    assert found.at_edge == ()


@pytest.mark.parametrize(("mode", "start", "length"), [(2, 0.28978, 0.518445), (3, 0.550791, 0.331679)])
def test_the_search_finds_them_too(mode, start, length):
    """With a resistor on a ceramic without mass, a thousandth as thick as the beam, searched over start
    and length: the damping of the printed place is met, and the place itself to 0.005."""
    plate = package(ceramic(rho=1e-3), 0.3, 1.0, 1e-3)
    circuit = Circuit("resistor", {}, Tuning(mode, "optimum"))
    made = project(
        replace(unit_beam(), damping=Damping((1e-9,))), [("unit", 12e9, 1.0)], [plate],
        [place(plate, start, length=length)], [group("P1", circuit=circuit)],
    )  # fmt: skip
    printed = predict(made).modes[mode - 1].zeta
    limits = Limits((plate.name,), length_m=(0.1, 0.8), strain_margin=0.0)
    best = search(made, SearchRequest(Goal("damping", mode), limits, wanted=1)).found[0]
    patch = best.candidate.patches[0]
    assert best.zeta[mode - 1] == pytest.approx(printed, rel=2e-3)
    assert best.zeta[mode - 1] >= printed * (1 - 1e-4)
    assert (patch.x_start_m, patch.length_m) == pytest.approx((start, length), abs=0.005)
    assert best.binding == ()


@pytest.mark.parametrize("key", ["lab-beam", "touring-ski", "gantry-bracket", "half-board"])
def test_mode_1_is_best_at_the_clamp(key):
    """Common practice, no source: whatever the part, the first allowed place is the best for mode 1."""
    made = together(library.example(key))
    found = placement_map(made, default_request(made, "P1", quantity="coupling", mode=1, shape=(60, 3)))
    j = found.best[1]
    allowed = np.flatnonzero(found.reason[:, j] < 0)
    assert found.best[0] == allowed[0]


def test_the_optimum_in_thickness_is_flat():
    """Common practice, no source: a ceramic half or one and a half times as thick as the best for
    mode 1 loses little; the best is a fair part of the part's own thickness."""
    made = together(library.example("lab-beam"))
    request = default_request(made, "P1", quantity="coupling", mode=1, axis="thickness", shape=(2, 2))
    sizes = tuple(float(t) for t in np.linspace(0.1e-3, 1.5e-3, 57))
    found = placement_map(made, dataclasses.replace(request, x_start_m=(0.005,), size_m=sizes))
    line = found.values[0]
    best = found.size_m[found.best[1]]
    assert 0.15 < best / 0.002 < 0.4
    assert np.interp([0.6 * best, 1.5 * best], found.size_m, line).min() > 0.85 * line.max()
    inside = found.size_m[found.band[0]]
    assert inside[-1] / inside[0] > 1.8


def test_the_optimum_in_length_is_flat():
    """Common practice, no source: for mode 1 from the clamp about half the span, and a third less
    loses little."""
    made = together(library.example("lab-beam"))
    request = default_request(made, "P1", quantity="coupling", mode=1, shape=(2, 2))
    sizes = tuple(float(n) for n in np.linspace(0.02, 0.28, 53))
    found = placement_map(made, dataclasses.replace(request, x_start_m=(0.005,), size_m=sizes))
    best = found.size_m[found.best[1]]
    assert 0.4 < best / 0.3 < 0.65
    assert np.interp(0.67 * best, found.size_m, found.values[0]) > 0.88 * found.values[0].max()
