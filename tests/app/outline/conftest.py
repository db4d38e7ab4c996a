"""The import preview on the worked example, and a hand on its sheet."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from app.outline.import_dialog import ImportDialog
from app.shell.session import Session
from tests.levels import beam_example

OUTLINES = Path(__file__).parents[3] / "resources" / "outlines"
LEFT = Qt.MouseButton.LeftButton
NO_KEYS = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def open_import(qtbot):
    """Opens the preview on a file and waits until it is read."""
    sessions: list[Session] = []

    def make(path: Path | None = None) -> ImportDialog:
        session = Session(beam_example("lab-beam"))
        sessions.append(session)
        dialog = ImportDialog(session, path)
        dialog.resize(1180, 740)  # as on a screen of the usual size, so that a pixel is a pixel
        qtbot.addWidget(dialog)
        with qtbot.waitExposed(dialog):
            dialog.show()
        if path is not None:
            wait_read(qtbot, dialog)
        return dialog

    yield make
    for session in sessions:
        session.close()


def wait_read(qtbot, dialog: ImportDialog) -> None:
    def told() -> bool:
        return bool(dialog.state or dialog.hand.tracing or dialog.outcome.error)

    qtbot.waitUntil(told, timeout=20_000)


def drag(dialog: ImportDialog, start: QPointF, end: QPointF, keys=NO_KEYS) -> None:
    """Press at `start`, move to `end` in steps, let go."""
    sheet = dialog.sheet
    QTest.mousePress(sheet, LEFT, keys, start.toPoint())
    for step in range(1, 6):
        at = start + (end - start) * (step / 5)
        send_move(sheet, at, keys)
    QTest.mouseRelease(sheet, LEFT, keys, end.toPoint())


def send_move(widget, at: QPointF, keys) -> None:
    from PySide6.QtCore import QEvent
    from PySide6.QtGui import QMouseEvent
    from PySide6.QtWidgets import QApplication

    where = QPointF(widget.mapToGlobal(at.toPoint()))
    move = QMouseEvent(QEvent.Type.MouseMove, at, where, Qt.MouseButton.NoButton, LEFT, keys)
    QApplication.sendEvent(widget, move)


def click(dialog: ImportDialog, x_m: float, y_m: float) -> None:
    QTest.mouseClick(dialog.sheet, LEFT, NO_KEYS, dialog.sheet.scale.px(x_m, y_m).toPoint())
