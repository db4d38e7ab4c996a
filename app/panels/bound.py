"""Form rows tied to a value of the project: they show it, and write a person's change.

A row's `template` is a path with places filled in at each refresh ("{patch}.length_m"), so one
row serves whichever patch is selected. Every change is one undo step named after the label.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QPushButton, QSizePolicy, QWidget

from app.fields import (
    ChoiceField,
    ConstantField,
    FormRow,
    NoteField,
    NumberListField,
    OriginMark,
    QuantityField,
    SwitchField,
    TextField,
    TypedField,
)
from app.fields.plain import PlainLabel, plain
from app.panels.paths import replaced_at, value_at
from core.project.model import Project
from core.units.sentence import inside

if TYPE_CHECKING:
    from app.panels.draft import Draft
    from app.shell.session import Session

ValueField = TypedField[Any] | ChoiceField[Any] | SwitchField | TextField | NoteField | ConstantField
F = TypeVar("F", bound=ValueField)
Reader = Callable[[Project, str], Any]
Writer = Callable[[Project, str, Any], Project]


class BoundRow(FormRow[F]):
    """A field of any kind bound to a path. `read` and `write` replace the plain access,
    `title` the name of the undo step."""

    def __init__(
        self,
        session: Session | Draft,
        label: str,
        field: F,
        template: str,
        *,
        origin: bool = False,
        read: Reader = value_at,
        write: Writer = replaced_at,
        title: str = "",
        parent: QWidget | None = None,
    ) -> None:
        plain = label.replace("&", "")
        mark = OriginMark(session, template, plain) if origin else None
        super().__init__(label, field, path=template, mark=mark, parent=parent)
        self._session, self._template = session, template
        self._read, self._write = read, write
        self._title = title or f"Change {inside(plain)}"
        self._last: tuple[str, Any] | None = None
        self._connect(field)

    def refresh(self, project: Project, places: Mapping[str, str]) -> None:
        """Show the value of the project shown; `places` fill the template."""
        self.path = self._template.format(**places) if places else self._template
        value = self._read(project, self.path)
        before, self._last = self._last, (self.path, value)
        if self._session.previewing and before == self._last:
            return  # most values stay while a hand drags, and nobody types meanwhile
        if self.mark is not None:
            self.mark.set_path(self.path)
            self.mark.refresh()
        self.field.set_value(value)

    def _connect(self, field: ValueField) -> None:
        if isinstance(field, NumberListField):
            field.committed.connect(self._take)
            field.cleared.connect(self._take_nothing)
        elif isinstance(field, QuantityField):
            field.committed.connect(self._take)
            field.cleared.connect(self._take_none)
            field.previewed.connect(self._preview)
            field.preview_ended.connect(self._session.cancel_preview)
        elif isinstance(field, ChoiceField):
            field.chosen.connect(self._take)
        elif isinstance(field, SwitchField):
            field.switched.connect(self._take)
        elif isinstance(field, TextField | NoteField):
            field.committed.connect(self._take)
        elif isinstance(field, ConstantField):
            field.changed.connect(self._take)

    @Slot(object)
    def _take(self, value: object) -> None:
        session = self._session
        session.apply(self._title, self._write(session.project, self.path, value))

    @Slot()
    def _take_nothing(self) -> None:
        """An empty list."""
        self._take(())

    @Slot()
    def _take_none(self) -> None:
        self._take(None)

    @Slot(float)
    def _preview(self, value: float) -> None:
        session = self._session
        session.preview(self._write(session.project, self.path, value))


class ElidedButton(QPushButton):
    """A push button whose text ends in dots where it does not fit."""

    _full = ""

    def set_full_text(self, text: str) -> None:
        self._full = text
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        room = self.width() - 14
        self.setText(self.fontMetrics().elidedText(self._full, Qt.TextElideMode.ElideRight, room))


class EditorRow(FormRow[ElidedButton]):
    """A row whose field is a button: it sums up what an editor window holds, and opens it."""

    wanted = Signal(str)

    def __init__(
        self, label: str, editor: str, called: str, *, path: str = "", parent: QWidget | None = None
    ) -> None:
        self.button = ElidedButton()
        self.button.setObjectName(f"button {called}")
        self.button.setMinimumWidth(20)
        self.button.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._editor, self._called = editor, called
        super().__init__(label, self.button, path=path, parent=parent)
        self.button.clicked.connect(self._ask)

    def tell(self, text: str) -> None:
        """Show the summary."""
        self.button.set_full_text(f"{text} ...")
        self.button.setToolTip(plain(f"{self._called}: {text}"))
        self.button.setAccessibleName(f"{self._called}: {text}")

    @Slot()
    def _ask(self) -> None:
        self.wanted.emit(self._editor)


class _Room(QWidget):
    """Where a label stands, as wide as there is room: a label asks whatever lays it out for a new layout of all at every change of its
    words, and here nothing does."""

    def __init__(self, label: PlainLabel) -> None:
        super().__init__()
        self._label = label
        label.setParent(self)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setMinimumHeight(label.fontMetrics().height() + 6)

    def sizeHint(self) -> QSize:
        return QSize(0, self.minimumHeight())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._label.setGeometry(self.rect())


class ReadOut(FormRow[PlainLabel]):
    """A row that only tells something."""

    def __init__(self, label: str, *, path: str = "", parent: QWidget | None = None) -> None:
        self.told = PlainLabel()
        self.told.setObjectName(f"told {label}")
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        super().__init__(label, self.told, path=path, parent=parent)
        self.grid.removeWidget(self.told)
        self.grid.addWidget(_Room(self.told), 0, 1, 1, 2)  # no mark stands beside it, and its words may need the room

    def tell(self, text: str) -> None:
        """Show a text."""
        if text != self.told.text():
            self.told.setText(text)
            self.told.setToolTip(plain(text))
