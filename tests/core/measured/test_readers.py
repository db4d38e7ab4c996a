"""Files of boxes, oscilloscopes, sound cards and analysers: read to SI, what was guessed is said, faults in words."""

from __future__ import annotations

import multiprocessing
import pickle
import threading

import numpy as np
import pytest
from scipy.io import wavfile

from core.measured.apart import read_apart
from core.measured.readers import can_read, hash_of, read_recording
from core.measured.record import Block, Channel, MeasuredError
from core.project.apart import received, send
from core.project.measurement import Told
from tests.core.measured.files import RATE_HZ, function, lines, record, universal

T, Y = record()


@pytest.fixture
def read(tmp_path):
    """The recording in a text file of that name."""

    def made(text, name="record.csv", told=None, encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return read_recording(path, told)

    return made


def told_of(recording, what):
    return next(u for u in recording.understood if u.what == what)


def only(recording):
    (block,) = recording.blocks
    return block


def test_semicolons_decimal_commas_and_a_units_row(read):
    text = "Messung 12\nOrt: Labor\nTime;tip laser;force;spare\ns;mm;N;V\n" + lines(T, 3 * Y, Y, 0 * Y, parted=";", mark=",")
    found = read(text)
    block = only(found)
    assert block.step == pytest.approx(1 / RATE_HZ, rel=1e-9) and block.count == len(T)
    laser, force, spare = block.channels
    np.testing.assert_allclose(laser.values, 3e-3 * Y, atol=1e-9)
    assert (laser.unit, laser.role) == ("m", "response")
    assert (force.unit, force.role) == ("N", "force") and spare.role == "left out"
    assert told_of(found, "Time").source == "units row" and told_of(found, "Columns").value == "4, semicolon, decimal comma"
    assert not found.guesses


def test_an_oscilloscope_with_milliseconds_in_the_name_and_a_trailing_separator(read):
    text = "Model,XX\nTrigger,1\n\nTime (ms),Channel A (mV)\n" + lines(1e3 * T - 50, 1e3 * Y, end=",")
    block = only(read(text))
    assert block.start == pytest.approx(-0.05) and block.step == pytest.approx(2e-4)
    np.testing.assert_allclose(block.channels[0].values, Y, atol=1e-8)
    assert block.channels[0].unit == "V"


@pytest.mark.parametrize(
    "header",
    ["Sample Interval,0.0002,s", "sampling interval: 0.2 ms", "Sampling rate [Hz]: 5000", "Sample Rate = 5 kHz", "dt = 2e-4 s",
     "Delta t;0,0002", "Horizontal increment\t200 us"],
)  # fmt: skip
def test_the_interval_in_the_header(read, header):
    block = only(found := read(f"Box\n{header}\nCH1 (V)\tCH2 (V)\n" + lines(Y, -Y, parted="\t")))
    assert block.step == pytest.approx(2e-4) and len(block.channels) == 2
    assert told_of(found, "Time").source == "header"


def test_no_time_at_all_asks_for_the_interval_and_takes_it(read):
    text = lines(np.arange(len(Y)), Y, form="{:.4f}", parted=" ").replace(".0000 ", " ")
    with pytest.raises(MeasuredError, match="Type the time between two samples"):
        read(text, "video.txt")
    block = only(read(text, "video.txt", Told(interval_s=1 / 240)))
    assert block.rate_hz == pytest.approx(240) and len(block.channels) == 1


def test_a_bare_time_column_is_taken_as_seconds_and_said_to_be_guessed(read):
    text = lines(T, Y, parted="\t")
    found = read(text, "plain.tsv")
    assert told_of(found, "Time").guessed and told_of(found, "Column 2").guessed
    told = read(text, "plain.tsv", Told(time_unit="ms", units=("", "g"), roles=("force",)))
    assert only(told).step == pytest.approx(2e-7) and told_of(told, "Time").source == "told"
    assert (only(told).channels[0].unit, only(told).channels[0].role) == ("m/s2", "force")


@pytest.mark.parametrize("gap", ["", ","])
def test_two_blocks_beside_each_other(read, gap):
    rows = zip(T, Y, T + 1, -Y, strict=True)
    text = f"t,x,{gap}t,x\ns,V,{gap}s,V\n" + "\n".join(f"{a:.4f},{b:.6f},{gap}{c:.4f},{d:.6f}" for a, b, c, d in rows)
    first, second = read(text).blocks
    np.testing.assert_allclose(first.responses[0].values, -second.responses[0].values, atol=1e-9)
    assert second.start == pytest.approx(1.0)


def test_times_written_with_few_digits_and_utf_16(read):
    times = np.arange(2000) / 4096  # steps of 0.244 ms written to a tenth of a millisecond
    text = "Time [s]\tA [V]\n" + lines(times, Y, form="{:.4f}", parted="\t")
    found = read(text, encoding="utf-16")
    assert only(found).rate_hz == pytest.approx(4096, rel=1e-4) and not found.remarks


def test_a_gap_in_time_and_lines_of_words_are_bridged_and_said(read):
    keep = (T < 0.1) | (T > 0.11)
    text = "time (s),a (V)\n" + lines(T[keep], Y[keep])
    found = read(text.replace("\n0.200000", "\noverload\n0.200000"))
    assert any("even steps" in r for r in found.remarks) and any("1 lines" in r for r in found.remarks)
    np.testing.assert_allclose(only(found).responses[0].values[[10, -10]], Y[[10, -10]], atol=1e-4)


def test_one_column_with_decimal_commas(read):
    block = only(read(lines(Y, mark=","), told=Told(interval_s=1e-3)))
    np.testing.assert_allclose(block.channels[0].values, Y, atol=1e-6)


F = np.geomspace(100.0, 2e3, 401)
OMEGA = 2 * np.pi * F
ADMITTANCE = OMEGA * 68e-9 * (0.02 + 1j)


@pytest.mark.parametrize(
    ("head", "columns"),
    [
        ("Frequency (Hz),|Z| (ohm),Phase (deg)", (F, abs(1 / ADMITTANCE), np.degrees(np.angle(1 / ADMITTANCE)))),
        ("Frequency (kHz),Cp (nF),D", (F / 1e3, 68 + 0 * F, 0.02 + 0 * F)),
        ("f,G (S),B (S)", (F, ADMITTANCE.real, ADMITTANCE.imag)),
        ("Freq (Hz),R (kohm),X (kohm)", (F, (1 / ADMITTANCE).real / 1e3, (1 / ADMITTANCE).imag / 1e3)),
        ("FREQUENCY,Z,THETA", (F, abs(1 / ADMITTANCE), np.degrees(np.angle(1 / ADMITTANCE)))),
    ],
)
def test_every_pair_of_an_impedance_sweep_is_one_admittance(read, head, columns):
    block = only(read(head + "\n" + lines(*columns, form="{:.9e}")))
    assert block.kind == "impedance"
    np.testing.assert_allclose(block.channels[0].values, ADMITTANCE, rtol=1e-6)


def test_a_response_function_as_real_and_imaginary_part(read):
    h = 1 / (20.0**2 - F**2 + 0.4j * F)
    block = only(read("freq (Hz),Re (mm/N),Im (mm/N)\n" + lines(F, h.real, h.imag, form="{:.9e}")))
    assert block.kind == "response function" and block.channels[0].unit == "m/N"
    np.testing.assert_allclose(block.channels[0].values, 1e-3 * h, rtol=1e-6)


@pytest.mark.parametrize(
    ("scale", "dtype", "tolerance"),
    [(32767, np.int16, 1e-4), (2**31 - 1, np.int32, 1e-9), (1.0, np.float32, 1e-6), (127, np.uint8, 1e-2)],
)
def test_wav_of_every_depth_has_full_scale_one(tmp_path, scale, dtype, tolerance):
    data = Y * scale + (128 if dtype is np.uint8 else 0)
    wavfile.write(tmp_path / "a.wav", 48000, data.astype(dtype))
    found = read_recording(tmp_path / "a.wav")
    (channel,) = only(found).channels
    np.testing.assert_allclose(channel.values, Y, atol=2 * tolerance)
    assert channel.full_scale == 1.0 and channel.unit == "" and only(found).rate_hz == 48000
    assert any("frequency and damping only" in r for r in found.remarks)


MILLIMETRES = {"units_code": 5, "units_description": "mm", "temp_mode": 1, "length": 1000.0, "force": 1000.0, "temp": 1.0, "temp_offset": 273.15}


@pytest.mark.parametrize("binary", [0, 1])
def test_a_universal_file_written_by_pyuff_comes_back_in_si(tmp_path, binary):
    # pyuff (MIT licence) writes ASCII and binary datasets 58; factors of dataset 164 divide
    h = 1 / (20.0**2 - (np.arange(400) * 0.5 + 1) ** 2 + 0.4j)
    path = universal(
        tmp_path / "a.uff",
        [function(Y, 2e-4, kind=1, quantity=8, binary=binary), function(2 * Y, 2e-4, kind=1, quantity=13, binary=binary, node=1),
         function(h, 0.5, kind=4, quantity=12, over=13, binary=binary), function(np.abs(h) * 0 + 1, 0.5, kind=6, quantity=0, binary=binary)],
        MILLIMETRES,
    )  # fmt: skip
    found = read_recording(path)
    time, response, coherence = found.block("time"), found.block("response function"), found.block("coherence")
    np.testing.assert_allclose(time.responses[0].values, 1e-3 * Y, atol=1e-9)
    np.testing.assert_allclose(time.force.values, 2e-3 * Y, atol=1e-9)
    assert time.step == pytest.approx(2e-4) and coherence.count == 400
    np.testing.assert_allclose(response.channels[0].values, h, rtol=1e-5)
    assert response.channels[0].unit == "m/(s2 N)"
    assert any("exponential window" in r for r in found.remarks)


def test_without_dataset_164_the_units_are_a_guess(tmp_path):
    found = read_recording(universal(tmp_path / "a.unv", [function(Y, 2e-4, kind=1, quantity=12)]))
    assert told_of(found, "Units").guessed and only(found).channels[0].unit == "m/s2"


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", b"", "empty"),
        ("a.csv", b"hello\nworld\n", "no table of numbers"),
        ("a.csv", b"\x00\x01\x02" * 400, "no table of numbers"),
        ("a.wav", b"RIFF\x00\x00\x00\x00WAVE", "sound|broken"),
        ("a.wav", b"not a sound", "broken"),
        ("a.uff", b"    -1\n    58\n", "damaged|no functions"),
        ("a.uff", b"nothing", "no functions|damaged"),
        ("a.xyz", b"1,2\n", "no kind of measurement"),
    ],
)
def test_what_is_no_measurement_is_refused_in_words_with_its_name(tmp_path, name, content, words):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(MeasuredError, match=words) as refused:
        read_recording(tmp_path / name)
    assert name in str(refused.value) and str(refused.value).rstrip()[-1] == "."


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path, tmp_path / "gone.csv"):
        with pytest.raises(MeasuredError, match=r"folder|is not there"):
            read_recording(path)


def test_the_first_bytes_count_more_than_the_ending(tmp_path):
    wavfile.write(tmp_path / "a.wav", 8000, (Y * 3e4).astype(np.int16))
    (tmp_path / "a.wav").rename(tmp_path / "b.txt")
    assert read_recording(tmp_path / "b.txt").reader == "wav"
    assert can_read(tmp_path / "x.CSV") and not can_read(tmp_path / "x.dxf")
    assert read_recording(tmp_path / "b.txt").sha256 == hash_of(tmp_path / "b.txt")


def test_a_long_record_comes_over_from_its_process_as_it_is(tmp_path):
    path = tmp_path / "long.wav"
    wavfile.write(path, 48_000, np.random.default_rng(0).integers(-30_000, 30_000, (200_000, 2)).astype(np.int16))
    there, here = read_apart(path, lambda: False), read_recording(path)
    assert there is not None and (there.sha256, there.understood) == (here.sha256, here.understood)
    for a, b in zip(only(there).channels, only(here).channels, strict=True):
        assert np.array_equal(a.values, b.values) and a.values.dtype == b.values.dtype
        a.values[0] = 0.0  # whoever asked may work on it


def test_ten_million_samples_are_not_copied_into_the_message():
    ours, theirs = multiprocessing.Pipe()
    values = np.arange(100_000.0)
    block = Block("time", (Channel("tip", values), Channel("spare", values[::2]), Channel("none", values[:0])), 0.0, 1e-3)
    sender = threading.Thread(target=send, args=(theirs, (True, block)))
    sender.start()
    message = ours.recv_bytes()
    told, sizes = pickle.loads(message)
    pieces = [ours.recv_bytes() for size in sizes if size]
    sender.join()
    # what lies in one piece goes beside; every other sample does not, and is copied
    assert len(pieces[0]) == values.nbytes and len(told) < 0.5 * values.nbytes + 2000
    sender = threading.Thread(target=send, args=(theirs, (True, block)))
    sender.start()
    good, found = received(ours)
    sender.join()
    assert good and [c.values.tolist() for c in found.channels] == [c.values.tolist() for c in block.channels]
