"""What a frame of a drag works out, and that nothing of it stays old when the hand rests or lets go."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QToolButton

from app.drawing.limit_marks import limit_marks
from app.panels.input_panel import InputPanel
from app.results.answer_lines import worst_limit
from app.results.response_chart import AFTER, BEFORE
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from core.predict.parts import PARTS
from core.project import library
from core.project.model import Project
from tests.app.conftest import discard_changes
from tests.app.drawing.conftest import Bench
from tests.levels import beam_example

NEVER_IN_A_FRAME = {"remarks", "leads", "assumed_inputs", "circuit_poles", "torsion"}


@pytest.fixture
def open_window(qtbot):
    def made(project: Project, size: tuple[int, int]) -> MainWindow:
        look.set_look(look.light())
        window = MainWindow(Session(project), Settings())
        window.session.setParent(window)
        qtbot.addWidget(window, before_close_func=discard_changes)
        window.resize(*size)
        with qtbot.waitExposed(window):
            window.show()
        QApplication.processEvents()
        return window

    return made


def drag(window: MainWindow, *to_m: float) -> Bench:
    """Press on the patch and move it so that its start goes to each place in turn."""
    bench = Bench(window.session, window.canvas)
    patch = window.session.project.candidate().patches[0]
    at = bench.plan(patch.x_start_m + 0.5 * patch.length_m)
    bench.mouse.press(at)
    for start_m in to_m:
        bench.mouse.move(bench.plan(start_m + 0.5 * patch.length_m))
        QApplication.processEvents()
    return bench


def shown(window: MainWindow) -> dict[str, object]:
    """Everything that comes from the prediction, as a person sees it."""
    side, results, panel = window.answers, window.results, window.findChild(InputPanel)
    told = {
        "answer": side.block.lines,
        "alarm": results.alarm_lines,
        "bars": results.bars.sentences(),
        "peaks": results.peaks.sentences(),
        "limits": results.limits.sentences(),
        "groups": results.groups.sentences(),
        "masses": results.masses.sentences(),
        "remarks": results.remarks.lines,
        "assumed": sorted(results.assumed.lines),
        "split": "" if results.split.isHidden() else results.split.words.text(),
        "circuit": panel.circuit.findings.text(),
        "capacitance": panel.circuit.capacitance.told.text(),
        "summaries": {name: section.summary for name, section in results._sections.items() if name != "temperature"},
        "abouts": {name: section._about.text() for name, section in results._sections.items() if name != "temperature"},
        "curves": [
            np.round(values, 12).tolist()
            for chart in (results.response, results.ring_down)
            for key in (BEFORE, AFTER)
            for values in chart.curve_data(key)
        ],
    }
    view = window.canvas.surface.view
    told["modes"] = [(m.number, m.frequency_hz, m.deflection.tolist(), m.strain_nodes_m.tolist()) for m in view.modes]
    told["marks"] = view.marks
    told["problems"] = [row.problem() for section in panel.sections for row in section.form_rows()]
    return told


@pytest.mark.parametrize("size", [(1280, 800), (1600, 1000)], ids=str)
@pytest.mark.parametrize(("key", "places"), [("touring-ski", (0.06, 0.45, 0.12)), ("louvre-blade", (0.2, 0.05, 0.17))])
def test_after_release_everything_is_of_the_layout_let_go_of(open_window, key, places, size):
    """Through places with other remarks, limits and offers, in one go; the ski as shipped."""
    window = open_window(library.example(key) if key == "touring-ski" else beam_example(key), size)
    start = window.session.project.candidate().patches[0].x_start_m
    bench = drag(window, *places)
    bench.mouse.release(bench.plan(places[-1]))
    assert not window.session.previewing
    assert window.session.project.candidate().patches[0].x_start_m != start and not window.session.stale
    fresh = open_window(window.session.project, size)
    after, wanted = shown(window), shown(fresh)
    for name, value in wanted.items():
        assert after[name] == value, name


def test_a_frame_asks_for_what_is_seen(open_window, qtbot):
    window = open_window(library.example("touring-ski"), (1600, 1000))
    window.session._rest.setInterval(60_000)  # a busy machine must not make it rest between two moves
    bench = drag(window, 0.10, 0.12)
    asked = window.session.prediction.asked_for
    assert {"modes", "shapes", "errors"} <= asked
    assert not NEVER_IN_A_FRAME & asked
    twists = [mode for mode in window.canvas.surface.view.modes if mode.edges is not None]
    assert twists and all(mode.old and "when the hand rests" in mode.told for mode in twists)
    with qtbot.waitSignal(window.session.hand_rests, timeout=5000):
        window.session._rest.start(1)
    assert {"remarks", "assumed_inputs", "ring_down", "torsion"} <= window.session.prediction.asked_for
    assert not any(mode.old for mode in window.canvas.surface.view.modes)
    bench.mouse.release(bench.plan(0.12))
    assert window.session.prediction.asked_for == PARTS


def test_limits_follow_a_moving_hand_at_a_lower_rate_and_a_resting_one_at_once(open_window, qtbot, monkeypatch):
    """Those of a moment ago stay on screen; the first frame, the hand at rest and the release tell those of the place."""
    window = open_window(library.example("touring-ski"), (1600, 1000))
    session = window.session
    session._rest.setInterval(60_000)
    window.results.show_limits()
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY_S", 60.0)
    bench = drag(window, 0.10)
    first = session.limits
    assert first is session.prediction.limits and session.tells_loads
    bench.mouse.move(bench.plan(0.45))
    QApplication.processEvents()
    assert "limits" not in session.prediction.asked_for and not session.tells_loads
    assert session.limits is first and window.answers.block.lines.limit == worst_limit(first)
    assert window.canvas.surface.view.marks == limit_marks(first)
    rows = window.results.limits.sentences()
    with qtbot.waitSignal(session.hand_rests, timeout=5000):
        session._rest.start(1)
    assert session.limits is session.prediction.limits and session.limits != first
    assert window.answers.block.lines.limit == worst_limit(session.limits)
    assert window.canvas.surface.view.marks == limit_marks(session.limits)
    assert window.results.limits.sentences() != rows
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY_S", 0.0)
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY", 1)
    bench.mouse.move(bench.plan(0.25))
    QApplication.processEvents()
    assert session.limits is session.prediction.limits
    bench.mouse.release(bench.plan(0.25))
    assert session.limits is session.prediction.limits


def test_charts_take_turns_while_a_hand_moves_and_are_of_the_place_where_it_rests(open_window, qtbot, monkeypatch):
    window = open_window(library.example("touring-ski"), (1600, 1000))
    session, charts = window.session, {"response", "ring_down"}
    session._rest.setInterval(60_000)
    monkeypatch.setattr("app.results.pace.EVERY_S", 0.0)
    monkeypatch.setattr("app.results.pace.EVERY", 1)
    bench = drag(window, 0.10)
    asked = [session.prediction.asked_for & charts]
    for place in (0.11, 0.12):
        bench.mouse.move(bench.plan(place))
        QApplication.processEvents()
        asked.append(session.prediction.asked_for & charts)
    assert [len(one) for one in asked] == [1, 1, 1] and asked[0] == asked[2] != asked[1]
    monkeypatch.setattr("app.results.pace.EVERY_S", 60.0)
    before = [shown(window)[name] for name in ("curves", "peaks")]
    bench.mouse.move(bench.plan(0.16))
    QApplication.processEvents()
    assert not session.prediction.asked_for & charts
    assert before == [shown(window)[name] for name in ("curves", "peaks")]
    with qtbot.waitSignal(session.hand_rests, timeout=5000):
        session._rest.start(1)
    resting = shown(window)
    assert charts <= session.prediction.asked_for and resting["curves"] != before[0] and resting["peaks"] != before[1]
    bench.mouse.release(bench.plan(0.16))
    assert [shown(window)[name] for name in ("curves", "peaks")] == [resting[name] for name in ("curves", "peaks")]


def test_what_is_folded_is_not_worked_out_until_it_is_unfolded(open_window, qtbot):
    window = open_window(library.example("touring-ski"), (1600, 1000))
    titles = [window.results.findChild(QToolButton, f"fold {title}") for title in ("Response", "Limits, worst first")]
    for title in titles:
        qtbot.mouseClick(title, Qt.MouseButton.LeftButton)
    window.results.verticalScrollBar().setValue(0)
    bench = drag(window, 0.10, 0.12)
    assert "response" not in window.session.prediction.asked_for
    qtbot.mouseClick(titles[0], Qt.MouseButton.LeftButton)
    assert "response" in window.session.prediction.asked_for
    bench.mouse.release(bench.plan(0.12))


def test_the_collector_sleeps_while_the_window_is_made_and_no_longer():
    program = (
        "import gc, app.shell.start as start; made = start.make_window; seen = [];"
        "from PySide6.QtCore import QTimer; from PySide6.QtWidgets import QApplication\n"
        "def watched():\n"
        "    seen.append(gc.isenabled())\n"
        "    QTimer.singleShot(50, lambda: (seen.append(gc.isenabled()), QApplication.quit()))\n"
        "    return made()\n"
        "start.make_window = lambda *a: watched(); from app.main import main; main([]); print(seen); import os; os._exit(0)"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "[False, True]", done.stderr


def test_the_window_is_made_without_what_only_other_pages_need():
    """Each costs tens of milliseconds before the first picture."""
    program = (
        "import sys; import numpy; there = set(sys.modules); import app.shell.start as start; start.make_application(); window = start.make_window();"
        "late = ('pyqtgraph', 'scipy', 'shapely', 'ezdxf', 'pint', 'numpy.ma.', 'app.sidebyside.page', 'app.studies.page',"
        " 'app.handover', 'app.outline', 'app.help');"
        "bad = [m for m in sys.modules if m.startswith(late) and m not in there]; print(bad); import os; os._exit(len(bad) > 0)"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
