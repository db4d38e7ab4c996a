"""A window with a list of named things at the left and the form of the chosen one at the right."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec.structs import replace
from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QListWidget,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.fields import ChoiceField, ConstantField, ConstantHeading, FormRow, QuantityField, TextField
from app.fields.plain import PlainLabel, plain
from app.fields.within_screen import resize_within
from app.panels import library_edits
from app.panels.bound import BoundRow, F, ReadOut
from app.panels.draft import DraftDialog
from app.panels.paths import replaced_at, value_at
from core.project.fields import FIELDS
from core.project.model import Project
from core.project.record import Constant

if TYPE_CHECKING:
    from app.shell.session import Session


class LibraryDialog(DraftDialog):
    """Subclasses name the project's field (`what`), the word for one entry, and build the form."""

    what = ""
    word = ""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName(f"{self.what} editor")
        resize_within(self, 1180, 680)
        self.chosen = ""
        self._build_list()
        self.form = QWidget()
        self.rows = QVBoxLayout(self.form)
        self.rows.setSpacing(4)
        self.name_row = BoundRow(self.draft, "Name", TextField("Name"), "{entry}.name", write=self._rename)
        self.add(self._fitted(self.name_row))
        self.users = ReadOut("Used in")
        self.users.told.setWordWrap(True)
        self.add(self._fitted(self.users))
        self.build_form()
        self.rows.addStretch(1)
        scroll = QScrollArea(self.page)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(self.form)
        line = QHBoxLayout(self.page)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self._side)
        line.addWidget(scroll, 1)
        self.select(self.first_choice())

    # -- for subclasses --------------------------------------------------------------------------

    def build_form(self) -> None:
        """Add the rows."""

    def first_choice(self) -> str:
        """Name of the entry shown first."""
        entries = getattr(self.draft.project, self.what)
        return entries[0].name if entries else ""

    def offered(self) -> tuple[Any, ...]:
        """The library's entries that can be copied into the project."""
        return ()

    def added(self, project: Project, entry: Any) -> tuple[Project, str]:
        """The project with an entry more, and its name there."""
        raise TypeError(f"{type(self).__name__} adds nothing")

    def renamed(self, project: Project, old: str, new: str) -> Project:
        """The project with an entry under another name."""
        raise TypeError(f"{type(self).__name__} renames nothing")

    def used_in(self, project: Project, name: str) -> list[str]:
        """What uses the entry."""
        return []

    # -- building --------------------------------------------------------------------------------

    def add(self, widget: QWidget) -> QWidget:
        self.rows.addWidget(widget)
        return widget

    def heading(self, text: str) -> None:
        """A bold line over the rows that follow."""
        label = PlainLabel(text, self.form)
        font = label.font()
        font.setBold(True)
        label.setFont(font)
        label.setContentsMargins(0, 8, 0, 0)
        self.add(label)

    def constants_heading(self) -> None:
        """The words over the columns of constants."""
        self.add(self._fitted(FormRow("", ConstantHeading(), parent=self.form)))

    def constant(self, key: str, path: str = "", label: str = "", **options: Any) -> None:
        """A row for the constant `key` of `core.project.fields`."""
        called = label or FIELDS[key].label
        field = ConstantField(FIELDS[key].range, called, **options)
        row = BoundRow(self.draft, called, field, f"{{entry}}.{path or key}")
        self.add(self._fitted(row))

    def optional_constant(self, key: str, path: str = "", *, otherwise: str = "as along") -> None:
        """A row for a constant that need not be given; `otherwise` says what it then is."""
        called = FIELDS[key].label
        field = QuantityField(FIELDS[key].range, called, optional=True, hint=otherwise)
        self.value(called, field, path or key, read=constant_or_none, write=with_constant_or_none)

    def value(self, label: str, field: F, path: str, **options: Any) -> BoundRow[F]:
        """A row for a plain value; its field keeps a handy width, a text takes all there is."""
        row = BoundRow(self.draft, label, field, f"{{entry}}.{path}", **options)
        self.add(self._fitted(row))
        if not isinstance(field, TextField):
            field.setFixedWidth(self.fontMetrics().horizontalAdvance("0") * 30)
            row.grid.setColumnStretch(1, 0)
            row.grid.setColumnStretch(2, 30)
        return row

    def _fitted(self, row: FormRow) -> FormRow:
        """The row with a label as wide as in every other, a long one on two lines, and the rest of the width for its field."""
        row.caption.setWordWrap(True)
        row.caption.setFixedWidth(self.fontMetrics().horizontalAdvance("Reference temperature_"))
        row.grid.setColumnStretch(0, 0)
        row.grid.setColumnStretch(1, 30)
        return row

    def _build_list(self) -> None:
        self._side = QWidget(self.page)
        self.entries = QListWidget(self._side)
        self.entries.setObjectName(f"list of {self.what}")
        self.entries.setAccessibleName(self.what.capitalize())
        self.entries.currentTextChanged.connect(self._choose)
        self.from_library = ChoiceField[str]("Add from library", parent=self._side)
        self.from_library.set_options([(entry.name, entry.name) for entry in self.offered()])
        self.from_library.setPlaceholderText("Add from the library...")
        self.from_library.set_value(None)
        self.from_library.chosen.connect(self._add_from_library)
        self.copy_button = QPushButton("Duplicate", self._side)
        self.copy_button.clicked.connect(self._duplicate)
        self.remove_button = QPushButton("Remove", self._side)
        self.remove_button.clicked.connect(self._remove)
        column = QVBoxLayout(self._side)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(self.entries, 1)
        column.addWidget(self.from_library)
        line = QHBoxLayout()
        for button in (self.copy_button, self.remove_button):
            button.setAutoDefault(False)
            line.addWidget(button)
        column.addLayout(line)
        self._side.setFixedWidth(self.fontMetrics().horizontalAdvance("0") * 29)

    # -- showing -----------------------------------------------------------------------------------

    def select(self, name: str) -> None:
        """Show the form of an entry."""
        self.chosen = name
        self.refresh_all()

    def refresh(self) -> None:
        project = self.draft.shown
        names = [entry.name for entry in getattr(project, self.what)]
        if self.chosen not in names:
            self.chosen = names[0] if names else ""
        if [self.entries.item(i).text() for i in range(self.entries.count())] != names:
            self.entries.blockSignals(True)
            self.entries.clear()
            self.entries.addItems(names)
            self.entries.blockSignals(False)
        self.entries.blockSignals(True)
        self.entries.setCurrentRow(names.index(self.chosen) if self.chosen in names else -1)
        self.entries.blockSignals(False)
        self.form.setEnabled(bool(self.chosen))
        users = self.used_in(project, self.chosen)
        self.users.tell(", ".join(users) or "nothing yet")
        self.remove_button.setEnabled(bool(self.chosen) and not users and len(names) > 1)
        self.remove_button.setToolTip(plain(f"In use: {', '.join(users)}" if users else ""))
        self.copy_button.setEnabled(bool(self.chosen))
        if self.chosen:
            for row in self.form.findChildren(BoundRow):
                row.refresh(project, {"entry": f"{self.what}[{self.chosen}]"})

    # -- changes -----------------------------------------------------------------------------------

    @Slot(str)
    def _choose(self, name: str) -> None:
        if name:
            self.select(name)

    @Slot(object)
    def _add_from_library(self, name: object) -> None:
        entry = next((entry for entry in self.offered() if entry.name == name), None)
        self.from_library.set_value(None)
        if entry is not None:
            self._add(entry)

    @Slot()
    def _duplicate(self) -> None:
        self._add(value_at(self.draft.project, f"{self.what}[{self.chosen}]"))

    def _add(self, entry: Any) -> None:
        project, self.chosen = self.added(self.draft.project, entry)
        self.draft.apply("", project)

    @Slot()
    def _remove(self) -> None:
        self.draft.apply("", library_edits.without(self.draft.project, self.what, self.chosen))

    def _rename(self, project: Project, path: str, name: str) -> Project:
        others = {entry.name for entry in getattr(project, self.what)} - {self.chosen}
        if not name or name in others:
            return project
        new = self.renamed(project, self.chosen, name)
        self.chosen = name
        return new

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Delete and self.entries.hasFocus() and self.remove_button.isEnabled():
            self._remove()
            return
        super().keyPressEvent(event)


def low_of(project: Project, path: str) -> float:
    """First value of a pair."""
    return value_at(project, path)[0]


def high_of(project: Project, path: str) -> float:
    """Second value of a pair."""
    return value_at(project, path)[1]


def with_low(project: Project, path: str, value: float) -> Project:
    """The pair's first value replaced."""
    return replaced_at(project, path, (value, value_at(project, path)[1]))


def with_high(project: Project, path: str, value: float) -> Project:
    """The pair's second value replaced."""
    return replaced_at(project, path, (value_at(project, path)[0], value))


def constant_or_none(project: Project, path: str) -> float | None:
    """The value of a constant that need not be given."""
    constant = value_at(project, path)
    return None if constant is None else constant.value


def with_constant_or_none(project: Project, path: str, value: float | None) -> Project:
    """The constant's value replaced, its standing kept; None takes it away."""
    if value is None:
        return replaced_at(project, path, None)
    constant = value_at(project, path)
    new = Constant(value) if constant is None else replace(constant, value=value)
    return replaced_at(project, path, new)
