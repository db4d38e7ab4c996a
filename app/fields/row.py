"""A line of a form: label, field, unit, origin mark, and what is wrong under it."""

from __future__ import annotations

from typing import Generic, TypeVar

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QLabel, QSizePolicy, QWidget

from app.fields.origin import OriginMark
from app.fields.plain import PlainLabel
from app.theme import look


class ErrorLabel(QLabel):
    """A problem in words, led by a sign so that colour is not the only mark; hidden when empty."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.hide()
        self._caution = False
        self._paint()
        look.look_changed.connect(self._paint)

    def show_text(self, text: str, *, caution: bool = False) -> None:
        """Tell a problem ('' hides the label), or a caution in its colour."""
        if caution != self._caution:
            self._caution = caution
            self._paint()
        told = f"\N{WARNING SIGN} {text}" if text else ""
        if told != self.text():
            self.setText(told)
        self.setVisible(bool(text))

    @property
    def tells_caution(self) -> bool:
        return self._caution

    def problem(self) -> str:
        """The problem told, '' for none."""
        return self.text().removeprefix("\N{WARNING SIGN} ")

    @Slot()
    def _paint(self) -> None:
        palette = self.palette()
        now = look.current()
        palette.setColor(self.foregroundRole(), now.caution if self._caution else now.danger)
        self.setPalette(palette)


F_co = TypeVar("F_co", bound=QWidget, covariant=True)


class FormRow(QWidget, Generic[F_co]):
    """`label field mark`, the error label under the field; fields of all rows line up.

    `path` is where the value lives in the project ("structure.width_m"); the panel uses it to
    bring problems to the row. The field's own error (a text that is no number) comes first.
    """

    error_changed = Signal(str)

    def __init__(
        self,
        label: str,
        field: F_co,
        *,
        path: str = "",
        mark: OriginMark | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.path, self.mark = path, mark
        self.field: F_co = field
        self.setObjectName(f"row {label.replace('&', '')}")
        self.caption = PlainLabel(label, self)
        self.caption.setBuddy(field)
        self.caption.setWordWrap(True)
        self._errors: ErrorLabel | None = None
        self.grid = grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(1)
        grid.addWidget(self.caption, 0, 0)
        grid.addWidget(field, 0, 1)
        side = self.fontMetrics().height() + 2
        if mark is not None:
            mark.setParent(self)
            grid.addWidget(mark, 0, 2)
        grid.setColumnMinimumWidth(0, self.fontMetrics().horizontalAdvance("Inherent damping") + 4)
        # Qt leaves out the space before a column that holds nothing, and the fields would not line up.
        grid.setColumnMinimumWidth(2, side if mark is not None else side + grid.horizontalSpacing())
        grid.setColumnStretch(0, 2)
        grid.setColumnStretch(1, 3)
        if hasattr(field, "error_changed"):
            field.error_changed.connect(self._show)

    @property
    def errors(self) -> ErrorLabel:
        """What is wrong, in words; made when it is first told, for most rows never tell anything."""
        if self._errors is None:
            self._errors = ErrorLabel(self)
            # not under the mark: a column that holds something has a space before it, and the field would give way
            self.grid.addWidget(self._errors, 1, 0, 1, 2 if self.mark is None else 3)
        return self._errors

    def show_problem(self, text: str, *, caution: bool = False) -> None:
        """Tell a problem of the value found in the project ('' for none), or a caution under the field."""
        if caution:
            if hasattr(self.field, "show_error"):
                self.field.show_error("")
            self.errors.show_text(text, caution=True)
            return
        if self._errors is not None and self._errors.tells_caution:
            self._errors.show_text("")
        if hasattr(self.field, "show_error"):
            self.field.show_error(text)
        else:
            self._show(text)

    def problem(self) -> str:
        """What the row tells to be wrong, '' for nothing."""
        return "" if self._errors is None else self._errors.problem()

    @Slot(str)
    def _show(self, text: str) -> None:
        if text or self._errors is not None:
            self.errors.show_text(text)
        self.error_changed.emit(text)
