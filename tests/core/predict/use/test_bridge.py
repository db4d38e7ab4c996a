"""A driven patch as its own pick-up."""

import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.use.bridge import bridge, feed_through
from core.project.candidate import Member
from core.project.edit import with_candidate
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
    """By so much as the loose patch's capacitance moves, of which the bonded one is the smaller."""
    made, group = found(Drive(amplitude_v=60.0, mismatch=0.0), per_kelvin=0.003, cold_c=0.0, reference_c=20.0, hot_c=30.0)
    loose = group.unbonded_capacitance_f / group.free_capacitance_f
    assert made.cold_feed_v == pytest.approx(60.0 * 0.06 * loose / 4, rel=0.05)
    assert made.hot_feed_v == pytest.approx(60.0 * 0.03 * loose / 4, rel=0.05)
    assert made.cold_feed_v > made.hot_feed_v > made.feed_v


def test_what_is_hidden_is_the_motion_that_makes_as_much():
    made, group = found()
    hidden = made.hidden_m(made.feed_v)
    assert hidden * 0.5 * group.sensing.modes[0].v_per_m == pytest.approx(made.feed_v)


@pytest.mark.parametrize("wiring", ["parallel", "series"])
def test_every_ceramic_of_a_group_counts_by_its_share_over_temperature(wiring):
    """One that holds and one that does not, against the group solved at that temperature with nothing else that changes."""
    project = lab()
    package = project.packages[0]
    still = replace(package.ceramic, **{k: replace(getattr(package.ceramic, k), per_kelvin=0.0) for k in ("d31_c_n", "eps33t_relative", "s11e_1_pa")})
    moving = replace(still, name="other", eps33t_relative=replace(still.eps33t_relative, per_kelvin=0.003))
    thin = replace(package, name="other", ceramic=moving, ceramic_thickness_m=0.5 * package.ceramic_thickness_m)
    materials = tuple(replace(m, youngs_modulus_pa=replace(m.youngs_modulus_pa, per_kelvin=0.0)) for m in project.materials)
    candidate = project.candidate()
    first = candidate.patches[0]
    second = replace(first, id="P2", package="other", x_start_m=0.12)
    group = replace(candidate.groups[0], members=(Member("P1"), Member("P2")), wiring=wiring)
    project = with_candidate(
        replace(project, packages=(replace(package, ceramic=still), thin, *project.packages[1:]), materials=materials),
        replace(candidate, patches=(first, second), groups=(group,)),
    )
    project = replace(project, drive=Drive(amplitude_v=60.0, mismatch=0.0), service=replace(project.service, cold_c=10.0, reference_c=20.0, hot_c=30.0))
    here, warm = predict(project).groups[0], predict(project, temperature_c=30.0).groups[0]
    ratio = warm.free_capacitance_f / here.free_capacitance_f
    expected = feed_through(60.0, ratio, 1.0, 1.0)
    assert bridge(here.driving, here.sensing).hot_feed_v == pytest.approx(expected, rel=0.05)


def test_a_reference_that_is_larger_is_balanced_by_a_patch_that_warms():
    """Where the patch has grown by the mismatch nothing is left, as far below the reference twice as much as at it."""
    per_kelvin, kelvins = 0.003, 15.0
    _, group = found(per_kelvin=per_kelvin)
    grown = per_kelvin * kelvins * group.unbonded_capacitance_f / group.free_capacitance_f
    made, _ = found(Drive(amplitude_v=60.0, mismatch=grown), per_kelvin=per_kelvin, cold_c=20.0 - kelvins, reference_c=20.0, hot_c=20.0 + kelvins)
    assert made.feed_v > 0.5 and made.hot_feed_v == pytest.approx(0.0, abs=1e-6)
    assert made.cold_feed_v == pytest.approx(2 * made.feed_v, rel=0.05)
