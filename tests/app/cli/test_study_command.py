"""`quietspan study` as typed: text, JSON, CSV, and trouble in a sentence."""

from __future__ import annotations

import csv
import json

import pytest
from msgspec.structs import replace

from app.main import main
from core.project import library, store
from tests.levels import beam_example


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "beam.quietspan"
    store.save(beam_example("lab-beam"), path)
    return path


def test_tolerance_as_json(file, tmp_path, capsys):
    out = tmp_path / "found.json"
    assert main(["study", str(file), "--samples", "256", "--seed", "4", "--out", str(out)]) == 0
    report = json.loads(out.read_text(encoding="utf-8"))
    assert report["format"] == "quietspan tolerance" and report["samples"] == 256
    first = report["modes"][0]
    assert first["zeta"]["p10"] < first["zeta"]["p50"] < first["zeta"]["p90"]
    assert first["causes_of_zeta"][0]["share"] >= first["causes_of_zeta"][1]["share"]
    told = capsys.readouterr().out
    assert "256 samples, seed 4" in told and "Main causes" in told


def test_samples_as_csv(file, tmp_path):
    out = tmp_path / "found.csv"
    assert main(["study", str(file), "--samples", "64", "--candidate", "C", "--out", str(out)]) == 0
    with out.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert len(rows) == 65 and len(set(map(len, rows))) == 1
    assert rows[0][0] == "candidates[C].patches[P1].x_start_m" and "zeta_mode_1" in rows[0]
    assert 0.0 < float(rows[1][rows[0].index("zeta_mode_1")]) < 0.2


def test_map_and_search(file, tmp_path, capsys):
    out = tmp_path / "map.json"
    assert main(["study", str(file), "--kind", "map", "--out", str(out)]) == 0
    report = json.loads(out.read_text(encoding="utf-8"))
    assert len(report["values"]) == len(report["x_start_m"])
    assert report["best"]["value"] > 0.0
    assert main(["study", str(file), "--kind", "search", "--mode", "2"]) == 0
    assert "Best found: damping of mode 2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--candidate", "Q"], "There is no candidate 'Q'"),
    ],
)
def test_trouble_is_a_sentence(file, capsys, arguments, words):
    assert main(["study", str(file), *arguments]) == 1
    assert words in capsys.readouterr().err


def test_no_patch_is_a_sentence(tmp_path, capsys):
    project = library.example("lab-beam")
    bare = replace(project.candidate("A"), patches=(), groups=())
    path = tmp_path / "bare.quietspan"
    store.save(replace(project, candidates=(bare,), active="A"), path)
    for kind in ("tolerance", "map"):
        assert main(["study", str(path), "--kind", kind]) == 1
        assert "no patch" in capsys.readouterr().err


def test_predict_tells_the_temperatures(file, capsys):
    assert main(["predict", str(file)]) == 0
    assert "Temperature: cold / reference / hot, 18 / 20 / 26 °C" in capsys.readouterr().out
    assert main(["predict", str(file), "--json"]) == 0
    points = json.loads(capsys.readouterr().out)["temperature"]
    assert [p["name"] for p in points] == ["cold", "reference", "hot"]
