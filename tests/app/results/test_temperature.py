"""Cold, reference, hot in the results: there after a moment, marked old during a drag, in the tables."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from app.results.temperature_rows import temperature_rows, temperature_table
from app.results.temperature_watch import TemperatureWatch
from app.shell.session import Session
from app.sidebyside.rows import cold_rows
from core.project import edit
from core.study.temperature.temperature import temperature_study
from tests.levels import beam_example


@pytest.fixture
def ski(qapp):
    made = Session(replace(beam_example("touring-ski"), active="C"))
    yield made
    made.close()


def test_the_study_comes_and_goes_old_under_a_drag(ski, qtbot):
    watch = TemperatureWatch(ski, ski)
    qtbot.waitUntil(lambda: not watch.is_old, timeout=10_000)
    first = watch.study
    assert [p.temperature_c for p in first.points] == [-25.0, 20.0, 30.0]
    patch = ski.project.candidate().patches[1]
    moved = edit.with_patch(ski.project, "C", replace(patch, x_start_m=patch.x_start_m + 1e-3))
    ski.preview(moved)
    qtbot.waitUntil(lambda: watch.is_old, timeout=2_000)
    qtbot.wait(300)
    assert watch.study is first, "nothing is worked out while a hand drags"
    ski.commit_preview("Move P2")
    qtbot.waitUntil(lambda: not watch.is_old, timeout=10_000)
    assert watch.study != first


def test_rows_mark_what_the_cold_costs():
    study = temperature_study(beam_example("touring-ski"), "C")
    rows = temperature_rows(study)
    first = rows[0]
    assert first.name == "Mode 1" and first.marked == (True, False, False)
    assert rows[1].name == "re-trimmed"
    assert [r.name for r in rows if r.mode is None] == ["G1 free C", "off its tuning", "1 constant held"]
    assert rows[-2].cells[1] == "0 %" and rows[-2].cells[0].startswith("+5")
    assert "Cover foil" in rows[-1].tip
    assert temperature_table(study)[0] == ["Temperature", "cold, −25 °C", "reference, 20 °C", "hot, 30 °C"]


def test_the_comparison_has_a_row_a_mode():
    project = beam_example("touring-ski")
    studies = [temperature_study(project, "A"), None]
    rows = cold_rows(studies, 0)
    assert [r.label for r in rows] == [f"Damping when cold, mode {n}" for n in range(1, 6)]
    assert rows[0].cells[1].value is None
    assert cold_rows([None, None], 0) == []


def test_the_panel_shows_it(window, qtbot):
    panel = window.results
    qtbot.waitUntil(lambda: not panel.temperature_watch.is_old, timeout=10_000)
    words = panel.temperature.sentences()
    assert words[0] == "At 18 °C / 20 °C / 26 °C"
    assert words[1].startswith("Mode 1: 0.5")
    assert panel.temperature.isVisibleTo(panel)
