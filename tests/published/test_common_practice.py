"""Common practice, no source: four sentences every fitter of patches will say, on our examples."""

import msgspec
import numpy as np
import pytest

from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import library
from core.project.service import TipForce
from core.study.placement.position import damping_against_position
from tests.published.build import shape


def test_best_place_of_a_mode_1_damper_is_right_at_the_clamp():
    """On the clamped ski forebody: the nearer to the clamp the better, up to the allowed start next
    to it."""
    strip = damping_against_position(library.example("touring-ski"), "A", "P1", n=60, modes=1)
    allowed = np.flatnonzero(strip.allowed)
    assert strip.zeta[:, 0].argmax() == 0
    assert strip.best_x_m[0] == strip.x_start_m[allowed[0]]
    assert np.all(np.diff(strip.zeta[:, 0]) <= 1e-6)


@pytest.mark.parametrize(
    ("key", "candidate"), [("lab-beam", "A"), ("gantry-bracket", "A"), ("gantry-bracket", "B")]
)
def test_a_passive_module_takes_out_about_half_of_a_lightly_damped_mode(key, candidate):
    """A resistor on a well-placed patch, inherent damping below half a per cent: 30 to 75 % off the
    resonance peak, against the same structure with the patch shorted."""
    made = library.example(key)
    first = predict(made, candidate).modes[0]
    assert first.zeta_inherent < 0.005
    left = 10 ** (first.peak_change_db / 20)
    assert 0.25 < left < 0.7


def test_the_patch_follows_its_drive_voltage():
    """Far below the first resonance the tip moves in phase with the voltage and in proportion: the
    sum over modes at a tenth of f1 is the static deflection to 1 %, whatever the sign."""
    made = library.example("lab-beam")
    beam = solve(made, made.candidate("A"), n_modes=20)
    tip = shape(beam, beam.deflection_row(made.structure.span_m))
    static = -float(beam.group_theta_rows[0] @ beam.deflection_row(made.structure.span_m))
    omega = beam.omega_rad_s[0] / 10
    slow = -float(np.sum(tip * beam.group_theta[:, 0] / (beam.omega_rad_s**2 - omega**2)))
    assert static > 0
    assert slow == pytest.approx(static, rel=0.02)
    assert slow > static


def test_its_voltage_is_proportional_to_the_load():
    """Twice the force, twice the voltage, with any circuit."""
    made = library.example("lab-beam")

    def volts(force: float) -> float:
        service = msgspec.structs.replace(
            made.service, loads=(TipForce("tip", force, (5.0, 500.0)),), active_load=0
        )
        return predict(msgspec.structs.replace(made, service=service), "A").groups[0].voltage_peak_v

    assert volts(2.0) == pytest.approx(2 * volts(1.0), rel=1e-9)
