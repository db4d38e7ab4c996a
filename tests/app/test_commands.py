"""The command line: predict, sheet, version, self-test, and what it says when it cannot."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys

import pytest

from app.cli import display
from core.predict.predict import predict
from core.project import library, store


@pytest.fixture
def beam(tmp_path):
    file = tmp_path / "beam.quietspan"
    store.save(library.example("lab-beam"), file)
    return file


def quietspan(*args, **env):
    """A fresh process, as a person starts it; its environment knows no display unless given."""
    kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    return subprocess.run(
        [sys.executable, "-m", "app.main", *map(str, args)],
        env={**kept, "PYTHONPATH": os.pathsep.join(sys.path), **env},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_predict_json_gives_the_numbers_of_the_engine_to_the_last_digit(beam):
    done = quietspan("predict", beam, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    expected = predict(library.example("lab-beam"))
    assert [m["f_short_hz"] for m in told["modes"]] == [m.f_short_hz for m in expected.modes]
    assert [m["k2"] for m in told["modes"]] == [m.k2 for m in expected.modes]


def test_predict_of_a_named_candidate(beam):
    by_letter = quietspan("predict", beam, "--json", "--candidate", "b")
    by_name = quietspan("predict", beam, "--json", "--candidate", "Mid Span")
    assert by_letter.returncode == 0, by_letter.stderr
    assert by_letter.stdout == by_name.stdout
    assert json.loads(by_letter.stdout) != json.loads(quietspan("predict", beam, "--json").stdout)


def test_predict_prints_words_without_json(beam):
    done = quietspan("predict", beam)
    assert done.returncode == 0, done.stderr
    assert "Hz" in done.stdout


def test_predict_loads_no_qt(beam):
    program = (
        "import sys; from app.main import main; code = main(['predict', sys.argv[1]]);"
        "bad = [m for m in sys.modules if m.startswith(('PySide6', 'pyqtgraph', 'scipy.signal'))];"
        "assert code == 0 and not bad, bad"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", program, str(beam)], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_an_unknown_candidate_is_answered_with_those_there_are(beam):
    done = quietspan("predict", beam, "--candidate", "Q")
    assert done.returncode == 1
    assert "A (" in done.stderr and "B (" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("content", [None, b"", b"{", b"noise \xff\x00"])
def test_a_bad_file_is_one_sentence_and_code_1(tmp_path, content):
    file = tmp_path / "bad.quietspan"
    if content is not None:
        file.write_bytes(content)
    done = quietspan("predict", file)
    assert done.returncode == 1
    assert done.stderr.startswith("quietspan: ")
    assert "bad.quietspan" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_a_layout_with_problems_is_not_predicted_and_each_is_told(tmp_path):
    from tests.app.test_session import moved

    file = tmp_path / "off.quietspan"
    store.save(moved(library.example("lab-beam"), 0.29), file)
    done = quietspan("predict", file)
    assert done.returncode == 1
    assert "candidates[A].patches[P1]" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("suffix", "start"), [("pdf", b"%PDF"), ("svg", b"<?xml"), ("png", b"\x89PNG")])
def test_sheet_writes_each_format_without_a_display(beam, tmp_path, suffix, start):
    out = tmp_path / f"sheet.{suffix}"
    done = quietspan("sheet", beam, "--out", out, "--paper", "A3")
    assert done.returncode == 0, done.stderr
    assert out.read_bytes().startswith(start)
    assert str(out) in done.stdout


def test_a_sheet_name_without_a_format_is_refused_in_words(beam, tmp_path):
    done = quietspan("sheet", beam, "--out", tmp_path / "sheet.doc")
    assert done.returncode == 1
    assert ".pdf" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems always have a display")
@pytest.mark.parametrize("dead", [{}, {"DISPLAY": ":7654"}, {"DISPLAY": "unix:7654.0"}], ids=str)
def test_without_a_display_one_line_names_the_commands_that_work(dead):
    done = quietspan(**dead)
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "display" in done.stderr
    assert "quietspan predict FILE" in done.stderr
    assert "quietspan sheet FILE" in done.stderr
    from app.main import COMMANDS

    assert all(name in done.stderr for name in COMMANDS)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems always have a display")
def test_a_display_that_answers_is_taken_and_missing_libraries_are_named(tmp_path, monkeypatch):
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setenv("DISPLAY", ":5")
    monkeypatch.setattr(display, "X_FOLDER", str(tmp_path))
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "X5"))
        server.listen()
        monkeypatch.setattr(display, "NEEDED", {})
        assert display.trouble() == ""
        monkeypatch.setattr(display, "NEEDED", {"libnotthere.so.0": "libnotthere0"})
        assert "apt install libnotthere0" in display.trouble()
        assert "quietspan predict FILE" in display.trouble()


def test_version_and_wrong_use():
    from app import __version__

    assert quietspan("--version").stdout.strip() == f"quietspan {__version__}"
    wrong = quietspan("--frobnicate")
    assert wrong.returncode == 2
    assert "predict FILE" in wrong.stderr


def test_self_test_passes_without_a_display():
    done = quietspan("--self-test")
    assert done.returncode == 0, done.stderr
    assert "self-test passed" in done.stdout
