"""Frequency and damping from records of known truth: three ways, their spread, their doubts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from core.measured import damping
from core.measured.halfpower import half_power
from core.measured.modes import identify_decay, identify_response
from core.measured.quality import doubts_of, sensor_shift
from core.measured.record import Block, Channel, MeasuredError, Recording
from core.measured.response import response_function
from tests.core.measured.simulated import decay

F, ZETA, SWING = (19.07, 114.9, 314.0), (0.0035, 0.0024, 0.003), (5e-3, 1e-3, 4e-4)
EXPECTED = (19.78, 118.8, 323.7)


# ---- closed forms ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # delta = 2 pi zeta/sqrt(1 - zeta^2) and the amplitude ratio after ten cycles, exact arithmetic
    ("zeta", "delta", "ten_cycles"),
    [(0.001, 0.00628318844877, 0.939101337922), (0.01, 0.0628349949001, 0.533471330075), (0.1, 0.6314838834, 0.00180925732788)],
)
def test_the_decrement_is_exact(zeta, delta, ten_cycles):
    assert damping.ratio_of_decrement(delta) == pytest.approx(zeta, rel=1e-9)
    assert damping.ratio_of_decrement(damping.decrement(1.0, ten_cycles, 10)) == pytest.approx(zeta, rel=1e-8)


@pytest.mark.parametrize(
    # half-power points of the receptance of fn = 1: f^2 = 1 - 2 zeta^2 -/+ 2 zeta sqrt(1 - zeta^2), exact
    ("zeta", "low", "high"),
    [(0.001, 0.998998498998, 1.000998501), (0.01, 0.989848978393, 1.00985097909), (0.1, 0.883743465367, 1.08581650725)],
)
def test_the_half_power_points_are_exact(zeta, low, high):
    assert damping.ratio_of_half_power(low, high, 1.0) == pytest.approx(zeta, rel=2e-7)
    f = np.linspace(0.5, 1.5, 200_001)
    found = half_power(f, 1 / np.abs(1 - f**2 + 2j * zeta * f), f[1] - f[0], 0.6, 1.4)
    assert (found.low_hz, found.high_hz) == pytest.approx((low, high), rel=1e-6)
    assert found.zeta == pytest.approx(zeta, rel=1e-3)


def test_an_exponential_window_adds_its_damping():
    assert damping.window_damping(0.5, 20.0) == pytest.approx(1 / (0.5 * 2 * math.pi * 20.0))


# ---- free decay --------------------------------------------------------------------------------


@pytest.mark.parametrize("expected", [(), EXPECTED])
def test_three_modes_at_40_db_come_out_of_one_record(expected):
    found = identify_decay(decay(F, ZETA, SWING), expected_hz=expected)
    assert [m.number for m in found.modes] == [1, 2, 3]
    for mode, f, zeta in zip(found.modes, F, ZETA, strict=True):
        assert mode.fit.f_hz == pytest.approx(f, rel=1e-4)
        assert mode.fit.zeta == pytest.approx(zeta, rel=0.03)
        assert mode.decrement.zeta == pytest.approx(zeta, rel=0.05)


@pytest.mark.parametrize("seeds", [range(8), pytest.param(range(200), marks=pytest.mark.slow)])
def test_frequency_and_damping_are_unbiased_over_noise(seeds):
    rows, said = [], []
    for seed in seeds:
        found = identify_decay(decay(F, ZETA, SWING, length_s=6.0, rate_hz=2000.0, seed=seed), expected_hz=EXPECTED)
        rows.append([(m.f_hz, m.zeta) for m in found.modes])
        said.append([(m.best.u_f_hz, m.best.u_zeta) for m in found.modes])
    truth = np.stack([F, ZETA], axis=1)
    off = np.array(rows) / truth - 1.0
    assert np.abs(off[..., 0]).max() < 1e-3 and np.abs(off[..., 1]).max() < 0.05
    spread, mean = off.std(axis=0, ddof=1), off.mean(axis=0)
    assert (np.abs(mean) < 4 * spread / math.sqrt(len(rows)) + 1e-7).all()
    if len(rows) >= 100:  # the deviation told is the one that comes
        ratio = np.mean(said, axis=0) / truth / spread
        assert (ratio > 0.7).all() and (ratio < 1.6).all()


def test_a_short_record_costs_the_fit_no_bias_and_is_told():
    block = decay(F[:1], (0.001,), (1e-3,), length_s=3.0)
    found = identify_decay(block, expected_hz=EXPECTED[:1])
    (mode,) = found.modes
    assert mode.zeta == pytest.approx(0.001, rel=0.05) and mode.time_constants < 1
    assert mode.half_power is None or mode.half_power.doubt
    codes = {d.code: d.text for d in doubts_of(None, block, found)}
    assert "under six" in codes["short"] and "Record 50" in codes["short"]


def test_an_exponential_window_is_taken_off():
    block = decay(F, ZETA, SWING)
    tau = 1.5
    (channel,) = block.channels
    windowed = replace(block, channels=(replace(channel, values=channel.values * np.exp(-block.axis / tau)),))
    found = identify_decay(windowed, expected_hz=EXPECTED, exponential_window_s=tau)
    assert [m.zeta for m in found.modes] == pytest.approx(ZETA, rel=0.05)
    raw = identify_decay(windowed, expected_hz=EXPECTED)
    assert raw.modes[0].zeta == pytest.approx(ZETA[0] + 1 / (tau * 2 * math.pi * F[0]), rel=0.02)
    assert any(d.code == "exponential window" for d in doubts_of(None, windowed, found))


def amplitude_dependent(zeta_small=0.0064, zeta_large=0.0100, f=12.0, rate=1000.0, length=14.0):
    """An envelope that decays at one rate above 1 mm and at another below, as a laboratory test found."""
    t = np.arange(round(length * rate)) / rate
    w = 2 * np.pi * f
    cross = math.log(5e-3 / 1e-3) / (zeta_large * w)
    log = np.where(t < cross, math.log(5e-3) - zeta_large * w * t, math.log(1e-3) - zeta_small * w * (t - cross))
    noise = np.random.default_rng(1).standard_normal(len(t)) * 1e-6
    return Block("time", (Channel("tip", np.exp(log) * np.cos(w * t) + noise, "m"),), 0.0, 1 / rate)


def test_damping_that_depends_on_the_swing_is_a_finding():
    block = amplitude_dependent()
    found = identify_decay(block, count=1)
    line = found.modes[0].line
    assert line.zeta_large == pytest.approx(0.0100, rel=0.05) and line.zeta_small == pytest.approx(0.0064, rel=0.05)
    assert line.bend_swing == pytest.approx(1e-3, rel=0.3)
    (told,) = [d for d in doubts_of(None, block, found) if d.code == "amplitude"]
    assert "1.0" in told.text and "0.6" in told.text and "mm" in told.text


def test_a_straight_envelope_does_not_bend():
    for seed in range(6):
        found = identify_decay(decay(F, ZETA, SWING, seed=seed), expected_hz=EXPECTED)
        assert all(m.line.bend_swing is None for m in found.modes)


def test_nothing_that_swings_is_refused_in_words():
    noise = np.random.default_rng(0).standard_normal(4000)
    for values in (np.zeros(4000), noise, noise[:70]):
        with pytest.raises(MeasuredError, match=r"[Rr]ecord|swings"):
            identify_decay(Block("time", (Channel("tip", values, "m"),), 0.0, 1e-3))


# ---- quality -----------------------------------------------------------------------------------


def test_a_clipped_record_is_told_and_a_release_that_holds_still_is_not():
    block = decay(F, ZETA, SWING)
    (channel,) = block.channels
    clipped = replace(block, channels=(replace(channel, values=np.clip(channel.values, -2e-3, 2e-3)),))
    found = identify_decay(clipped, expected_hz=EXPECTED)
    assert "clipped" in {d.code for d in doubts_of(None, clipped, found)}
    held = np.concatenate([np.full(2000, channel.values[0]), channel.values])
    released = replace(block, channels=(replace(channel, values=held),))
    found = identify_decay(released, expected_hz=EXPECTED)
    assert "clipped" not in {d.code for d in doubts_of(None, released, found)}
    assert found.modes[0].zeta == pytest.approx(ZETA[0], rel=0.03)


def test_a_double_hit_is_told_and_the_decay_starts_behind_the_last_blow():
    block = decay(F, ZETA, SWING)
    t = block.axis

    def blow(at, height):
        return height * np.exp(-0.5 * ((t - at) / 5e-4) ** 2)

    def with_force(force):
        return replace(block, channels=(*block.channels, Channel("hammer", force, "N", "force")))

    for force, wanted in ((blow(0.01, 1.0), False), (blow(0.01, 1.0) + blow(0.06, 0.4), True)):
        struck = with_force(force)
        found = identify_decay(struck, expected_hz=EXPECTED)
        assert ("double hit" in {d.code for d in doubts_of(None, struck, found)}) is wanted


def test_a_recorder_that_turns_its_gain_up_is_suspected():
    block = decay(F, ZETA, SWING, snr_db=50.0)
    (channel,) = block.channels
    gain = np.exp(block.axis * 0.3)
    as_sound = Recording("a.wav", "", "wav", (block,))
    found = identify_decay(block, expected_hz=EXPECTED)
    assert "gain control" not in {d.code for d in doubts_of(as_sound, block, found)}
    turned = replace(block, channels=(replace(channel, values=channel.values * gain),))
    found = identify_decay(turned, expected_hz=EXPECTED)
    assert "gain control" in {d.code for d in doubts_of(as_sound, turned, found)}


def test_sensor_and_instrument_are_told_where_they_matter():
    block = decay(F, ZETA, SWING)
    found = identify_decay(block, expected_hz=EXPECTED)
    # 1 g on a modal mass of 12.15 g (a quarter of a uniform beam of 48.6 g): -m/(2 m_modal) = -4.1 %
    assert sensor_shift(1e-3, 12.15e-3) == pytest.approx(-0.0412, abs=1e-4)
    told = doubts_of(None, block, found, sensor_kg=1e-3, modal_mass_kg={1: 12.15e-3, 2: 1.0}, shunt_zeta={1: 0.00078, 2: 1e-9})
    codes = [(d.code, d.mode) for d in told]
    assert ("sensor mass", 1) in codes and ("sensor mass", 2) not in codes
    assert ("instrument", 1) in codes and ("instrument", 2) not in codes


def test_ways_that_disagree_are_flagged_with_the_reason():
    block = decay(F, (0.001, 0.0024, 0.003), SWING, length_s=4.0)
    found = identify_decay(block, expected_hz=EXPECTED)
    first = found.modes[0]
    assert "half-power" in first.odd_ways
    texts = [d.text for d in doubts_of(None, block, found) if d.code == "disagreement"]
    assert any("Mode 1: half-power" in t and " line" in t for t in texts)


# ---- response functions ------------------------------------------------------------------------


def receptance(f, modes=tuple(zip(F, ZETA, (1.0, -2.0, 3.0), strict=True))):
    w = 2 * np.pi * f
    return sum(a / ((2 * np.pi * fn) ** 2 - w**2 + 2j * z * 2 * np.pi * fn * w) for fn, z, a in modes) + 2e-7


@pytest.mark.parametrize("power", [0, 1, 2])
def test_modes_from_a_response_function_with_noise(power):
    f = np.arange(1.0, 500.0, 0.02)
    h = receptance(f) * (2j * np.pi * f) ** power
    rng = np.random.default_rng(0)
    noise = (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f))) * 0.01 * np.abs(h)
    block = Block("response function", (Channel("h", h + noise, "m/N"),), uneven=f)
    found = identify_response(block, expected_hz=EXPECTED)
    for mode, fn, zeta in zip(found.modes, F, ZETA, strict=True):
        assert mode.fit.f_hz == pytest.approx(fn, rel=1e-3) and mode.fit.zeta == pytest.approx(zeta, rel=0.05)
        assert mode.half_power.zeta == pytest.approx(zeta, rel=0.1)


def test_too_few_lines_are_told_with_what_is_needed():
    f = np.arange(1.0, 500.0, 0.1)
    block = Block("response function", (Channel("h", receptance(f), "m/N"),), uneven=f)
    found = identify_response(block, expected_hz=EXPECTED)
    told = {d.mode: d.text for d in doubts_of(None, block, found) if d.code == "coarse"}
    assert 1 in told and 3 not in told and "five at least" in told[1]
    assert found.modes[0].fit.zeta == pytest.approx(ZETA[0], rel=0.02)  # the fit needs no line at the half power


@pytest.mark.parametrize("estimator", ["H1", "H2"])
def test_response_function_and_coherence_from_force_and_response(estimator):
    rate, length = 2048.0, 64.0
    t = np.arange(round(rate * length)) / rate
    force = np.random.default_rng(0).standard_normal(len(t))
    hertz = np.fft.rfftfreq(len(t), 1 / rate)
    with np.errstate(divide="ignore"):
        response = np.fft.irfft(np.fft.rfft(force) * receptance(np.maximum(hertz, 1e-9), ((30.0, 0.02, 1.0), (200.0, 0.01, 2.0))), len(t))
    block = Block("time", (Channel("hammer", force, "N", "force"), Channel("tip", response, "m")), 0.0, 1 / rate)
    h, coherence = response_function((block,), estimator=estimator, line_spacing_hz=0.25)
    at = np.argmin(np.abs(h.axis - 60.0))
    truth = receptance(h.axis[[at]], ((30.0, 0.02, 1.0), (200.0, 0.01, 2.0)))
    assert h.channels[0].values[at] == pytest.approx(truth[0], rel=0.03)
    assert coherence.channels[0].values[at] > 0.99 and h.channels[0].unit == "m/N"
    modes = identify_response(h, expected_hz=(30.0, 200.0), count=2).modes
    assert [m.f_hz for m in modes] == pytest.approx([30.0, 200.0], rel=2e-3)


def test_a_response_without_a_force_is_refused():
    with pytest.raises(MeasuredError, match="force and a response"):
        response_function((decay(F, ZETA, SWING),))


@pytest.mark.parametrize("spacing", [0.3125, 1.0])
def test_peaks_between_coarse_lines_are_told_and_nothing_breaks(spacing):
    # as lines of a two-channel analyser over 500 Hz: the half-power band holds less than one
    f = np.arange(0.0, 500.0, spacing)
    sharp = receptance(np.maximum(f, 1e-6), ((34.375, 1e-5, 1.0), (212.5, 2e-5, -20.0), (400.0, 1e-3, 30.0)))
    block = Block("response function", (Channel("h", sharp, "m/N"),), uneven=f)
    with np.errstate(all="raise"):
        found = identify_response(block)
    assert all(np.isfinite([m.f_hz, m.zeta]).all() for m in found.modes) and found.modes
    assert {d.code for d in doubts_of(None, block, found)} >= {"coarse"}
