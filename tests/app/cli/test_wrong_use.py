"""One line for whatever a command line may hold: the option, the text, what is allowed; and the exit codes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from app.main import main
from core.project import library, store


@pytest.fixture(scope="module")
def beam(tmp_path_factory):
    file = tmp_path_factory.mktemp("wrong") / "Prüfstand, Träger 2.quietspan"
    store.save(library.example("lab-beam"), file)
    return file


def said(capsys, *args):
    """Exit code and the one line on the error stream."""
    try:
        code = main([str(one) for one in args])
    except SystemExit as ended:
        code = ended.code
    told = capsys.readouterr()
    assert told.out == "" and told.err.endswith("\n") and told.err.count("\n") == 1, told
    return code, told.err


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("frobnicate FILE", " is no command; "),
        ("predikt FILE", "did you mean 'quietspan predict'?"),
        ("--frobnicate", "'quietspan --help' tells them all"),
        ("predict", "FILE"),
        ("predict FILE --frobnicate", "--frobnicate"),
        ("predict FILE --level fine", "'fine' (choose from "),
        ("predict FILE --csv a.csv --json", "the table or the JSON text, not both"),
        ("predict FILE --prices", "Add --json"),
        ("sheet FILE", "--out"),
        ("sheet FILE --out sheet.doc", "End the name in one of: .pdf, .svg, .png, .dxf"),
        ("sheet FILE --out s.pdf --paper A9", "'A9' (choose from "),
        ("card FILE --out c.pdf --which buyer", "'buyer' (choose from "),
        ("card FILE --out c.pdf --readings r.csv", "Add --which bonding"),
        ("template FILE --out t.pdf --bar-along nan", '"nan" is not a finite number'),
        ("template FILE --out t.pdf --bar-along 3kg", "a length was expected"),
        ("study FILE --samples nan", '"nan" is no whole number from 10 to 10000000'),
        ("study FILE --samples 3", "from 10 to 10000000"),
        ("study FILE --samples 1e9", "from 10 to 10000000"),
        ("study FILE --seed -1", '"-1" is no whole number from 0 to '),
        ("study FILE --mode 0", '"0" is no whole number from 1 to 40'),
        ("study FILE --out found.txt", "must end in .json or .csv"),
        ("study FILE --kind sweep", "'sweep' (choose from "),
        ("study FILE --quantity beauty", "'beauty' (choose from "),
        ("study FILE --weights=-1,2", "from 0 on"),
        ("study FILE --weights nan", "not a finite number"),
        ("study FILE --target one", "write MODE:VALUE"),
        ("study FILE --target 0:2%", "write MODE:VALUE"),
        ("study FILE --patches 7", "write 1, 2 or 1,2"),
        ("study FILE --length 20", "write two lengths"),
        ("study FILE --length 60,20", "the first must be the smaller"),
        ("study FILE --between=-5,20", "from 0 on"),
        ("study FILE --most-mass 3mm", "a mass was expected"),
        ("study FILE --most-mass 0", "above 0 g"),
        ("study FILE --least-margin -1", "0 or more"),
        ("study FILE --mode 2", "--mode goes with --kind map or --kind search; this is --kind tolerance"),
        ("study FILE --kind map --samples 100", "--samples goes with --kind tolerance"),
        ("study FILE --kind search --over width", "--over goes with --kind map"),
        ("study FILE --kind map --ignore-keep-outs", "--ignore-keep-outs goes with --kind search"),
        ("measure a.csv --temperature -500", "the least allowed is −273.15 °C"),
        ("measure a.csv --temperature cold", "does not start with a number"),
        ("measure a.csv --sensor 1e308", "the most allowed is 10000 g"),
        ("measure a.csv --input 0", "must be above 0"),
        ("measure a.csv --candidate B", "Add --project FILE"),
    ],
)
def test_a_command_line_that_makes_no_sense_is_one_line_and_code_2(beam, capsys, line, words):
    code, told = said(capsys, *(beam if word == "FILE" else word for word in line.split()))
    assert (code, words in told, told.startswith("quietspan")) == (2, True, True), told


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("predict NONE", '"none.quietspan" is not there'),
        ("measure NONE", '"none.quietspan" is not there'),
        ("measure LONG", "file name too long"),
        ("predict FILE --candidate Q", "There are: A ("),
        ("predict FILE --set structure.span_m=1e308", "is 1e311 mm; it must be from 0 mm"),
        ("predict FILE --csv NONE/table.csv", "is not there. Make it, or choose another one"),
        ("predict FILE --csv LONG", "a name takes up to 255 bytes"),
        ("study FILE --out NONE/found.json", "is not there. Make it"),
        ("study FILE --kind map --mode 9", "looks at modes 1 to 5"),
        ("study FILE --kind search --mode 9", "looks at modes 1 to 5"),
        ("sheet FILE --out NONE/s.pdf", "is not there. Make it"),
        ("record FILE --out LONG.pdf", "a name takes up to 255 bytes"),
        ("card FILE --out c.pdf --which bonding --readings NONE", '"none.quietspan" could not be read: no such file'),
        ("card FILE --out c.pdf --which bonding --readings FILE", '"Prüfstand, Träger 2.quietspan": There is no column'),
    ],
)
def test_what_cannot_be_worked_on_is_one_line_and_code_1(beam, capsys, line, words):
    stands = {"FILE": str(beam), "NONE": str(beam.parent / "none.quietspan"), "LONG": str(beam.parent / ("n" * 300))}
    told_args = []
    for word in line.split():
        for name, path in stands.items():
            word = word.replace(name, path)
        told_args.append(word)
    code, told = said(capsys, *told_args)
    assert (code, words in told, told.startswith("quietspan: ")) == (1, True, True), told


def started(line, *, shell=False):
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(
        ["bash", "-c", line] if shell else [sys.executable, "-m", "app.main", *line],
        env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="the system has no device that is full")
@pytest.mark.parametrize("verb", ["--version", "predict '{}'", "predict '{}' --json"])
def test_a_full_disk_behind_the_output_is_told(beam, verb):
    """The shell opens the device; nothing here writes to it by name."""
    words = verb.format(beam)
    done = started(f"'{sys.executable}' -m app.main {words} >/dev/full", shell=True)
    _, told = done.communicate(timeout=60)
    assert done.returncode == 1
    assert told == "quietspan: what was to be printed could not be written: no space left on device.\n"


@pytest.mark.skipif(sys.platform == "win32", reason="the shell there closes no stream")
def test_closed_streams_are_no_trouble(beam, tmp_path):
    done = started(f"'{sys.executable}' -m app.main sheet '{beam}' --out '{tmp_path}/ä ö.svg' <&- >&-", shell=True)
    assert done.communicate(timeout=60)[1] == "" and done.returncode == 0
    assert len(list(tmp_path.iterdir())) >= 1


@pytest.mark.skipif(sys.platform == "win32", reason="a process there is not interrupted by a signal")
def test_ctrl_c_ends_a_study_at_once_and_without_a_traceback(beam):
    done = started(["study", str(beam), "--samples", "300000"])
    time.sleep(4.0)
    done.send_signal(signal.SIGINT)
    begun = time.monotonic()
    out, told = done.communicate(timeout=60)
    assert (done.returncode, out, told.strip()) == (130, "", "quietspan: stopped")
    assert time.monotonic() - begun < 10.0
