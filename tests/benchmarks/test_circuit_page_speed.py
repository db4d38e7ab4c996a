"""The Circuit page as a hand meets it: opening it, and a slider's move to the frame painted, for one branch and several."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.circuit.page import CircuitPage
from app.circuit.price_card import PriceCard
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from core.circuit.registry import CIRCUITS
from core.circuit.start import start_values
from core.predict.predict import predict
from core.project import edit, library
from core.project.candidate import Circuit, Tuning

pytestmark = pytest.mark.benchmark
HELD = {"resistor": "resistance_ohm", "series R-L": "inductance_h", "current-flowing 2": "inductance_1_h", "series-parallel 3": "resistance_2_ohm"}


def window_with(kind: str, qtbot) -> MainWindow:
    """The lab beam with that circuit at its optimum."""
    look.set_look(look.light())
    project = library.example("lab-beam")
    group, own = project.candidate().groups[0], predict(project).groups[0]
    values = CIRCUITS[kind].complete(start_values(CIRCUITS[kind], own.blocked_capacitance_f, own.free_capacitance_f))
    wired = replace(group, circuit=Circuit(kind, values, Tuning(1, "optimum")))
    session = Session(edit.with_group(project, project.active, wired))
    window = MainWindow(session, Settings())
    session.setParent(window)
    window.resize(1600, 1000)
    with qtbot.waitExposed(window):
        window.show()
    qtbot.wait(1500)  # candidates, temperatures and doubts are worked out meanwhile
    return window


def close(window: MainWindow) -> None:
    window.session.cancel_preview()
    window.session.undo_stack.setClean()
    window.close()


@pytest.mark.parametrize("kind", HELD)
def test_opening_the_page(benchmark, qtbot, kind):
    """The second time and later, until it is painted; what is worked out beside the window comes after."""
    window = window_with(kind, qtbot)

    def opened() -> None:
        QTest.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
        QApplication.processEvents()

    def away() -> None:
        page = window.findChild(CircuitPage)
        if page is not None:
            assert page.isVisible()
            QTest.keyClick(page, Qt.Key.Key_Escape)
            QApplication.processEvents()
            assert not page.isVisible()

    opened()
    benchmark.pedantic(opened, setup=away, rounds=15, warmup_rounds=2)
    close(window)


@pytest.mark.parametrize("kind", HELD)
def test_slider_to_painted_frame(benchmark, qtbot, kind):
    window = window_with(kind, qtbot)
    QTest.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    page, name = window.findChild(CircuitPage), HELD[kind]
    qtbot.waitUntil(lambda: any(card.price is not None for card in page.prices.cards), timeout=20000)
    slider = next(card for card in page.prices.cards if card.name == name).slider
    page.area.ensureWidgetVisible(slider)
    value = next(one.value for one in page.result.values if one.name == name)
    start = QPoint(round(slider.x_of(value)), slider.height() // 2)
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=start)
    steps = iter(np.tile(np.r_[6:48:6, 36:6:-6], 20))  # far enough for another value of three figures

    def frame(step: int) -> None:
        QTest.mouseMove(slider, start + QPoint(step, 0))
        assert window.session.predicted_for is not window.session.shown
        while window.session.predicted_for is not window.session.shown:
            QApplication.processEvents()
        QApplication.processEvents()

    benchmark.pedantic(frame, setup=lambda: ((int(next(steps)),), {}), rounds=120, warmup_rounds=10)
    benchmark.extra_info["p95_ms"] = round(1e3 * float(np.percentile(benchmark.stats.stats.data, 95)), 2)
    assert isinstance(slider.parent(), PriceCard) and window.session.previewing
    close(window)
