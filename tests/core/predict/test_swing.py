"""The motion of the whole part after it is let go, against the ring-down at the output and against the engine's shapes."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.swing import swing
from core.project import library
from core.project.service import Release

EXAMPLES = ("lab-beam", "touring-ski", "gantry-bracket", "louvre-blade")


@pytest.mark.parametrize("key", EXAMPLES)
def test_the_last_place_moves_as_the_ring_down_says(key):
    project = library.example(key)
    for candidate in project.candidates:
        shown = predict(project, candidate.id)
        moved, ring = swing(shown.solved, shown.ring_down), shown.ring_down
        for decay, curve in ((moved.before, ring.before), (moved.after, ring.after)):
            told = decay.analytic(0.0, float(ring.time_s[1]), len(ring.time_s)).real[-1]
            assert told == pytest.approx(curve, abs=1e-12 * float(np.abs(curve).max()))


def test_a_release_starts_from_the_static_bend_of_a_tip_force():
    """Uniform cantilever bent by a force at its tip: w = d (3 x^2 L - x^3)/(2 L^3) (elementary beam theory);
    seven modes and more leave under 0.1 % of it. The strip is bare."""
    project = library.example("lab-beam")
    bare = replace(project.candidate("A"), patches=(), groups=())
    load = project.service.loads[project.service.active_load]
    assert isinstance(load, Release) and load.deflection_m == 0.005
    free = replace(project.structure, level="plain")  # where a part bends as a line
    shown = predict(replace(project, candidates=(bare,), active="A", structure=free))
    moved = swing(shown.solved, shown.ring_down)
    length = float(moved.x_m[-1])
    expected = 0.005 * (3 * moved.x_m**2 * length - moved.x_m**3) / (2 * length**3)
    assert moved.before.amplitude.sum(axis=-1).real[:-1] == pytest.approx(expected, abs=5e-6)
    assert moved.largest == pytest.approx(0.005, rel=2e-3)
    assert moved.f_hz == pytest.approx(shown.modes[0].f_short_hz, rel=1e-4)


def test_what_is_let_go_keeps_its_root_where_it_is_clamped():
    shown = predict(library.example("lab-beam"))
    moved = swing(shown.solved, shown.ring_down)
    assert np.abs(moved.after.analytic(0.0, 1e-3, 500)[0]).max() == pytest.approx(0.0, abs=1e-12)
