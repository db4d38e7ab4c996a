"""Many placements at once against each one alone."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.spectrum import mode_damping
from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_candidate
from core.project.model import GroundSpring, KeepOut, PointMass, Support
from core.study.many.sweep import Place, sweep_layouts
from core.study.placement.position import damping_against_position
from tests.core.scenes import lab

SUPPORTS = [
    ("clamped", "free"),
    ("elastic", "free"),
    ("clamped", "clamped"),
    ("pinned", "pinned"),
    ("free", "free"),
    ("free", "clamped"),
    ("guided", "pinned"),
]


def compare(project, candidate, starts, tolerance=1e-3):
    patch = candidate.patches[0]
    places = {patch.id: Place(starts, patch.length_m, patch.width_m)}
    found = sweep_layouts(project, candidate, places, shares=True)
    k2, c_n = found.coupling(0, 5)
    for i, start in enumerate(starts):
        moved = replace(candidate, patches=(replace(patch, x_start_m=float(start)), *candidate.patches[1:]))
        exact = solve(project, moved)
        assert found.omega_rad_s[i, :5] == pytest.approx(exact.omega_rad_s[:5], rel=5e-5)
        clear = exact.group_k2[:5, 0] > 1e-4
        assert k2[i, clear] == pytest.approx(exact.group_k2[:5, 0][clear], rel=tolerance)
        assert c_n[i] == pytest.approx(exact.modal_capacitance_f[:5, 0], rel=1e-3)
        assert found.free_f[i] == pytest.approx(exact.group_free_f, rel=1e-5)
        assert found.blocked_f[i] == pytest.approx(exact.group_blocked_f, rel=1e-9)
        assert found.added_mass_kg[i] == pytest.approx(exact.added_mass_kg, rel=1e-9)
        assert found.ceramic_share[i, :3].sum(axis=-1) == pytest.approx(exact.ceramic_share[:3], rel=6e-3, abs=1e-6)
        # Rayleigh-Ritz: never below the true frequency (within what the fine model itself misses).
        assert (found.omega_rad_s[i, :5] > exact.omega_rad_s[:5] * (1 - 1e-7)).all()


@pytest.mark.parametrize("root, tip", SUPPORTS)
def test_every_support(root, tip):
    project = lab()
    held = {} if root == "free" and tip == "free" else {"springs": (GroundSpring("s", 0.2, 800.0),)}
    structure = replace(
        project.structure,
        root=Support(root, 1e5, 150.0),
        tip=Support(tip),
        masses=(PointMass("m", 0.25, 0.01, 1e-6),),
        **held,
    )
    project = replace(project, structure=structure)
    compare(project, project.candidate("A"), np.array([0.006, 0.083, 0.1511, 0.22]))


@pytest.mark.parametrize("name", [name for name, _ in library.examples()])
def test_every_example(name):
    project = library.example(name)
    for candidate in project.candidates:
        last = project.structure.span_m - candidate.patches[0].length_m
        compare(project, candidate, np.linspace(0.02 * last, 0.95 * last, 4))


@pytest.mark.parametrize("letter", ["A", "C"])
def test_the_strip_shows_the_damping_of_the_single_prediction(letter):
    project = lab()
    candidate = _following(project.candidate(letter), "closed form")
    project = with_candidate(project, candidate)
    strip = damping_against_position(project, letter, candidate.patches[0].id, n=9)
    for i in range(9):
        moved = replace(candidate.patches[0], x_start_m=float(strip.x_start_m[i]))
        exact = replace(candidate, patches=(moved,))
        zeta = mode_damping(coupled_system(solve(project, exact), exact), 5)
        assert strip.zeta[i] == pytest.approx(zeta, rel=2e-3)


def _following(candidate, rule):
    circuit = candidate.groups[0].circuit
    circuit = replace(circuit, tuning=replace(circuit.tuning, rule=rule))
    return replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),))


def test_an_optimum_shows_its_own_damping_at_the_present_place():
    project = lab()
    candidate = _following(project.candidate("C"), "optimum")
    first = damping_against_position(project, "C", candidate.patches[0].id, n=9)
    start = float(first.x_start_m[1])
    candidate = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=start),))
    project = with_candidate(project, candidate)
    strip = damping_against_position(project, "C", candidate.patches[0].id, n=9)
    mode = candidate.groups[0].circuit.tuning.mode - 1
    assert strip.zeta[1, mode] == pytest.approx(predict(project, "C").modes[mode].zeta, rel=2e-3)


def test_the_strip_greys_what_a_keep_out_forbids_and_says_which():
    project = lab()
    zone = KeepOut("label", "top", 0.1, 0.12)
    project = replace(project, structure=replace(project.structure, keep_outs=(zone,)))
    patch = project.candidate("A").patches[0]
    strip = damping_against_position(project, "A", patch.id, n=40)
    over = (strip.x_start_m + patch.length_m > 0.1) & (strip.x_start_m < 0.12)
    assert not strip.allowed[over].any()
    assert all("label" in strip.reasons[i] for i in np.flatnonzero(over))
    assert strip.allowed.any()
    assert strip.allowed[np.searchsorted(strip.x_start_m, strip.best_x_m)].all()


def test_static_strain_falls_away_from_the_clamp():
    project = library.example("touring-ski")
    strip = damping_against_position(project, "A", project.candidate("A").patches[0].id, n=30)
    size = np.abs(strip.static_strain)
    assert size[0] > 3e-4
    assert size[-1] < size[0]


def test_the_best_start_keeps_the_margin_off_the_clamp():
    project = lab()
    patch = project.candidate("A").patches[0]
    strip = damping_against_position(project, "A", patch.id)
    assert len(strip.x_start_m) == 120
    assert strip.best_x_m[0] == project.packages[0].margin_m
    under = strip.x_start_m < project.packages[0].margin_m - 1e-9
    assert under.any() and not strip.allowed[under].any()
    assert "margin past the support line" in strip.reasons[0]
