"""Speed a person feels: mouse move to painted frame in the real window, and the window's start."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from app.drawing.canvas import SpanCanvas
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.start import calm_collector
from app.shell.window import MainWindow
from app.theme import look
from core.project import library
from tests.app.drawing.conftest import Bench

pytestmark = pytest.mark.benchmark
ROOT = Path(__file__).resolve().parents[2]

START_SCRIPT = """
import sys, time
began = float(sys.argv[1])
from app.main import main
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
import app.shell.start as start
made = start.make_window
def timed(*a, **k):
    window = made(*a, **k)
    def painted():
        print("painted", time.time() - began, flush=True)
        window.close()
        QApplication.quit()
    QTimer.singleShot(0, lambda: QTimer.singleShot(0, painted))
    return window
start.make_window = timed
sys.exit(main([]))
"""


@pytest.mark.parametrize("name", ["lab-beam", "touring-ski"])
def test_mouse_move_to_painted_frame(benchmark, qtbot, name):
    look.set_look(look.light())
    project = library.example(name)
    session = Session(project)
    window = MainWindow(session, Settings())
    session.setParent(window)
    window.resize(1280, 800)
    with qtbot.waitExposed(window):
        window.show()
    qtbot.waitUntil(lambda: session.strip is not None, timeout=20000)
    QApplication.processEvents()
    calm_collector()  # as the program does once its window is up
    canvas = window.findChild(SpanCanvas)
    bench = Bench(session, canvas)
    patch = project.candidate().patches[0]
    at = bench.plan(patch.x_start_m + 0.5 * patch.length_m)
    bench.mouse.press(at)
    steps = iter(np.tile(np.r_[1:60, 60:1:-1], 50))

    def frame(offset: float) -> None:
        where = at + QPointF(offset, 0.0)
        event = QMouseEvent(
            QEvent.Type.MouseMove, where, QPointF(canvas.surface.mapToGlobal(QPoint(0, 0))) + where,
            Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
        )
        QApplication.sendEvent(canvas.surface, event)
        while session.previewing and session.predicted_for is not session.shown and not session.stale:
            QApplication.processEvents()
        QApplication.processEvents()

    benchmark.pedantic(frame, setup=lambda: ((float(next(steps)),), {}), rounds=300, warmup_rounds=20)
    benchmark.extra_info["p95_ms"] = round(1e3 * float(np.percentile(benchmark.stats.stats.data, 95)), 2)
    session.cancel_preview()
    session.undo_stack.setClean()
    window.close()


def test_window_is_up(benchmark, tmp_path):
    """From the command to the first painted window, a new process each time."""

    def start() -> float:
        out = subprocess.run(
            [sys.executable, "-c", START_SCRIPT, str(time.time())], cwd=ROOT, capture_output=True, text=True,
            timeout=60, check=True,
            env={**__import__("os").environ, "QT_QPA_PLATFORM": "offscreen", "QUIETSPAN_HOME": str(tmp_path)},
        )
        assert "painted" in out.stdout, out.stderr
        return float(out.stdout.split()[1])

    start()
    taken = [start() for _ in range(5)]
    benchmark.extra_info["median_s"] = round(float(np.median(taken)), 3)
    benchmark.pedantic(start, rounds=1)
