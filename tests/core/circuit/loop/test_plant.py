"""What a loop closes over is worked out once, whatever the hand moves in the control."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuit.loop.law import Amplifier, Control, Filter, PositionFeedback, Timing, VelocityFeedback
from core.circuit.loop.margins import largest_gain
from core.circuit.loop.plant import plant_of
from tests.core.circuit.loop.scenes import beam

REAL = Amplifier(gain=20.0, bandwidth_hz=2e3, output_ohm=50.0)
SLOW = Timing(delay_s=1e-4, sampling_hz=10e3)
PPF = PositionFeedback((Filter(20.2, 0.15, 0.4), Filter(119.0, 0.1, 0.3)))


def test_a_plant_of_the_same_values_is_the_same_and_of_others_another():
    loop = beam(Control(PPF, REAL, SLOW))
    again = replace(loop.system, theta=loop.system.theta.copy())
    assert plant_of(again, 1, 0, 50.0) is loop.plant
    louder = loop.with_control(Control(VelocityFeedback(1e-4), replace(REAL, gain=3.0), Timing(2e-4)))
    assert louder.plant is loop.plant
    moved = replace(loop.system, theta=1.01 * loop.system.theta)
    assert plant_of(moved, 1, 0, 50.0) is not loop.plant
    assert plant_of(loop.system, 1, 0, 60.0) is not loop.plant
    assert plant_of(loop.system, 0, 1, 50.0) is not loop.plant


@pytest.mark.parametrize("apart_m", [0.0, 0.11])
def test_the_response_on_the_grid_is_that_at_its_points(apart_m):
    plant = beam(Control(PPF, REAL, SLOW), apart_m=apart_m).plant
    some = slice(5, None, 97)
    w = plant.grid_rad_s[some]
    assert plant.on_grid[some] == pytest.approx(plant.response(w), rel=1e-12)
    assert plant.on_grid_as_poles[some] == pytest.approx(plant.response(w, plant.at_mode_rad_s), rel=1e-12)
    # the general solver of three ports and more gives what two by hand do
    system = plant.system
    spread = np.pad(system.theta, [(0, 0), (0, 1)])
    square = [np.pad(a, [(0, 1), (0, 1)]) for a in (system.capacitance_f, system.loss_f)]
    square[0][2, 2] = 1e-9
    third = replace(
        system, theta=spread, capacitance_f=square[0], loss_f=square[1],
        connections=(*system.connections, system.connections[1]),
    )  # fmt: skip
    assert plant_of(third, 1, 0, 50.0).response(w) == pytest.approx(plant.response(w), rel=1e-9)


def test_the_first_crossing_is_the_furthest_of_all():
    """Against every sign change of Im L on a grid ten times as dense, read off by straight lines."""
    rng = np.random.default_rng(5)
    for _ in range(12):
        filters = tuple(
            Filter(float(f * rng.uniform(0.7, 1.4)), float(rng.uniform(0.02, 0.4)), float(rng.uniform(-0.4, 0.6)))
            for f in (20.0, 120.0, 330.0)[: rng.integers(1, 4)]
        )
        timing = Timing(float(rng.uniform(0.0, 2e-3)), 10e3)
        loop = beam(Control(PositionFeedback(filters), REAL, timing), apart_m=float(rng.choice([0.0, 0.1])))
        grid = loop.plant.grid_rad_s
        dense = np.interp(np.linspace(0, len(grid) - 1, 10 * len(grid)), np.arange(len(grid)), grid)
        gain = loop.gain(dense)
        at = np.flatnonzero(np.sign(gain.imag[:-1]) * np.sign(gain.imag[1:]) < 0)
        share = gain.imag[at] / (gain.imag[at] - gain.imag[at + 1])
        real = gain.real[at] + share * (gain.real[at + 1] - gain.real[at])
        least = min([*(-1 / real[real < 0]), *([-1 / gain[0].real] if gain[0].real < 0 else [])], default=np.inf)
        found = largest_gain(loop)
        assert (np.inf if found is None else found.times) == pytest.approx(least, rel=2e-3)
