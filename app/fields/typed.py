"""A line edit for a value with a unit: any unit goes in, the display unit is shown.

The text a person typed is never thrown away: a text that is no number, or a number out of
range, stays in the field, marked, with the reason in words (`error_changed`), until it is
mended or given up with Escape.
"""

from __future__ import annotations

from typing import Generic, TypeVar

from PySide6.QtCore import QEvent, QRect, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLineEdit, QStyleOptionFrame, QWidget

from app.fields.pending import leaves_undo
from app.fields.plain import plain
from app.theme import look
from core import units
from core.project.ranges import Range

STEP_SETTLES_MS = 450
"""A run of arrow-key steps becomes one command once no step came for this long."""


V = TypeVar("V")


class TypedField(QLineEdit, Generic[V]):
    """Shows a value in the unit of what is `allowed` (of each number); emits `committed` with the SI value on Enter
    or focus-out.

    Subclasses read the text (`_read`) and write the value (`_write_value`). An `optional` field may be empty; it
    then emits `cleared` and its value is None.
    `hint` is what an empty field means ("tip"), shown faintly in it.
    """

    committed = Signal(object)
    previewed = Signal(object)
    preview_ended = Signal()
    cleared = Signal()
    error_changed = Signal(str)

    def __init__(
        self,
        allowed: Range,
        label: str,
        *,
        step: float | None = None,
        digits: int | None = None,
        optional: bool = False,
        hint: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.unit, self.label, self._allowed = allowed.unit or "1", label, allowed
        self._step, self._digits, self._optional = step, digits, optional
        self._value: V | None = None
        self._stepped: V | None = None
        self._text_error = ""
        self._told_error = ""
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(STEP_SETTLES_MS)
        self._settle.timeout.connect(self.commit)
        self.setPlaceholderText(hint)
        self.setObjectName(f"field {label}")
        self.setMinimumWidth(64)
        self._fit_unit()
        self.textEdited.connect(self._typing)

    # -- value ---------------------------------------------------------------------------

    def value(self) -> V | None:
        """The last good value in SI, None for an empty optional field."""
        return self._value

    def set_value(self, value_si: V | None) -> None:
        """Show a value from outside; text being typed, or kept as wrong, survives the same value."""
        unchanged = value_si == self._value
        if unchanged and (self._text_error or self._is_being_typed()):
            return
        if self._settle.isActive() and (unchanged or value_si == self._stepped):
            return  # the echo of this field's own preview
        self._value = value_si
        self._settle.stop()
        self._set_text_error("")
        self._write_value()

    # -- errors --------------------------------------------------------------------------

    def error(self) -> str:
        """What is wrong, in words: with the text itself, or told from outside; '' if nothing."""
        return self._text_error or self._told_error

    def show_error(self, text: str) -> None:
        """Mark the field with a problem found elsewhere ('' takes the mark away)."""
        before = self.error()
        self._told_error = text
        self._announce(before)

    def has_bad_text(self) -> bool:
        """True while the text shown is not the value in effect."""
        return bool(self._text_error)

    # -- committing ----------------------------------------------------------------------

    @Slot()
    def commit(self) -> None:
        """Read the text; emit `committed` (or `cleared`) when it means another value."""
        self._settle.stop()
        if not self.isModified():
            return
        if self._optional and not self.text().strip():
            self._take(None)
            return
        try:
            value = self._read()
        except ValueError as error:
            self._set_text_error(str(error))
            return
        self._take(value)

    def restore(self) -> None:
        """Give up the text typed and show the value in effect again."""
        stepping = self._settle.isActive()
        self._settle.stop()
        self._set_text_error("")
        self._write_value()
        if stepping:
            self.preview_ended.emit()

    def _take(self, value: V | None) -> None:
        changed = value != self._value
        self._value = value
        self._set_text_error("")
        self._write_value()
        if not changed:
            return
        if value is None:
            self.cleared.emit()
        else:
            self.committed.emit(value)

    def _read(self) -> V:
        """The SI value of the text; ValueError in words when it is none or out of range."""
        raise NotImplementedError

    def _out_of_range(self, value: float) -> str:
        return self._allowed.trouble(self.label, value)

    def _in_unit(self) -> str:
        return f" in {self._symbol}" if self._symbol else ""

    def step_by(self, steps: float) -> None:
        """Change the value by `steps` steps, where it has any."""

    # -- events --------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        typed = self.isModified() and not self._settle.isActive()
        if leaves_undo(event, pending=typed):
            self.commit()  # a run of steps, so that it is what is undone
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.isModified():
                self.commit()
                self.selectAll()
                event.accept()
                return
        elif key == Qt.Key.Key_Escape and (self.isModified() or self._text_error):
            self.restore()
            self.selectAll()
            event.accept()
            return
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            direction = 1.0 if key == Qt.Key.Key_Up else -1.0
            self.step_by(direction * _step_factor(event))
            event.accept()
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.commit()
        super().focusOutEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        with QPainter(self) as painter:
            self._paint_unit(painter)
            if self.error():
                pen = QPen(look.current().danger)
                pen.setWidthF(2.0)
                painter.setPen(pen)
                painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def sizeHint(self) -> QSize:
        return QSize(self.fontMetrics().horizontalAdvance("0000.000") + self._unit_width() + 16,
                     super().sizeHint().height())

    # -- helpers -------------------------------------------------------------------------

    def _paint_unit(self, painter: QPainter) -> None:
        if not self._symbol:
            return
        option = QStyleOptionFrame()
        self.initStyleOption(option)
        frame = option.lineWidth  # what the style's rectangle of the contents is: asking it has Qt make hundreds of names
        inner = option.rect.adjusted(frame, frame, -frame, -frame)
        width = self._unit_width()
        place = QRect(inner.right() - width, inner.top(), width - 3, inner.height())
        painter.setPen(look.current().faint_text)
        painter.drawText(place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self._symbol)

    def _unit_width(self) -> int:
        return self.fontMetrics().horizontalAdvance(self._symbol) + 8 if self._symbol else 0

    def _fit_unit(self) -> None:
        self._symbol = units.symbol(self.unit)
        self.setAccessibleName(f"{self.label}, {self._symbol}" if self._symbol else self.label)
        self.setTextMargins(0, 0, self._unit_width(), 0)

    def _write_value(self) -> None:
        """Put the value in effect into the text."""
        raise NotImplementedError

    def _is_being_typed(self) -> bool:
        return self.hasFocus() and self.isModified()

    @Slot(str)
    def _typing(self, _text: str) -> None:
        self._settle.stop()

    def _set_text_error(self, text: str) -> None:
        before = self.error()
        self._text_error = text
        self._announce(before)

    def _announce(self, before: str) -> None:
        now = self.error()
        if now == before:
            return
        self.setToolTip(plain(now))
        self.setAccessibleDescription(now)
        self.update()
        self.error_changed.emit(now)


def _step_factor(event: QKeyEvent) -> float:
    if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
        return 10.0
    if event.modifiers() & Qt.KeyboardModifier.AltModifier:
        return 0.1
    return 1.0
