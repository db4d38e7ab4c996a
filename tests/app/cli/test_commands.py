"""The command line: predict, sheet, version, self-test, and what it says when it cannot."""

from __future__ import annotations

import argparse
import csv
import json
import os
import shutil
import socket
import subprocess
import sys
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from app.cli import display
from app.main import main
from core.predict.predict import predict
from core.project import library, store
from core.project.setting import SettingError, with_setting
from core.units import words
from tests.levels import beam_example


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


@pytest.fixture
def here(capsys):
    """The same in this process: what a command says hangs on its arguments alone."""

    def run(*args):
        code = main([str(one) for one in args])
        told = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=told.out, stderr=told.err)

    return run


def test_predict_json_gives_the_numbers_of_the_engine_to_the_last_digit(beam):
    done = quietspan("predict", beam, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    expected = predict(library.example("lab-beam"))
    assert [m["f_short_hz"] for m in told["modes"]] == [m.f_short_hz for m in expected.modes]
    assert [m["k2"] for m in told["modes"]] == [m.k2 for m in expected.modes]


def test_predict_tells_the_price_of_each_value_on_request(beam, here):
    plain, priced = (json.loads(here("predict", beam, "--json", *more).stdout) for more in ((), ("--prices",)))
    names = [one["name"] for one in priced["groups"][0].pop("prices")]
    assert names[-1] == "leads_f" and set(names[:-1]) == set(priced["groups"][0]["values"])
    assert priced == plain


def test_predict_of_a_named_candidate(beam, here):
    by_letter = here("predict", beam, "--json", "--candidate", "b")
    by_name = here("predict", beam, "--json", "--candidate", "Mid Span")
    assert by_letter.returncode == 0, by_letter.stderr
    assert by_letter.stdout == by_name.stdout
    assert json.loads(by_letter.stdout) != json.loads(here("predict", beam, "--json").stdout)


def test_predict_prints_words_without_json(beam, here):
    done = here("predict", beam)
    assert done.returncode == 0, done.stderr
    assert "Hz" in done.stdout


NO_WINDOW = (
    "predict FILE",
    "predict FILE --json",
    "predict FILE --csv - --set structure.damping.ratios=[0.01]",
    "diff FILE",
    "diff FILE FILE",
    "study FILE --samples 16",
    "study BEAMS --kind map",
    "study BEAMS --kind search",
    "record FILE --out FOLDER/record.md",
    "sheet FILE --out FOLDER/sheet.svg",
    "sheet FILE --out FOLDER/sheet.dxf",
    "--version",
)


def test_what_needs_no_window_loads_none(beam, tmp_path):
    """One process does them all, so that whatever loads Qt, or what takes long to load, is named.

    Map and search look at thousands of layouts: theirs are those of beams.
    """
    program = """
import sys
from app.main import main
files = {"FILE": sys.argv[1], "BEAMS": sys.argv[2]}
for command in sys.argv[4:]:
    code = main([files.get(word, word.replace("FOLDER", sys.argv[3])) for word in command.split()])
    loaded = [name for name in sys.modules if name.startswith(("PySide6", "pyqtgraph", "scipy.signal"))]
    assert code == 0 and not loaded, (command, code, loaded)
"""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    beams = tmp_path / "beams.quietspan"
    store.save(beam_example("lab-beam"), beams)
    command = [sys.executable, "-c", program, str(beam), str(beams), str(tmp_path), *NO_WINDOW]
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="the shell there closes no pipe")
@pytest.mark.parametrize(
    "verb", ["predict FILE", "predict FILE --json", "diff FILE", "study FILE --samples 16", "--help"]
)
def test_a_reader_that_has_seen_enough_is_no_trouble(beam, verb):
    words = " ".join(f"'{beam}'" if word == "FILE" else word for word in verb.split())
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    command = f"'{sys.executable}' -m app.main {words} | true; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", command], env=env, capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr) == ("0", "")


def test_a_long_name_is_told_in_few_words(tmp_path, here):
    content = json.loads(store.dumps(library.example("lab-beam")))
    content["x" * 1_000_000] = 1
    file = tmp_path / "long.quietspan"
    file.write_text(json.dumps(content))
    done = here("predict", file)
    assert done.returncode == 1
    assert len(done.stderr) < 1000


# ---- a family of files ---------------------------------------------------------------------


def test_a_family_of_files_with_an_input_set_makes_a_row_each(beam, tmp_path, here):
    ski, bad, out = tmp_path / "ski.quietspan", tmp_path / "bad.quietspan", tmp_path / "family.csv"
    store.save(library.example("touring-ski"), ski)
    bad.write_text("{")
    done = here("predict", bad, beam, ski, "--set", "structure.damping.ratios=[0.01]", "--csv", out)
    assert done.returncode == 1
    assert "bad.quietspan" in done.stderr and "cut off" in done.stderr
    rows = list(csv.DictReader(out.open(encoding="utf-8", newline="")))
    assert [row["file"] for row in rows] == [str(bad), str(beam), str(ski)]
    assert "cut off" in rows[0]["trouble"] and rows[0]["zeta_mode_1"] == ""
    for row, key in zip(rows[1:], ("lab-beam", "touring-ski"), strict=True):
        project = library.example(key)
        damped = replace(project.structure, damping=replace(project.structure.damping, ratios=(0.01,)))
        expected = predict(replace(project, structure=damped))
        assert float(row["zeta_mode_1"]) == expected.modes[0].zeta
        assert float(row["k2_mode_2"]) == expected.modes[1].k2
        assert float(row["added_mass_kg"]) == expected.added_mass_kg


def test_the_datum_at_the_tip_follows_a_span_that_is_set(beam, tmp_path, here):
    out = tmp_path / "family.csv"
    done = here("predict", beam, "--set", "structure.span_m=0.28", "--csv", out)
    assert done.returncode == 0, done.stderr
    (row,) = csv.DictReader(out.open(encoding="utf-8", newline=""))
    assert float(row["f_short_hz_mode_1"]) > predict(library.example("lab-beam")).modes[0].f_short_hz


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("structure.span", "the project has no such value"),
        ("structure.width_m=wide", "does not start with a number"),
        ("structure.width_m=3 kg", "a length was expected"),
        ("structure.root.kind=glued", "must be one of 'clamped', 'pinned', 'guided', 'free', 'elastic', not 'glued'"),
        ("view.modes_shown=2.5", "view.modes_shown: 2.5 is not a whole number"),
        ("span", "write PATH=VALUE"),
        ("candidates[A].patches[P7].x_start_m=0.1", "the project has no such value"),
    ],
)
def test_a_setting_that_cannot_be_done_is_told(beam, capsys, setting, words):
    if "=" not in setting and "." in setting:
        setting += "=0.3"
    assert main(["predict", str(beam), "--set", setting]) == 1
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("setting", "read", "value"),
    [
        ("structure.span_m=305 mm", lambda p: p.structure.span_m, 0.305),
        ("structure.width_m=0.025", lambda p: p.structure.width_m, 0.025),
        ("structure.root.kind=pinned", lambda p: p.structure.root.kind, "pinned"),
        ("candidates[A].patches[P1].x_start_m=1 in", lambda p: p.candidate("A").patches[0].x_start_m, 0.0254),
        ("view.modes_shown=7", lambda p: p.view.modes_shown, 7),
        ("structure.damping.from_loss_factors=yes", lambda p: p.structure.damping.from_loss_factors, True),
        ("service.cold_c=14 °F", lambda p: p.service.cold_c, -10.0),
        ("drive.amplitude_v=0.06 kV", lambda p: p.drive.amplitude_v, 60.0),
        ("drive.amplifier_v_s=2 V/us", lambda p: p.drive.amplifier_v_s, 2e6),
        ("drive.area_m2=5 mm2", lambda p: p.drive.area_m2, 5e-6),
        ("service.ramp_span_k=20 K", lambda p: p.service.ramp_span_k, 20.0),
        ("service.ramp_rate_k_s=3 K/min", lambda p: p.service.ramp_rate_k_s, 0.05),
        ("candidates[A].loop.amplifier_a=60 mA", lambda p: p.candidate("A").loop.amplifier_a, 0.06),
        ("packages[0].ceramic.pyroelectric_c_m2_k=-300 uC/(m2 K)", lambda p: p.packages[0].ceramic.pyroelectric_c_m2_k.value, -3e-4),
        ("materials[0].youngs_modulus_pa.per_kelvin=-0.03 %/K", lambda p: p.materials[0].youngs_modulus_pa.per_kelvin, -3e-4),
        ("materials[0].youngs_modulus_pa.tolerance=5 %", lambda p: p.materials[0].youngs_modulus_pa.tolerance, 0.05),
    ],
)
def test_a_setting_reads_units_numbers_and_words(setting, read, value):
    assert read(with_setting(library.example("lab-beam"), setting)) == pytest.approx(value)


@pytest.mark.parametrize("typed", ["+-3", "²", "3.5", "9" * 5000, "seven"])
def test_what_is_no_whole_number_is_told(typed):
    with pytest.raises(SettingError, match="not a whole number"):
        with_setting(library.example("lab-beam"), f"view.modes_shown={typed}")


# ---- what changed ---------------------------------------------------------------------------


def test_diff_says_what_changed_with_old_and_new_prediction_beside_each_other(beam, tmp_path, capsys):
    project = library.example("lab-beam")
    other = tmp_path / "other.quietspan"
    moved = with_setting(project, "candidates[A].patches[P1].x_start_m=20 mm")
    store.save(moved, other)
    assert main(["diff", str(beam), str(other)]) == 0
    told = capsys.readouterr().out
    lines = [" ".join(line.split()) for line in told.splitlines()]
    assert any("start" in line and line.endswith("5 mm → 20 mm") for line in lines)
    old, new = (words.damping(predict(p, "A").modes[0].zeta) for p in (project, moved))
    assert f"mode 1 damping {old} → {new}" in lines
    assert main(["diff", str(beam), str(beam)]) == 0
    assert "No input differs." in capsys.readouterr().out


def test_diff_tells_a_candidate_that_cannot_be_predicted_or_is_new(beam, tmp_path, capsys):
    project = library.example("lab-beam")
    other = tmp_path / "other.quietspan"
    off = with_setting(project, "candidates[A].patches[P1].x_start_m=2 m")
    store.save(replace(off, candidates=off.candidates[:2]), other)
    assert main(["diff", str(beam), str(other)]) == 0
    told = capsys.readouterr().out
    assert "past the tip" in told
    assert "is gone" in told


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not there")
def test_git_shows_a_project_in_words(beam, tmp_path):
    def git(*args):
        command = ["git", "-C", str(tmp_path), "-c", "user.name=a", "-c", "user.email=a@b.example", *args]
        env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        return subprocess.run(command, env=env, capture_output=True, text=True, check=True).stdout

    git("init", "-q")
    (tmp_path / ".gitattributes").write_text("*.quietspan diff=quietspan\n")
    git("config", "diff.quietspan.textconv", f"'{sys.executable}' -m app.main diff")
    git("add", ".")
    git("commit", "-qm", "first")
    store.save(with_setting(library.example("lab-beam"), "structure.width_m=25 mm"), beam)
    changed = [
        line for line in git("diff").splitlines() if line[:1] in "+-" and line[:3] not in ("+++", "---")
    ]
    assert any(line.startswith("-") and "Width" in line and line.endswith("30 mm") for line in changed)
    assert any(line.startswith("+") and "Width" in line and line.endswith("25 mm") for line in changed)
    assert any("mode 1 frequency" in line for line in changed)


def test_an_unknown_candidate_is_answered_with_those_there_are(beam, here):
    done = here("predict", beam, "--candidate", "Q")
    assert done.returncode == 1
    assert "A (" in done.stderr and "B (" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("content", [None, b"", b"{", b"noise \xff\x00"])
def test_a_bad_file_is_one_sentence_and_code_1(tmp_path, here, content):
    file = tmp_path / "bad.quietspan"
    if content is not None:
        file.write_bytes(content)
    done = here("predict", file)
    assert done.returncode == 1
    assert done.stderr.startswith("quietspan: ")
    assert "bad.quietspan" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_a_layout_with_problems_is_not_predicted_and_each_is_told(tmp_path, here):
    from tests.app.shell.test_session import moved

    file = tmp_path / "off.quietspan"
    store.save(moved(library.example("lab-beam"), 0.29), file)
    done = here("predict", file)
    assert done.returncode == 1
    assert "candidates[A].patches[P1]" in done.stderr
    assert "Traceback" not in done.stderr


def test_sheet_writes_each_format_without_a_display(beam, tmp_path):
    kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    program = "import sys; from app.main import main\nfor out in sys.argv[2:]: assert main(['sheet', sys.argv[1], '--out', out, '--paper', 'A3']) == 0"
    starts = {"pdf": b"%PDF", "svg": b"<?xml", "png": b"\x89PNG"}
    outs = [tmp_path / f"sheet.{suffix}" for suffix in starts]
    done = subprocess.run(
        [sys.executable, "-c", program, str(beam), *map(str, outs)],
        env={**kept, "PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for out, start in zip(outs, starts.values(), strict=True):
        assert out.read_bytes().startswith(start)
        assert str(out) in done.stdout


def test_a_sheet_name_without_a_format_is_refused_in_words(beam, tmp_path, here):
    done = here("sheet", beam, "--out", tmp_path / "sheet.doc")
    assert done.returncode == 2
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
    from app.cli import COMMANDS

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


def test_every_command_is_reached_and_told_of():
    """A command that the program's own list lacked opened no file and wrote nothing, though its parser was there."""
    from app.cli import COMMANDS
    from app.cli.commands import parser
    from app.main import USAGE

    made = next(a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    assert list(made.choices) != [] and set(made.choices) == set(COMMANDS)
    assert all(f"quietspan {name} FILE" in USAGE for name in COMMANDS)
    which = next(a for a in made.choices["card"]._actions if a.dest == "which")
    assert "|".join(which.choices) in USAGE


@pytest.mark.parametrize(("command", "name", "holds"), [("parts", "p.csv", "quantity,part"), ("netlist", "n.cir", ".end")])
def test_parts_and_netlist_are_written_from_the_command(beam, tmp_path, here, command, name, holds):
    done = here(command, beam, "--out", tmp_path / name)
    assert (done.returncode, done.stderr) == (0, "")
    assert holds in (tmp_path / name).read_text().lower()


def test_version_and_wrong_use():
    from app import __version__

    assert quietspan("--version").stdout.strip() == f"quietspan {__version__}"
    wrong = quietspan("--frobnicate")
    assert wrong.returncode == 2
    assert "quietspan --help" in wrong.stderr


def test_self_test_passes_without_a_display():
    done = quietspan("--self-test")
    assert done.returncode == 0, done.stderr
    assert "self-test passed" in done.stdout
