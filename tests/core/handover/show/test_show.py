"""What is played: its clock, its sound read back as a record is, its animation read as the file it is."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from scipy.io import wavfile

from core.handover.show.animation import Plate, animation
from core.handover.show.captions import caption, heard_words
from core.handover.show.programme import followed, octaves_up, programme
from core.handover.show.sound import heard, ringing, wave_file
from core.measured.modes import identify_decay
from core.measured.readers import read_recording
from core.predict.predict import predict
from core.predict.swing import swing
from core.project import library


@pytest.fixture(scope="module")
def shown():
    return predict(library.example("lab-beam"), "A")


@pytest.fixture(scope="module")
def moved(shown):
    return swing(shown.solved, shown.ring_down)


def test_one_after_the_other_takes_twice_as_long_and_the_second_waits(moved):
    in_turn, together = programme(moved, "in turn"), programme(moved, "together")
    assert in_turn.whole_s == 2 * together.whole_s
    assert in_turn.times(0.5 * in_turn.length_s) == (0.5 * in_turn.length_s, 0.0)
    assert in_turn.times(1.25 * in_turn.length_s) == (None, pytest.approx(0.25 * in_turn.length_s))
    assert together.times(0.3) == (0.3, 0.3)
    assert in_turn.length_s >= moved.ring.settle_after_s


@pytest.mark.parametrize(("f_hz", "slow"), [(3.0, 1), (12.4, 4), (20.9, 8), (55.0, 16), (400.0, 16)])
def test_the_slow_down_that_an_eye_can_follow(f_hz, slow):
    assert followed(f_hz) == slow


def test_only_what_no_loudspeaker_gives_is_put_up_and_it_says_so(moved):
    assert octaves_up(55.0) == 0
    assert octaves_up(20.9) == 3
    assert 150.0 <= 20.9 * 2 ** octaves_up(20.9) < 300.0
    told = re.fullmatch(r"three octaves up: ([\d.]+) Hz is heard as ([\d.]+) Hz", heard_words(moved))
    assert float(told[2]) == pytest.approx(8 * float(told[1]), rel=1e-3)


@pytest.mark.parametrize("side", [0, 1])
def test_the_sound_file_read_back_has_the_damping_and_pitch_predicted(shown, moved, tmp_path, side):
    """The left ear hears what is before, the right what is after: read and fitted by the program's own readers of
    records, which are held against independent simulations elsewhere."""
    path = tmp_path / "ring-down.wav"
    path.write_bytes(wave_file(programme(moved, "together"), 8_000))
    mode = shown.modes[0]
    block = read_recording(path).blocks[0]
    found = identify_decay(block, expected_hz=(mode.f_short_hz,), channel=side, count=1).modes[0]
    assert found.fit.f_hz == pytest.approx(mode.f_short_hz, rel=0.01)
    assert found.fit.zeta == pytest.approx((mode.zeta_before, mode.zeta)[side], rel=0.01)


def test_the_sound_file_has_sixteen_bits_and_both_ears(moved):
    rate, samples = wavfile.read(io.BytesIO(wave_file(programme(moved, "in turn"))))
    assert (rate, samples.dtype, samples.shape[1]) == (48_000, np.int16, 2)
    assert (samples[:, 0] == samples[:, 1]).all()
    assert 0.88 < np.abs(samples / 32767.0).max() < 0.91
    half = len(samples) // 2
    assert np.abs(samples[half - 4800 : half]).max() > 1.5 * np.abs(samples[-4800:]).max()


def test_what_is_heard_dies_away_with_the_picture_at_the_pitch_put_up(moved):
    shown = programme(moved, "together", slow=4.0)
    sound = heard(shown, 8_000)[:, 0]
    assert len(sound) == int(shown.length_s * 4.0 * 8_000)
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    peak = np.fft.rfftfreq(len(sound), 1 / 8_000)[np.argmax(spectrum)]
    assert peak == pytest.approx(moved.f_hz * 8.0, rel=0.002)
    late = ringing(moved.before, shown.length_s, octaves=3, slow=4.0, rate_hz=8_000)
    plain = ringing(moved.before, shown.length_s, rate_hz=8_000)
    assert np.abs(late[-2000:]).max() == pytest.approx(np.abs(plain[-500:]).max(), rel=0.05)


class Frames(HTMLParser):
    """The keyframes of every line, and the texts."""

    def __init__(self):
        super().__init__()
        self.frames, self.texts, self.lengths = [], [], set()

    def handle_starttag(self, tag, attrs):
        if tag == "animate":
            told = dict(attrs)
            self.lengths.add(told["dur"])
            self.frames.append([np.array([[float(v) for v in p.split(",")] for p in f.split()]) for f in told["values"].split(";")])

    def handle_data(self, data):
        self.texts.append(data)


def test_the_animation_moves_as_predicted_and_needs_no_network(shown, moved):
    play = programme(moved, "together")
    told = caption(moved, "A", "resistor <b>", "patches shorted", 20.0, 10.0)
    page = animation(play, (Plate(0.005, 0.055, True),), told)
    read = Frames()
    read.feed(page)
    assert not re.search(r"(src|href)\s*=|url\(|@import", page)
    assert "resistor <b>" in "".join(read.texts)
    assert "<b>" not in page
    assert len(read.frames) == 4  # a part and a ceramic, twice
    assert read.lengths == {f"{play.whole_s * play.slow:.3f}s"}
    tip = np.array([frame[-1, 1] for frame in read.frames[0]])
    at = np.linspace(0.0, play.whole_s, len(tip))
    expected = np.array([(moved.before.amplitude[-1] * np.exp(moved.before.rate * t)).sum().real for t in at])
    assert np.corrcoef(tip, -expected)[0, 1] > 0.9999
    assert read.frames[0][0][0, 1] == pytest.approx(read.frames[0][5][0, 1], abs=0.1)  # the clamp does not move
