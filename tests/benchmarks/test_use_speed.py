"""Speed of sense, drive, loop and show: a hand on a gain, a filter, a delay, a patch, until it is painted; what is followed
in time; the show's frame."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.results.loop_window import LoopWindow
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from core.circuit.loop.clip import clipping
from core.circuit.switching import simulate
from core.predict.loop.design import loop_view, tuned
from core.predict.predict import predict
from core.project.candidate import Circuit, Tuning
from core.project.loop_edits import close_loop, with_loop
from core.project.model import Project
from tests.app.results.loop_scene import two_groups
from tests.benchmarks.test_window_speed import Hand
from tests.core.predict.scenes import lab

pytestmark = pytest.mark.benchmark


def tuned_loop() -> Project:
    """The lab beam with a closed loop by the closed form."""
    project = two_groups()
    view = loop_view(predict(project).solved)
    assert view is not None
    return close_loop(with_loop(project, tuned(view, "closed form")))


class LoopHand:
    """The window of the loop over a shown main window, and frames as values of the loop move."""

    def __init__(self, qtbot) -> None:
        look.set_look(look.light())
        self.session = Session(tuned_loop())
        self.window = MainWindow(self.session, Settings())
        self.session.setParent(self.window)
        self.window.resize(1600, 1000)
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.window.menus.actions["activeLoop"].trigger()
        self.loop = self.window._loop
        assert isinstance(self.loop, LoopWindow)
        self.loop.resize(1240, 860)
        qtbot.waitUntil(lambda: self.session.strip is not None, timeout=20000)
        qtbot.wait(1500)

    def shown(self) -> None:
        session = self.session
        QApplication.processEvents()
        while session.previewing and session.predicted_for is not session.shown and not session.stale:
            QApplication.processEvents()

    def dragged_to(self, x: int) -> None:
        """The gain's handle."""
        QTest.mouseMove(self.loop.gain, QPoint(x, 14))
        self.shown()

    def previewed(self, project: Project) -> None:
        self.session.preview(project)
        self.shown()

    def let_go(self) -> None:
        self.session.cancel_preview()
        self.session.undo_stack.setClean()
        self.loop.close()
        self.window.close()


def test_gain_drag_to_painted_frame(benchmark, qtbot):
    hand = LoopHand(qtbot)
    QTest.mousePress(hand.loop.gain, Qt.MouseButton.LeftButton, pos=QPoint(20, 14))
    places = iter(np.tile(np.r_[20:120, 120:20:-1], 20).tolist())
    benchmark.pedantic(hand.dragged_to, setup=lambda: ((next(places),), {}), rounds=150, warmup_rounds=10)
    benchmark.extra_info["p95_ms"] = round(1e3 * float(np.percentile(benchmark.stats.stats.data, 95)), 2)
    hand.let_go()


def moving(project: Project, what: str) -> Iterator[Project]:
    """Ever other values of the loop."""
    loop = project.candidate().loop
    first = loop.filters[0]
    for share in np.tile(np.linspace(0.9, 1.1, 53), 100).tolist():
        if what == "filter":
            yield with_loop(project, filters=(replace(first, frequency_hz=share * first.frequency_hz), *loop.filters[1:]))
        else:
            yield with_loop(project, **{what: share * getattr(loop, what)})


@pytest.mark.parametrize("what", ["filter", "delay_s"])
def test_filter_and_delay_drag_to_painted_frame(benchmark, qtbot, what):
    hand = LoopHand(qtbot)
    projects = moving(hand.session.project, what)
    benchmark.pedantic(hand.previewed, setup=lambda: ((next(projects),), {}), rounds=100, warmup_rounds=10)
    hand.let_go()


@pytest.mark.parametrize("what", ["times", "filter", "delay_s"])
def test_what_a_frame_of_the_loop_computes(benchmark, what):
    """The prediction and all the loop's window shows, without painting."""
    projects = moving(tuned_loop(), what)

    def frame(project: Project) -> None:
        found = predict(project)
        _ = found.modes, found.limits
        view = loop_view(found.solved)
        assert view is not None
        _ = view.limit, view.margins, view.changes, view.growing, view.gain, view.locus()

    benchmark.pedantic(frame, setup=lambda: ((next(projects),), {}), rounds=100, warmup_rounds=10)


@pytest.mark.parametrize("use", ["drive", "sense"])
def test_patch_drag_in_a_use_to_painted_frame(benchmark, qtbot, use):
    hand = Hand("lab-beam", (1600, 1000), qtbot, use)
    steps = iter(np.tile(np.r_[1:60, 60:1:-1], 50))
    benchmark.pedantic(hand.frame, setup=lambda: ((float(next(steps)),), {}), rounds=150, warmup_rounds=10)
    benchmark.extra_info["p95_ms"] = round(1e3 * float(np.percentile(benchmark.stats.stats.data, 95)), 2)
    hand.let_go()


def test_clipping_in_time(benchmark):
    view = loop_view(predict(tuned_loop()).solved)
    assert view is not None
    found = benchmark.pedantic(clipping, (view.loop, 1), rounds=3, warmup_rounds=1)
    assert found is not None


def test_switching_in_time(benchmark):
    solved = predict(lab(circuit=Circuit("switched inductor", {"inversion_ratio": 0.6}, Tuning(1)))).solved
    benchmark.pedantic(simulate, (solved.system, 0, 0, 0.6), rounds=5, warmup_rounds=1)


def test_frame_of_the_show(benchmark, qtbot):
    """A moment of the ring-down painted, side view, traces and sound's place."""
    look.set_look(look.light())
    session = Session(two_groups())
    window = MainWindow(session, Settings())
    session.setParent(window)
    window.resize(1600, 1000)
    with qtbot.waitExposed(window):
        window.show()
    window.pages.show_ring_down()
    page = window.pages.ring_down
    assert page is not None
    qtbot.waitUntil(lambda: page.programme is not None, timeout=20000)
    page.clock.stop()
    moments = iter(np.tile(np.linspace(0.0, 1.0, 200), 10).tolist())

    def frame(share: float) -> None:
        page.clock.go_to(share * page.programme.whole_s)
        QApplication.processEvents()

    benchmark.pedantic(frame, setup=lambda: ((next(moments),), {}), rounds=150, warmup_rounds=10)
    session.undo_stack.setClean()
    window.close()
