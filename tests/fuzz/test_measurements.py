"""Mutated and truncated measurements of every kind: words, never a crash, and what is read is sound."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

from core.measured.modes import identify_decay
from core.measured.quality import doubts_of
from core.measured.readers import read_recording
from core.measured.record import Block, Channel, MeasuredError, Recording
from tests.core.measured.files import function, lines, record, universal

T, Y = record(300)


def kinds(folder) -> dict[str, bytes]:
    sound = io.BytesIO()
    wavfile.write(sound, 48000, (Y * 3e4).astype(np.int16))
    ascii_58 = universal(folder / "ascii.uff", [function(Y, 2e-4, kind=1, quantity=8)])
    binary_58 = universal(folder / "binary.uff", [function(Y, 2e-4, kind=1, quantity=8, binary=1)])
    f = np.geomspace(10.0, 2e3, 60)
    return {
        "a.csv": ("Time;tip;force\ns;mm;N\n" + lines(T, Y, Y, parted=";", mark=",")).encode(),
        "b.txt": lines(T, Y, parted=" ").encode(),
        "z.csv": ("Frequency (Hz),|Z| (ohm),Phase (deg)\n" + lines(f, 1 / f, 0 * f - 89)).encode(),
        "c.wav": sound.getvalue(),
        "d.uff": ascii_58.read_bytes(),
        "e.uff": binary_58.read_bytes(),
    }


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    return kinds(tmp_path_factory.mktemp("whole"))


ODD = (b"", b"\x00", b"\xff" * 8, b"-1", b"    -1\n", b"1e999", b"nan", b",", b";;", b"\n\n", b"9" * 40, b"\xc3", b"-" * 7, b"RIFF")


@pytest.mark.parametrize("name", ["a.csv", "b.txt", "z.csv", "c.wav", "d.uff", "e.uff"])
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_damaged_file_gives_words_or_sound_numbers(whole, tmp_path, name, data):
    content = bytearray(whole[name])
    if data.draw(st.booleans(), label="cut"):
        content = content[: data.draw(st.integers(0, len(content)), label="at")]
    for _ in range(data.draw(st.integers(0, 4), label="changes")):
        at = data.draw(st.integers(0, max(len(content), 1) - 1))
        length = data.draw(st.sampled_from((0, 1, 4, 40)))
        content[at : at + length] = data.draw(st.sampled_from(ODD) | st.binary(max_size=6))
    path = tmp_path / name
    path.write_bytes(bytes(content))
    try:
        found = read_recording(path)
    except MeasuredError as error:
        assert name in str(error) and str(error).endswith(".")
        return
    assert path.read_bytes() == bytes(content)
    for block in found.blocks:
        assert block.count == len(block.axis) and block.count >= 2
        assert block.uneven is not None or block.step > 0.0
        for channel in block.channels:
            assert len(channel.values) == block.count and np.isfinite(channel.values).all()


def odd_record(dice: np.random.Generator) -> np.ndarray:
    """Samples as no decay has them: noise, nothing, a square, a ramp, what grows, what is tiny or huge."""
    count = int(dice.integers(60, 4000))
    t = np.arange(count)
    shapes = (
        dice.standard_normal(count), np.zeros(count), np.ones(count), t * 1.0, np.sign(np.sin(t * 0.1)),
        np.exp(-t * 0.01) * np.sin(t * 0.3), np.exp(t * 0.01), dice.standard_normal(count) * 1e-300,
    )  # fmt: skip
    return shapes[dice.integers(0, len(shapes))] * 10.0 ** dice.integers(-200, 200)


@pytest.mark.parametrize("seeds", [range(25), pytest.param(range(25, 600), marks=pytest.mark.slow)])
def test_records_of_anything_give_words_or_finite_modes(seeds):
    found = 0
    for seed in seeds:
        dice = np.random.default_rng(seed)
        values = odd_record(dice)
        step = 10.0 ** dice.uniform(-6, 2)
        struck = np.where(np.arange(len(values)) == 5, 1.0, 0.0)
        block = Block("time", (Channel("a", values, "m"), Channel("f", struck, "N", "force")), 0.0, step)
        expected = tuple(np.sort(dice.uniform(0.001, 0.4, 3)) / step) if seed % 2 else ()
        with np.errstate(all="ignore"):
            try:
                modes = identify_decay(block, expected_hz=expected)
                doubts_of(Recording("a.wav", "", "wav", (block,)), block, modes)
            except MeasuredError as error:
                assert str(error).endswith(".")
                continue
        assert all(np.isfinite([m.f_hz, m.zeta]).all() for m in modes.modes)
        found += 1
    assert found > 0
