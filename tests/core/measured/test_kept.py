"""Measured files with the project: inside or by path and hash; missing, changed and damaged ones are said, nothing is lost."""

from __future__ import annotations

import base64
import zlib
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from core.measured.kept import (
    carried,
    measurement_of,
    open_kept,
    outside,
    with_file,
    with_files,
    with_measurement,
    without_file,
)
from core.measured.record import MeasuredError
from core.predict.remarks.problems import blocks_prediction, problems_of
from core.project import ceilings, edit, store
from core.project.candidate import Instrument
from core.project.measurement import Bench, MeasuredFile, Measurement, Told
from tests.core.measured.bench import lab
from tests.core.measured.files import lines, record


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "pluck shorted 120k.csv"
    path.write_text("time (s),tip (mm)\n" + lines(*record()), encoding="utf-8")
    return path


@pytest.fixture
def project(file):
    return with_files(lab(), (file,))


def never():
    return False


def test_a_file_is_kept_by_path_and_hash_and_read_again(project, file):
    (kept,) = measurement_of(project).files
    assert (kept.name, kept.leads, kept.data) == (file.name, "shorted", "")
    found = open_kept(kept, never)
    assert found.name == file.name and found.blocks[0].count == 2000
    assert store.loads(store.dumps(project)) == project


def test_what_is_carried_inside_needs_no_file(project, file):
    inside = store.loads(store.dumps(carried(project)))
    file.unlink()
    (kept,) = measurement_of(inside).files
    np.testing.assert_allclose(open_kept(kept, never).blocks[0].responses[0].values[:50], 1e-3 * record()[1][:50], atol=1e-9)
    with pytest.raises(MeasuredError, match="stays inside"):
        outside(inside)


def test_taken_outside_again_it_is_as_before(project):
    assert outside(carried(project)) == project


def test_a_missing_and_a_changed_file_are_said_in_words(project, file):
    (kept,) = measurement_of(project).files
    file.write_text("time (s),tip (mm)\n" + lines(*record(500)), encoding="utf-8")
    with pytest.raises(MeasuredError, match="has changed since"):
        open_kept(kept, never)
    with pytest.raises(MeasuredError, match="has changed since"):
        carried(project)
    anew = with_files(project, (file,))
    assert open_kept(measurement_of(anew).files[0], never).blocks[0].count == 500
    file.unlink()
    with pytest.raises(MeasuredError, match="Drop it again"):
        open_kept(kept, never)


@pytest.mark.parametrize("data", ["not base64!", base64.b64encode(b"no zlib").decode(), base64.b64encode(zlib.compress(b"other")).decode()])
def test_damaged_content_is_said(project, data):
    kept = replace(measurement_of(project).files[0], data=data)
    with pytest.raises(MeasuredError, match="damaged"):
        open_kept(kept, never)


def test_two_files_of_one_name_stay_apart_and_one_is_taken_away(project, tmp_path):
    (tmp_path / "b").mkdir()
    twin = tmp_path / "b" / "pluck shorted 120k.csv"
    twin.write_text("1,2\n" * 10, encoding="utf-8")
    both = with_files(project, (twin,))
    first, second = measurement_of(both).files
    assert second.name == "pluck shorted 120k.csv (2)" and second.path != first.path
    assert without_file(both, second.name) == project
    assert without_file(project, first.name).measurements == ()


def test_what_was_told_goes_with_the_file(project):
    kept = measurement_of(project).files[0]
    told = with_file(project, replace(kept, told=Told(time_unit="ms"), confirmed=True))
    found = open_kept(measurement_of(told).files[0], never)
    assert found.blocks[0].step == pytest.approx(2e-7)


def test_too_many_and_too_large_are_refused(project, monkeypatch, tmp_path):
    monkeypatch.setattr(ceilings, "MOST_CARRIED_BYTES", 100)
    with pytest.raises(MeasuredError, match="carries at most"):
        carried(project)
    monkeypatch.setattr(ceilings, "MOST_MEASURED_FILES", 1)
    more = tmp_path / "more.csv"
    more.write_text("1,2\n", encoding="utf-8")
    with pytest.raises(MeasuredError, match="at most 1 files"):
        with_files(project, (more,))


def test_impossible_numbers_are_told_and_keep_no_prediction_back():
    bench = Bench(temperature_c=-400.0, sensor_kg=-1.0, instrument=Instrument(resistance_ohm=0.0))
    files = (MeasuredFile("a.csv", leads="resistor", resistance_ohm=-5.0, told=Told(interval_s=0.0), window_s=(0.0, 1e9)),)
    bad = with_measurement(lab(), Measurement("A", files, bench, "017", capacitance_f=0.0))
    found = problems_of(bad, "A")
    told = {p.path for p in found}
    assert {"measurements[0].capacitance_f", "measurements[0].bench.sensor_kg", "measurements[0].bench.instrument.resistance_ohm",
            "measurements[0].files[0].told.interval_s", "measurements[0].files[0].window_s"} <= told  # fmt: skip
    assert not any(map(blocks_prediction, found))
    assert any("Mass of the sensor is −1000 g" in p.message for p in found)


def test_a_new_candidate_of_an_old_letter_inherits_no_measurement(project):
    two = edit.duplicate_candidate(project, "A")
    letter = two.candidates[1].id
    moved = with_files(two, (Path(measurement_of(project).files[0].path),), letter)
    gone = edit.delete_candidate(moved, letter)
    assert [m.candidate for m in gone.measurements] == ["A"]
    again = edit.duplicate_candidate(gone, "A")
    assert again.candidates[1].id == letter and measurement_of(again, letter).files == ()
