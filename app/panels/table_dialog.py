"""A window of tables on records of the structure, one table per kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.fields import Column, NumberTable
from app.fields.within_screen import resize_within
from app.panels.draft import DraftDialog
from app.panels.library_edits import free_name
from app.panels.paths import replaced_at, steps, value_at
from core.project.model import Project
from core.project.record import Record

if TYPE_CHECKING:
    from app.shell.session import Session


@dataclass(frozen=True)
class Records:
    """A tuple of records at `path`, edited as the rows of a table.

    `to_row` and `to_record` default to the record's own fields.
    """

    path: str
    title: str
    hint: str
    record: type[Record]
    columns: tuple[Column, ...]
    row_word: str

    def start(self, project: Project) -> dict[str, Any]:
        """Values of a new row that depend on the project."""
        return {}

    def to_row(self, record: Any) -> dict[str, Any]:
        return {column.key: getattr(record, column.key) for column in self.columns}

    def to_record(self, row: dict[str, Any]) -> Any:
        return self.record(**row)


class TableDialog(DraftDialog):
    """Subclasses give `tables`."""

    tables: tuple[Records, ...] = ()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.places = tuple(kind.path for kind in self.tables)
        resize_within(self, 900, 640)
        layout = QVBoxLayout(self.page)
        layout.setContentsMargins(0, 0, 0, 0)
        self._shown: list[tuple[Records, NumberTable]] = []
        for kind in self.tables:
            layout.addWidget(self._heading(kind))
            table = NumberTable(kind.title, kind.columns, row_word=kind.row_word, parent=self.page)
            table.edited.connect(self._take)
            table.model.new_row = partial(self._new_row, kind)
            layout.addWidget(table, 1)
            self._shown.append((kind, table))
        self.refresh_all()

    def _heading(self, kind: Records) -> QLabel:
        label = QLabel(f"<b>{kind.title}</b> &nbsp; {kind.hint}", self.page)
        label.setWordWrap(True)
        return label

    def _new_row(self, kind: Records) -> dict[str, Any]:
        """Where a new row starts: with a name nobody has, and where the record says."""
        project = self.draft.shown
        row = kind.start(project)
        named = next((column for column in kind.columns if column.key == "name"), None)
        if named is not None:
            taken = {record.name for record in value_at(project, kind.path)}
            row["name"] = free_name(str(named.default), taken)
        return row

    def refresh(self) -> None:
        for kind, table in self._shown:
            if not table.errors():
                table.set_rows([kind.to_row(record) for record in value_at(self.draft.shown, kind.path)])

    def cells_of(self, path: str) -> tuple[NumberTable, int, str] | None:
        """The cell of `structure.masses[2].x_m` and the like."""
        for kind, table in self._shown:
            if not path.startswith(f"{kind.path}["):
                continue
            parts = steps(path)[len(steps(kind.path)) :]
            records = value_at(self.draft.shown, kind.path)
            row = _row_of(records, parts[0][0])
            keys = [column.key for column in kind.columns]
            key = parts[1][0] if len(parts) > 1 and parts[1][0] in keys else keys[0]
            return (table, row, key) if row < table.model.rowCount() else None
        return None

    def _take(self) -> None:
        project = self.draft.project
        for kind, table in self._shown:
            if not table.errors():
                records = tuple(kind.to_record(row) for row in table.rows())
                project = replaced_at(project, kind.path, records)
        if project != self.draft.project:
            self.draft.apply("", project)
        else:
            self.tell_problems()


def _row_of(records: Sequence[Any], key: str) -> int:
    """The row of the record of that name or number."""
    names = [getattr(record, "name", None) for record in records]
    return names.index(key) if key in names else int(key)
