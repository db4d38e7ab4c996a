"""A canvas on a real session, shown without a screen, and a mouse in millimetres."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QWidget

from app.drawing.canvas import SpanCanvas
from app.drawing.plan import y_scale
from app.drawing.side import z_scale
from app.shell.session import Session
from tests.app.drawing import stand_in

NO_KEYS = Qt.KeyboardModifier.NoModifier


class Mouse:
    """Presses, moves and releases the left button at points of the surface."""

    def __init__(self, widget: QWidget) -> None:
        self.widget = widget

    def _send(self, kind: QEvent.Type, at: QPointF, button, buttons, keys) -> None:
        where = QPointF(self.widget.mapToGlobal(QPoint(0, 0))) + at
        QApplication.sendEvent(self.widget, QMouseEvent(kind, at, where, button, buttons, keys))

    def press(self, at: QPointF, keys=NO_KEYS) -> None:
        left = Qt.MouseButton.LeftButton
        self._send(QEvent.Type.MouseButtonPress, at, left, left, keys)

    def move(self, at: QPointF, keys=NO_KEYS) -> None:
        self._send(QEvent.Type.MouseMove, at, Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton, keys)
        QApplication.processEvents()

    def release(self, at: QPointF, keys=NO_KEYS) -> None:
        left = Qt.MouseButton.LeftButton
        self._send(QEvent.Type.MouseButtonRelease, at, left, Qt.MouseButton.NoButton, keys)
        QApplication.processEvents()

    def drag(self, start: QPointF, end: QPointF, keys=NO_KEYS, steps: int = 5) -> None:
        self.press(start, keys)
        for step in range(1, steps + 1):
            self.move(start + (end - start) * (step / steps), keys)
        self.release(end, keys)


class Bench:
    """A shown canvas with its session, and where things are on it."""

    def __init__(self, session: Session, canvas: SpanCanvas) -> None:
        self.session, self.canvas, self.surface = session, canvas, canvas.surface
        self.mouse = Mouse(canvas.surface)

    def patch(self, patch_id: str = "P1"):
        patches = self.session.project.candidate().patches
        return next(patch for patch in patches if patch.id == patch_id)

    def plan(self, x_m: float, y_m: float = 0.0) -> QPointF:
        """A point of the plan."""
        page = self.surface.page()
        ys = y_scale(page.plan, self.surface.view.structure.widest_m, page.scale)
        return QPointF(page.scale.px(x_m), ys.px(y_m))

    def side(self, x_m: float, z_m: float) -> QPointF:
        """A point of the side view."""
        view, page = self.surface.view, self.surface.page()
        zs = z_scale(page.side, view.structure, view.patches, page.scale)
        return QPointF(page.scale.px(x_m), zs.px(z_m))

    def pixels(self, length_m: float) -> float:
        return length_m * self.surface.page().scale.px_per_m


@pytest.fixture
def make_bench(qtbot):
    """Opens a canvas on a project."""
    made: list[Session] = []

    def make(project=None) -> Bench:
        session = Session(stand_in.project() if project is None else project)
        made.append(session)
        canvas = SpanCanvas(session)
        qtbot.addWidget(canvas)
        canvas.resize(680, 720)
        with qtbot.waitExposed(canvas):
            canvas.show()
        canvas.surface.setFocus()
        return Bench(session, canvas)

    yield make
    for session in made:
        session.close()


@pytest.fixture
def bench(make_bench) -> Bench:
    return make_bench()
