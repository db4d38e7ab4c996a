"""Modes above those that a loop's poles count."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.loop.loop import Loop
from core.piezo.layout import solve
from core.predict.loop.beyond import beyond
from core.predict.loop.design import loop_view
from core.predict.poles import growths
from core.predict.predict import predict
from core.project.loop import LoopFilter
from core.project.loop_edits import as_closed, with_loop
from tests.app.results.loop_scene import two_groups


def view_of(**changes):
    project = two_groups()
    project = replace(project, structure=replace(project.structure, level="plain"))
    found = loop_view(predict(with_loop(project, **changes)).solved)
    assert found is not None
    return found


def test_a_position_filter_rolls_off_and_nothing_beyond_can_grow():
    found = beyond(view_of(law="position", filters=(LoopFilter(21.0, 0.14, 0.09),)))
    assert found.holds and found.gain < 1e-3 and found.counted > found.kept
    assert "none of them grows" in found.told


def test_a_velocity_loop_with_gain_left_above_is_told_and_more_modes_prove_it():
    view = view_of(law="velocity", velocity_gain_s=3e-5, bandwidth_hz=1e5, delay_s=2e-5, sampling_hz=1e5)
    found = beyond(view)
    assert not found.holds and "may grow" in found.told
    closed = as_closed(view.solved.candidate)
    more = solve(view.solved.project, closed, n_modes=found.counted)
    loop = Loop(coupled_system(more, closed), view.sensing, view.driven, view.loop.control)
    grown = growths(loop.spectra)
    assert any(g.mode is not None and g.mode > found.kept for g in grown)


@pytest.mark.parametrize("gain", [1e-7, 1e-6])
def test_the_loop_gain_beyond_goes_with_the_gain(gain):
    one, two = (beyond(view_of(law="velocity", velocity_gain_s=g)) for g in (gain, 2 * gain))
    assert two.gain == pytest.approx(2 * one.gain, rel=1e-9) and one.mode == two.mode
    assert np.isfinite(one.frequency_hz)
