"""`quietspan measure` from files to the sentence, without a window."""

from __future__ import annotations

import json

import numpy as np
import pytest

from app.main import main
from core.project import store
from tests.core.measured.bench import lab, record


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Two records of the lab beam as a box writes them, and its project."""
    made = tmp_path_factory.mktemp("measured")
    for name, is_open in (("pluck shorted.csv", False), ("pluck open.csv", True)):
        block = record(lab(), is_open=is_open, seed=int(is_open), length_s=8.0)
        table = np.stack([block.axis, 1e3 * block.channels[0].values], axis=1)
        np.savetxt(made / name, table, fmt="%.7f", delimiter=";", header="Time (s);tip (mm)", comments="")
    store.save(lab(), made / "lab.quietspan")
    return made


def told(capsys, *arguments):
    code = main(["measure", *map(str, arguments)])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_two_files_and_a_project_give_the_sentence(folder, capsys):
    code, out, _ = told(capsys, folder / "pluck shorted.csv", folder / "pluck open.csv", "--project", folder / "lab.quietspan")
    assert code == 0
    assert out.startswith("The bond is good.")
    assert "pluck open.csv: open" in out and "mode 2: 118." in out
    assert "frequency, shorted, mode 1: 19.78" in out and "K², open over shorted, mode 1: 1.51 % over 1.51 %" in out


def test_json_holds_the_same(folder, capsys):
    code, out, _ = told(
        capsys, folder / "pluck shorted.csv", folder / "pluck open.csv", "--project", folder / "lab.quietspan", "--json"
    )
    found = json.loads(out)
    assert code == 0 and found["verdict"]["code"] == "good"
    assert found["couplings"][0]["k2"] == pytest.approx(0.01506, rel=0.01)
    assert found["files"][1]["leads"] == "open" and found["understood"]["pluck open.csv"][0]["source"] == "file"


def test_one_file_without_a_project_is_identified(folder, capsys):
    code, out, _ = told(capsys, folder / "pluck shorted.csv")
    assert code == 0 and "mode 1: 19.78" in out and "half-power" in out


def test_names_that_tell_no_state_ask_for_it_and_take_it(folder, capsys, tmp_path):
    for n, name in enumerate(("pluck shorted.csv", "pluck open.csv")):
        (tmp_path / f"{n}.csv").write_bytes((folder / name).read_bytes())
    code, _, err = told(capsys, tmp_path / "0.csv", tmp_path / "1.csv")
    assert code == 1 and "--leads shorted,open" in err
    code, out, _ = told(capsys, tmp_path / "0.csv", tmp_path / "1.csv", "--leads", "shorted,open")
    assert code == 0 and "K² of mode 1: 1.5" in out


def test_a_missing_file_is_one_sentence(folder, capsys):
    code, out, err = told(capsys, folder / "gone.csv")
    assert code == 1 and not out and '"gone.csv" is not there' in err
