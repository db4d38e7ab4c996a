"""Coherence of blows and of a shaker: told where it says something, and remarked on where it is low at a peak."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from core.measured.evaluate import Entry, evaluate
from core.measured.predicted import state_modes
from core.measured.record import Block, Channel, Recording
from core.measured.report_text import evaluation_json, evaluation_text
from core.measured.transfer import coherence_at_modes, identify_shaken, transfer_doubts
from core.project.measurement import Bench
from tests.core.measured.bench import lab, struck

LAB = lab()


def blows(count, noise, block=struck):
    return tuple(
        Entry(Recording(f"blow {n} shorted", "", "table", (block(LAB, seed=n, noise=noise),)), "shorted") for n in range(count)
    )


def remarks(found):
    return [d for r in found.runs for d in r.doubts if d.code == "coherence"]


def test_three_clean_blows_are_coherent_and_told_in_text_and_json():
    found = evaluate(blows(3, 1e-4), LAB)
    at = coherence_at_modes(found.runs[0], found.transfers["blow 0 shorted"])
    assert set(at) == {1, 2, 3} and min(at.values()) > 0.99 and not remarks(found)
    assert "Coherence at the peaks (3 records): mode 1 1.00, mode 2 1.00, mode 3 1.00" in evaluation_text(found)
    told = json.loads(json.dumps(evaluation_json(found)))["files"][0]["coherence"]
    assert told["averaged"] == "3 records" and [m["mode"] for m in told["at_modes"]] == [1, 2, 3]


def test_blows_averaged_give_the_modes_beside_the_decay_s():
    """The records hold three time constants of mode 1: cut short, they must not look more damped."""
    found = evaluate(blows(3, 1e-3), LAB)
    truth = state_modes(LAB, "shorted", Bench())[:3]
    averaged = found.transfers["blow 0 shorted"].found
    assert averaged is not None
    assert [m.f_hz for m in averaged.modes] == pytest.approx([m.f_hz for m in truth], rel=1e-3)
    assert [m.zeta for m in averaged.modes] == pytest.approx([m.zeta for m in truth], rel=0.05)
    assert f"Response function (3 records): mode 1 {averaged.modes[0].f_hz:.4f} Hz, damping" in evaluation_text(found)
    told = json.loads(json.dumps(evaluation_json(found)))["files"][0]
    assert told["found_in"] == "decay" and [m["mode"] for m in told["response_function"]] == [1, 2, 3]
    assert not [d for r in found.runs for d in r.doubts if "by the response function" in d.text]


def test_a_decay_that_the_averaged_blows_do_not_bear_out_is_flagged():
    found = evaluate(blows(3, 1e-3), LAB)
    run, transfer = found.runs[0], found.transfers["blow 0 shorted"]
    first = run.found.modes[0]
    other = replace(first, fit=replace(first.fit, zeta=1.3 * first.zeta))
    doubts = transfer_doubts(replace(run, found=replace(run.found, modes=(other, *run.found.modes[1:]))), transfer)
    (told,) = [d for d in doubts if d.code == "disagreement"]
    assert told.mode == 1 and "by the response function (3 records) is −23 % off" in told.text


def still_swinging(part, seed, noise):
    """A blow on a part whose second mode still swings from before, at any phase."""
    block = struck(part, seed=seed, noise=noise)
    tip, hammer = block.channels
    mode = state_modes(part, "shorted", Bench())[1]
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi)
    w = 2 * np.pi * mode.f_hz
    left = 0.5 * tip.values.std() * np.exp(-mode.zeta * w * block.axis) * np.cos(w * block.axis + phase)
    return replace(block, channels=(replace(tip, values=tip.values + left), hammer))


def test_a_mode_that_something_else_moves_is_remarked_on():
    found = evaluate(blows(4, 1e-3, still_swinging), LAB)
    at = coherence_at_modes(found.runs[0], found.transfers["blow 0 shorted"])
    assert at[2] < 0.8 and min(at[1], at[3]) > 0.95
    assert {d.mode for d in remarks(found)} == {2}
    assert all(f"Mode 2: coherence {at[2]:.2f} at its peak (4 records), under 0.9" in d.text for d in remarks(found))


def test_one_blow_alone_has_none():
    found = evaluate(blows(1, 1.0), LAB)
    assert found.transfers["blow 0 shorted"].coherence is None and "Coherence" not in evaluation_text(found)
    assert evaluation_json(found)["files"][0]["coherence"] is None


def test_blows_in_another_state_are_not_averaged_with_them():
    entries = blows(2, 1e-4)
    opened = Entry(Recording("blow open", "", "table", (struck(LAB, seed=9),)), "open")
    found = evaluate((*entries, opened), LAB)
    assert found.transfers["blow open"].coherence is None
    assert found.transfers["blow 1 shorted"].averaged == "2 records"


def test_coherence_of_a_universal_file_is_taken_as_it_stands():
    hertz = np.arange(1.0, 400.0, 0.02)
    w = 2 * np.pi * hertz
    h = sum(1.0 / ((2 * np.pi * f) ** 2 - w**2 + 0.006j * 2 * np.pi * f * w) for f in (19.8, 118.9, 324.0))
    gamma = np.where(np.abs(hertz - 118.9) < 5.0, 0.5, 0.999)
    blocks = (
        Block("response function", (Channel("tip", h, "m/N"),), uneven=hertz),
        Block("coherence", (Channel("tip", gamma),), uneven=hertz),
    )
    found = evaluate((Entry(Recording("h shorted.uff", "", "uff", blocks), "shorted"),), LAB)
    (remark,) = remarks(found)
    assert remark.mode == 2 and "coherence 0.50 at its peak (from the file)" in remark.text


def shaken(f, zeta, seed=0, length_s=128.0, rate=1024.0, noise=0.01):
    """The modes stepped exactly from sample to sample under a force of noise that is held over each, from rest."""
    force = np.random.default_rng(seed).standard_normal(round(length_s * rate))
    swing = np.zeros(len(force))
    for n, z in zip(f, zeta, strict=True):
        w = 2 * np.pi * n
        exact = signal.cont2discrete(([1.0], [1.0, 2 * z * w, w**2]), 1 / rate, method="zoh")
        swing += w**1.5 * signal.lfilter(exact[0].ravel(), exact[1], force)
    swing += noise * swing.std() * np.random.default_rng(seed + 99).standard_normal(len(swing))
    return Block("time", (Channel("tip", swing, "m"), Channel("shaker", force, "N", "force")), 0.0, 1 / rate)


@pytest.mark.parametrize("seed", range(3))
def test_modes_of_a_shaker_come_from_its_response_function(seed):
    f, zeta = (41.3, 118.7, 301.2), (0.012, 0.009, 0.006)
    found = evaluate((Entry(Recording("shaken shorted", "", "table", (shaken(f, zeta, seed),)), "shorted"),))
    (run,) = found.runs
    assert [m.f_hz for m in run.found.modes] == pytest.approx(f, rel=1e-3)
    assert [m.zeta for m in run.found.modes] == pytest.approx(zeta, rel=0.05)
    assert all(m.decrement is None for m in run.found.modes) and not run.doubts
    transfer = found.transfers["shaken shorted"]
    assert transfer.averaged == "15 parts" and transfer.at(60.0, 1e-4) == pytest.approx(1.0, abs=0.05)
    assert "Continuous force: modes by the response function (15 parts)" in evaluation_text(found)
    assert evaluation_json(found)["files"][0]["found_in"] == "response function"


def test_a_shaker_too_short_is_told_how_long_it_must_be():
    block = shaken((41.3,), (0.003,), length_s=32.0)
    (run,) = evaluate((Entry(Recording("shaken shorted", "", "table", (block,)), "shorted"),)).runs
    (told,) = (d.text for d in run.doubts if d.code == "coarse")
    seconds = float(re.search(r"a record of (\d+(?:\.\d+)?) s", told).group(1))
    assert seconds == pytest.approx(8 * 5 / (2 * 0.003 * 41.3), rel=0.2) and "short" not in {d.code for d in run.doubts}


def test_the_window_of_the_parts_is_not_taken_for_damping():
    """Three lines in the half-power band: a Hann window makes the peak 14 % wider."""
    ratios, peaks = [], []
    for seed in range(6):
        found = identify_shaken(shaken((60.0,), (0.01,), seed, length_s=8 * 3 / 1.2), count=1).modes[0]
        ratios.append(found.fit.zeta / 0.01)
        peaks.append(found.half_power.zeta / 0.01)
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.04) and np.mean(peaks) > 1.08


def test_the_part_of_a_shaker_looked_at_is_the_one_drawn():
    block = shaken((41.3,), (0.012,))
    (run,) = evaluate((Entry(Recording("shaken", "", "table", (block,)), "shorted", window_s=(10.0, 90.0)),)).runs
    assert run.found.window_s == (10.0, 90.0) and run.found.channel is block.responses[0]
    assert run.found.modes[0].length_s == pytest.approx(10.0, rel=1e-3)


def test_a_force_held_and_let_go_is_a_decay():
    block = shaken((41.3,), (0.012,), length_s=8.0)
    t = block.axis
    w = 2 * np.pi * 41.3
    swing = np.where(t < 2.0, 1.0, np.exp(-0.012 * w * (t - 2.0)) * np.cos(w * (t - 2.0)))
    held = (t < 2.0) + 1e-3 * np.random.default_rng(0).standard_normal(len(t))
    let_go = Block("time", (Channel("tip", swing, "m"), Channel("string", held, "N", "force")), 0.0, block.step)
    (run,) = evaluate((Entry(Recording("let go", "", "table", (let_go,)), "shorted"),)).runs
    assert run.found.cut_into == 0 and run.found.modes[0].zeta == pytest.approx(0.012, rel=0.01)
