"""The middle of the window: the span with everything that is a function of x, on one axis."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QPointF, Qt, Signal
from PySide6.QtGui import (
    QGuiApplication,
    QPainter,
    QPixmap,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

from app.drawing.arrangement import least_height
from app.drawing.describe import spoken
from app.drawing.ink import Ink
from app.drawing.live_surface import LiveSurface
from app.drawing.menu import canvas_menu
from app.drawing.surface import arrangement_of, paint_drawing
from app.drawing.tool_row import HEIGHT, ToolRow
from app.drawing.tracking import follow, mac, on_grid
from app.drawing.view_model import LATER, Array, DrawingView, ModeView, drawing_view, twist_views
from app.shell.session import Session
from app.theme import look as looks
from core.project.record import Face

if TYPE_CHECKING:
    from core.predict.prediction import Prediction

PICTURE_RATIO = 2.0
TALL_ENOUGH = 760
"""Below this height the row of tools gives way; the menu of the right button has them too."""


class SpanCanvas(QScrollArea):
    """Draws the session and lets a hand change it; scrolls only when the strips would be illegible."""

    tool_changed = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._colours: tuple[int, ...] = ()
        self._names: tuple[str, ...] = ()
        self._tracked: tuple[Prediction | None, Array | None] = (None, None)
        """Whose modes the colours were given to last, and their shapes once those were compared."""
        self._twists: tuple[ModeView, ...] = ()
        self.setObjectName("span_canvas")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.surface = LiveSurface(session, self._make_view, self)
        self.surface.setAccessibleName("Drawing of the span")
        self.surface.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        self.surface.customContextMenuRequested.connect(self._open_menu)
        self.setWidget(self.surface)
        self.setFocusProxy(self.surface)
        self.tools = ToolRow(self)
        self.tools.picked.connect(self.set_tool)
        self.setViewportMargins(0, HEIGHT, 0, 0)
        self.surface.tool_done.connect(self._on_tool_done)
        session.preview_changed.connect(self._on_preview)
        session.project_changed.connect(self._on_project)
        session.prediction_changed.connect(self._on_strip)
        session.hand_rests.connect(self._on_rest)
        session.selection_changed.connect(self._on_selection)
        session.strip_changed.connect(self._on_strip)
        session.strip_aged.connect(self._on_strip)
        looks.look_changed.connect(self._on_look)
        self._on_project()

    # ---- what the window calls -----------------------------------------------------------

    def fit(self) -> None:
        """Show the whole drawing from its top (the span always fits the width)."""
        self.verticalScrollBar().setValue(0)
        self.surface.forget_ground()

    def set_tool(self, tool: str, face: Face = "top") -> None:
        """ "select" or "keep-out" (drag one on the plan for `face`, or on either side of the side view)."""
        if tool not in ("select", "keep-out"):
            raise ValueError(f'There is no drawing tool "{tool}"; there are "select" and "keep-out".')
        changed = tool != self.surface.pointer.tool
        self.surface.set_tool(tool, face)
        self.tools.show_tool(tool, face)
        if changed:
            self.tool_changed.emit(tool)

    @property
    def tool(self) -> str:
        return self.surface.pointer.tool

    def picture(self) -> QPixmap:
        """The whole drawing at twice the size of the screen, without focus or pointer marks."""
        view = self.surface.view
        width = float(self.surface.width())
        height = max(float(self.surface.height()), self._least_height())
        page = arrangement_of(view, width, height)
        made = QPixmap(int(width * PICTURE_RATIO), int(height * PICTURE_RATIO))
        made.setDevicePixelRatio(PICTURE_RATIO)
        made.fill(looks.current().window)
        with QPainter(made) as painter:
            paint_drawing(painter, view, page, Ink(looks.current(), PICTURE_RATIO))
        return made

    def copy_picture(self) -> None:
        """The drawing as a picture on the clipboard."""
        QGuiApplication.clipboard().setPixmap(self.picture())

    # ---- following the session -----------------------------------------------------------

    def _make_view(self) -> DrawingView:
        session = self._session
        self._follow_modes()
        return drawing_view(
            session.shown,
            session.prediction,
            session.strip,
            session.selected_patch,
            stale=session.stale,
            colours=self._colours,
            names=self._names,
            with_strip=session.strip_wanted,
            strip_is_old=session.strip_is_late,
            selected_absorber=session.selected_absorber,
            twists=self._follow_twists(),
            limits=session.limits,
        )

    def _follow_twists(self) -> tuple[ModeView, ...]:
        """The modes that twist; in the frames of a drag those of the last rest where they cost a solution of their own."""
        session, prediction = self._session, self._session.prediction
        waits = session.previewing and prediction is not None and prediction.torsion_is_apart
        if prediction is not None and not (waits and "torsion" not in prediction.asked_for):
            self._twists = twist_views(prediction, session.shown.view.modes_shown)
        elif prediction is None:
            self._twists = ()
        else:
            self._twists = tuple(one if one.old else replace(one, told=LATER, old=True) for one in self._twists)
        return self._twists

    def _on_rest(self) -> None:
        """Work out what the frames of this drag did without."""
        prediction = self._session.prediction
        if prediction is not None and any(one.old for one in self._twists):
            _ = prediction.torsion
        self.surface.invalidate()

    def _follow_modes(self) -> None:
        """During a drag each mode keeps colour and name of the shape it had; at rest colour is number."""
        prediction = self._session.prediction
        if prediction is None or not self._session.previewing:
            self._colours, self._tracked = (), (prediction, None)
            self._names = ()
            if prediction is not None:
                from core.predict.mode_result import names_told  # with the prediction, not with the window
                from core.predict.prediction import twists_among

                shown = self._session.shown.view.modes_shown
                self._names = names_told(prediction.modes, twists_among(prediction, shown))
            return
        before, like = self._tracked
        if before is None or before is prediction:
            self._tracked = (prediction, like)
            return
        old = on_grid(before.shapes.x_m, before.shapes.deflection) if like is None else like
        new = on_grid(prediction.shapes.x_m, prediction.shapes.deflection)
        self._tracked = (prediction, new)
        self._colours = follow(self._colours or tuple(range(1, len(old) + 1)), mac(old, new))

    def _on_preview(self) -> None:
        self.surface.invalidate()

    def _on_project(self) -> None:
        # A gesture gives itself up before it commits, so one that is still alive was overtaken.
        self.surface.pointer.drop()
        self.surface.keys.drop()
        self.surface.invalidate()
        self.surface.setMinimumHeight(int(self._least_height()))
        self._say()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        tall = self.height() >= TALL_ENOUGH
        self.tools.setVisible(tall)
        self.setViewportMargins(0, HEIGHT if tall else 0, 0, 0)
        self.tools.setGeometry(0, 0, self.width(), HEIGHT)

    def _on_look(self) -> None:
        self.tools.restyle()
        self.surface.forget_ground()

    def _on_tool_done(self) -> None:
        """One keep-out drawn: the hand is back to moving."""
        self.set_tool("select")

    def _on_strip(self) -> None:
        self.surface.invalidate()
        if self.isVisible():  # a drawing out of sight asks for its height when it is shown again
            self.surface.setMinimumHeight(int(self._least_height()))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.surface.setMinimumHeight(int(self._least_height()))

    def _least_height(self) -> float:
        view = self.surface.view
        return least_height(view.asked_flags, with_strip=view.with_strip, with_strain=view.with_strain)

    def _on_selection(self) -> None:
        self.surface.invalidate()
        self._say()

    def _say(self) -> None:
        """Tell assistive tools what is selected; not during a drag, where it would cost frames."""
        self.surface.setAccessibleDescription(spoken(self.surface.view))
        if not self.isVisible():
            return
        from PySide6.QtGui import QAccessible, QAccessibleEvent  # not before there is a picture

        event = QAccessibleEvent(self.surface, QAccessible.Event.DescriptionChanged)
        QAccessible.updateAccessibility(event)

    def _open_menu(self, at: QPoint) -> None:
        menu = canvas_menu(self._session, self.surface, QPointF(at), self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(self.surface.mapToGlobal(at))
