"""A driven patch as its own pick-up."""

import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.use.bridge import bridge, feed_through
from core.project.use import Drive
from tests.core.predict.scenes import lab


def found(drive=Drive(amplitude_v=60.0), per_kelvin=None, **service):
    project = replace(lab(), drive=drive)
    if per_kelvin is not None:
        package = project.packages[0]
        constant = replace(package.ceramic.eps33t_relative, per_kelvin=per_kelvin)
        package = replace(package, ceramic=replace(package.ceramic, eps33t_relative=constant))
        project = replace(project, packages=(package, *project.packages[1:]))
    project = replace(project, service=replace(project.service, **service))
    group = predict(project).groups[0]
    return bridge(group.driving, group.sensing), group


def test_a_mismatch_lets_a_quarter_of_its_share_through():
    """V e/4 to first order; nothing of a balanced one."""
    made, _ = found(Drive(amplitude_v=60.0, mismatch=0.001))
    assert made.feed_v == pytest.approx(60.0 * 0.001 / 4, rel=2e-3)
    assert found(Drive(mismatch=0.0))[0].feed_v == pytest.approx(0.0, abs=1e-9)
    assert feed_through(10.0, 1.0, 3.0, 1.0) == pytest.approx(2.5)


def test_temperature_unbalances_by_the_permittivity():
    made, _ = found(Drive(amplitude_v=60.0, mismatch=0.0), per_kelvin=0.003, cold_c=0.0, reference_c=20.0, hot_c=30.0)
    assert made.cold_feed_v == pytest.approx(60.0 * 0.06 / 4, rel=0.05)
    assert made.hot_feed_v == pytest.approx(60.0 * 0.03 / 4, rel=0.05)
    assert made.cold_feed_v > made.hot_feed_v > made.feed_v


def test_what_is_hidden_is_the_motion_that_makes_as_much():
    made, group = found()
    hidden = made.hidden_m(made.feed_v)
    assert hidden * 0.5 * group.sensing.modes[0].v_per_m == pytest.approx(made.feed_v)


def test_a_reference_that_is_larger_is_balanced_by_a_patch_that_warms():
    """Permittivity 3 per mil a kelvin: 20 K above the reference the patch has grown by the mismatch, as much below twice
    as far apart as cold alone."""
    drive = Drive(amplitude_v=60.0, mismatch=0.06)
    made, _ = found(drive, per_kelvin=0.003, cold_c=0.0, reference_c=20.0, hot_c=40.0)
    assert made.hot_feed_v == pytest.approx(0.0, abs=1e-9) and made.feed_v > 0.5
    assert made.cold_feed_v == pytest.approx(2 * made.feed_v, rel=0.05)
