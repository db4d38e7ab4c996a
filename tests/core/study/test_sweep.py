"""Many placements at once against each one alone."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.ritz import PROMISED, PROMISED_TO_MANY
from core.circuit.registry import CIRCUITS
from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Tuning
from core.project.edit import with_candidate
from core.project.structure import GroundSpring, KeepOut, PointMass, Support
from core.study.layouts import layouts, placed
from core.study.placement.position import damping_against_position
from tests.core.scenes import lab
from tests.levels import beam_example

EXAMPLES = [name for name, _ in library.examples()]
SUPPORTS = [
    ("clamped", "free"),
    ("elastic", "free"),
    ("clamped", "clamped"),
    ("pinned", "pinned"),
    ("free", "free"),
    ("free", "clamped"),
    ("guided", "pinned"),
]


def compare(project, candidate, starts):
    patch = candidate.patches[0]
    found = layouts(project, candidate, placed(candidate, patch.id, starts), 5, accuracy=PROMISED_TO_MANY).beam
    for i, start in enumerate(starts):
        moved = replace(candidate, patches=(replace(patch, x_start_m=float(start)), *candidate.patches[1:]))
        exact = solve(project, moved)
        assert found.omega_rad_s[i, :5] == pytest.approx(exact.omega_rad_s[:5], rel=1e-7)
        clear = exact.group_k2[:5, 0] > 1e-10
        assert found.group_k2[i, :5, 0][clear] == pytest.approx(exact.group_k2[:5, 0][clear], rel=1e-6)
        assert found.modal_capacitance_f[i, :5] == pytest.approx(exact.modal_capacitance_f[:5], rel=1e-7)
        assert found.group_free_f[i] == pytest.approx(exact.group_free_f, rel=1e-9)
        assert found.group_blocked_f[i] == pytest.approx(exact.group_blocked_f, rel=1e-9)
        assert found.added_kg[i] == pytest.approx(exact.added_mass_kg, rel=1e-9)
        share = found.energy.ceramic[i, :, :3]
        assert share == pytest.approx(exact.energy.ceramic[:, :3], rel=1e-5, abs=1e-9)
        # Rayleigh-Ritz: never below the true frequency (within rounding and what the fine one misses).
        assert (found.omega_rad_s[i, :5] > exact.omega_rad_s[:5] * (1 - 1e-9)).all()


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


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example(name):
    project = beam_example(name)
    for candidate in project.candidates:
        last = project.structure.span_m - candidate.patches[0].length_m
        compare(project, candidate, np.linspace(0.02 * last, 0.95 * last, 4))


RULES = [("closed form", "damping"), ("optimum", "damping"), ("optimum", "peak")]


def _of_example_and_kind():
    """In the fast suite a circuit of several branches, which costs seconds an example, on the lab beam alone."""
    for name in EXAMPLES:
        for kind in ("open", *(k for k, entry in CIRCUITS.items() if entry.closed_form)):
            fast = name == "lab-beam" or (name == "gantry-bracket" and (kind == "open" or CIRCUITS[kind].branches < 2))
            yield pytest.param(name, kind, marks=() if fast else pytest.mark.slow)


@pytest.mark.parametrize(("name", "kind"), list(_of_example_and_kind()))
def test_the_strip_shows_what_the_prediction_gives_at_the_same_place(name, kind):
    """Every candidate at random places; the tuned mode and the others, whatever rule the circuit follows."""
    random = np.random.default_rng(3)
    project = beam_example(name)
    for candidate in project.candidates:
        rule, goal = RULES[int(random.integers(len(RULES)))] if kind != "open" else (None, None)
        tuning = None if rule is None else Tuning(int(random.integers(1, 3)), rule, goal)
        candidate = _with_circuit(candidate, Circuit(kind, {}, tuning))
        with_it = with_candidate(project, candidate)
        strip = damping_against_position(with_it, candidate.id, candidate.patches[0].id, n=12)
        for i in random.integers(0, 12, 3):
            there = replace(candidate.patches[0], x_start_m=float(strip.x_start_m[i]))
            moved = replace(candidate, patches=(there, *candidate.patches[1:]))
            found = predict(with_candidate(project, moved), candidate.id)
            zeta = [m.zeta for m in found.modes]
            assert strip.zeta[i, : len(zeta)] == pytest.approx(zeta[:5], rel=_as_near(kind, goal))
            assert strip.k2[i, : len(zeta)] == pytest.approx([m.group_k2[0] for m in found.modes][:5], rel=1e-6)


def _as_near(kind, goal):
    """How far two searches for one optimum may leave the damping apart. Three branches at their lowest peaks, each tuned in
    turn, lie on the floor of a valley: on the half board two searches end 9e-3 apart in a mode's damping and 3e-4 in what
    is sought, the peak (held below)."""
    return 1e-2 if goal == "peak" and CIRCUITS[kind].branches > 2 else 2e-4


@pytest.mark.parametrize("kind", ["current-flowing 3", "series-parallel 2", "series-parallel 3"])
def test_branches_tuned_to_the_lowest_peaks_find_as_low_ones_alone_and_among_many_places(kind):
    project = beam_example("lab-beam")
    candidate = _with_circuit(project.candidate("B"), Circuit(kind, {}, Tuning(2, "optimum", "peak")))
    project, patch = with_candidate(project, candidate), candidate.patches[0].id
    x = np.array([0.004, 0.125])
    tuned = tuple(n - 1 for n in candidate.groups[0].circuit.tuning.modes(CIRCUITS[kind].branches))

    def peaks(x_m, accuracy):
        return layouts(project, candidate, placed(candidate, patch, x_m), 5, accuracy=accuracy).peaks(tuned)

    before, many = peaks(x, PROMISED_TO_MANY)
    assert (many[:, 0] < 0.5 * before[:, 0]).all()
    for i in range(len(x)):
        _, alone = peaks(x[i : i + 1], PROMISED)
        assert many[i] == pytest.approx(alone[0], rel=5e-5)


def _with_circuit(candidate, circuit):
    return replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit), *candidate.groups[1:]))


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
    project = beam_example("touring-ski")
    strip = damping_against_position(project, "A", project.candidate("A").patches[0].id, n=30)
    for size in (strip.tension, strip.compression):
        assert size[0] > 3e-4
        assert size[-1] < size[0]


def test_both_signs_of_the_static_strain_are_those_of_the_limits():
    project = beam_example("touring-ski")
    patch = project.candidate("A").patches[0]
    strip = damping_against_position(project, "A", patch.id, n=30)
    limits = {limit.name: abs(limit.value) for limit in predict(project, "A").limits}
    for curve, name in ((strip.tension, "Tensile strain, static"), (strip.compression, "Compressive strain, static")):
        here = float(np.interp(patch.x_start_m, strip.x_start_m, curve))
        assert here == pytest.approx(limits[name], rel=0.02)


def test_the_best_start_keeps_the_margin_off_the_clamp():
    project = lab()
    patch = project.candidate("A").patches[0]
    strip = damping_against_position(project, "A", patch.id)
    assert len(strip.x_start_m) == 120
    assert strip.best_x_m[0] == project.packages[0].margin_m
    under = strip.x_start_m < project.packages[0].margin_m - 1e-9
    assert under.any() and not strip.allowed[under].any()
    assert "margin past the support line" in strip.reasons[0]
