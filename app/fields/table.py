"""A table of typed columns that trades blocks of cells with spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QAbstractItemModel, QModelIndex, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemDelegate,
    QApplication,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.fields.block import read_block, write_block
from app.fields.buttons import push_button
from app.fields.row import ErrorLabel
from app.fields.table_model import Column, Index, TableModel, Value
from app.fields.wheel import CalmList


def _table(model: QAbstractItemModel) -> TableModel:
    if not isinstance(model, TableModel):
        raise TypeError(f"{type(model).__name__} holds no typed columns")
    return model


class _Delegate(QStyledItemDelegate):
    """Line edits for numbers and texts, a list that opens at once for choices."""

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        column = _table(index.model()).columns[index.column()]
        if column.kind != "choice":
            return super().createEditor(parent, option, index)
        box = CalmList(parent)
        box.addItems([text for _, text in column.choices])
        box.activated.connect(partial(self._take, box))
        QTimer.singleShot(0, box, box.showPopup)
        return box

    def _take(self, box: CalmList, _index: int) -> None:
        """What is chosen is taken at once: a list that has closed looks done, and nobody leaves the cell to make it so."""
        self.commitData.emit(box)
        self.closeEditor.emit(box, QAbstractItemDelegate.EndEditHint.NoHint)

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, CalmList):
            editor.setCurrentText(str(index.data(Qt.ItemDataRole.EditRole)))
        else:
            super().setEditorData(editor, index)

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        if isinstance(editor, CalmList):
            model.setData(index, editor.currentText())
        else:
            super().setModelData(editor, model, index)


class _View(QTableView):
    """Table view with copy, cut, paste and delete of blocks.

    Enter goes on below; Tab goes on to the right and, past the last cell, out of the table; Insert
    asks for a row more, Ctrl+Delete for one less.
    """

    row_wanted = Signal()
    row_unwanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        # The corner is a button that no key reaches in some versions of Qt; Ctrl+A does the same.
        self.setCornerButtonEnabled(False)
        for corner in self.findChildren(QAbstractButton):
            corner.setAccessibleName("Select the whole table")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.matches(QKeySequence.StandardKey.Paste):
            self.paste()
        elif event.key() == Qt.Key.Key_Insert:
            self.row_wanted.emit()
        elif event.key() == Qt.Key.Key_Delete and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.row_unwanted.emit()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.blank()
        else:
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forwards: bool) -> bool:
        """Tab within the table while there is a cell to go to, else to what comes after it."""
        at, model = self.currentIndex(), self.model()
        last = at.row() == model.rowCount() - 1 and at.column() == model.columnCount() - 1
        first = at.row() <= 0 and at.column() <= 0
        if not self.tabKeyNavigation() or not at.isValid() or (last if forwards else first):
            was = self.tabKeyNavigation()
            self.setTabKeyNavigation(False)
            moved = super().focusNextPrevChild(forwards)
            self.setTabKeyNavigation(was)
            return moved
        return super().focusNextPrevChild(forwards)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, hint)
        at = self.currentIndex()
        if hint == QAbstractItemDelegate.EndEditHint.SubmitModelCache and at.row() + 1 < self.model().rowCount():
            self.setCurrentIndex(at.siblingAtRow(at.row() + 1))

    def commit(self) -> None:
        """Take in what is typed in a cell that is being edited."""
        editor = QApplication.focusWidget()
        if editor is not None and self.viewport().isAncestorOf(editor):
            self.commitData(editor)
            self.closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)

    def copy(self) -> None:
        """Put the selected block on the clipboard, tab-parted."""
        chosen = self.selectedIndexes()
        if not chosen:
            return
        rows = sorted({index.row() for index in chosen})
        columns = sorted({index.column() for index in chosen})
        cells = _table(self.model()).cells
        QGuiApplication.clipboard().setText(write_block([[cells[r][c].text for c in columns] for r in rows]))

    def paste(self) -> None:
        """Put the clipboard's block at the current cell; one value fills a larger selection."""
        block = read_block(QGuiApplication.clipboard().text())
        if not block:
            return
        chosen = self.selectedIndexes()
        if len(block) == 1 and len(block[0]) == 1 and len(chosen) > 1:
            for index in chosen:
                _table(self.model()).put_text(index.row(), index.column(), block[0][0])
            _table(self.model()).edited.emit()
            return
        at = self.currentIndex()
        row = min((i.row() for i in chosen), default=max(at.row(), 0))
        column = min((i.column() for i in chosen), default=max(at.column(), 0))
        _table(self.model()).put_block(row, column, block)

    def blank(self) -> None:
        """Empty the selected cells."""
        chosen = self.selectedIndexes()
        for index in chosen:
            _table(self.model()).put_text(index.row(), index.column(), "")
        if chosen:
            _table(self.model()).edited.emit()


class NumberTable(QWidget):
    """The table, its row buttons, and under it the first wrong cells in words.

    `edited` comes after every change a person made; `rows()` are the last good values and
    `errors()` what is wrong in words. `movable` adds buttons to reorder rows. `least` is the
    number of rows that must stay.
    """

    edited = Signal()
    row_selected = Signal(int)

    def __init__(
        self,
        label: str,
        columns: Sequence[Column],
        *,
        row_word: str = "row",
        movable: bool = False,
        least: int = 0,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.label, self._least = label, least
        self.setObjectName(f"table {label}")
        self.model = TableModel(columns, self)
        self.view = _View(self)
        self.view.setObjectName(f"cells {label}")
        self.view.setAccessibleName(label)
        self.view.setModel(self.model)
        self.view.setItemDelegate(_Delegate(self.view))
        self.view.setTabKeyNavigation(True)
        self.view.row_wanted.connect(self._add_by_key)
        self.view.row_unwanted.connect(self._remove_by_key)
        self.view.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.view.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 10)
        self._errors = ErrorLabel(self)
        self._build_buttons(row_word, movable)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self.view, 1)
        layout.addWidget(self._errors)
        layout.addLayout(self._buttons)
        self._fit_columns()
        self.model.edited.connect(self._on_edited)
        self.model.modelReset.connect(self._fit_columns)
        self.model.dataChanged.connect(self._show_errors)
        self.model.modelReset.connect(self._show_errors)
        self.view.selectionModel().currentRowChanged.connect(self._on_current)

    @Slot()
    def _fit_columns(self) -> None:
        """Words take the room that numbers leave; numbers alone share it evenly."""
        header = self.view.horizontalHeader()
        kinds = [column.kind for column in self.model.columns]
        worded = any(kind in ("text", "choice", "fixed") for kind in kinds)
        header.setMinimumSectionSize(64)
        widths = {place: self._number_width(place) for place, kind in enumerate(kinds) if worded and kind in ("number", "switch")}
        rest = (self.view.viewport().width() - sum(widths.values())) // max(len(kinds) - len(widths), 1)
        for place, kind in enumerate(kinds):  # a list takes room as words do, but never less than its heading
            if worded and kind == "list" and rest < self._heading_width(place):
                widths[place] = self._heading_width(place)
        for place in range(len(kinds)):
            if place in widths:
                header.setSectionResizeMode(place, QHeaderView.ResizeMode.Fixed)
                header.resizeSection(place, widths[place])
            else:
                header.setSectionResizeMode(place, QHeaderView.ResizeMode.Stretch)

    def _heading_width(self, place: int) -> int:
        longest = max(self.model.columns[place].header.split("\n"), key=len)
        return self.fontMetrics().horizontalAdvance(longest) + 16

    def _number_width(self, place: int) -> int:
        metrics, share = self.fontMetrics(), 3 * self.view.width() // (4 * len(self.model.columns))
        digits = min(max(share, metrics.horizontalAdvance("0" * 6)), metrics.horizontalAdvance("0" * 9))
        needed = max(digits, self._heading_width(place))
        return max(needed, min(share, metrics.horizontalAdvance("0" * 20)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_columns()

    # -- content -------------------------------------------------------------------------------

    def set_rows(self, rows: Sequence[dict[str, Value]], columns: Sequence[Column] | None = None) -> None:
        """Show values from outside; nothing happens when they are those already shown."""
        if columns is None or list(columns) == self.model.columns:
            if list(rows) == self.model.rows():
                return
            columns = self.model.columns
        current = self.view.currentIndex()
        self.model.set_table(columns, rows)
        if current.isValid() and current.row() < len(rows):
            column = min(current.column(), len(columns) - 1)
            self.view.setCurrentIndex(self.model.index(current.row(), column))

    def rows(self) -> list[dict[str, Value]]:
        """The last good values, row by row, SI."""
        return self.model.rows()

    def errors(self) -> list[str]:
        """What is wrong with the typed texts, in words."""
        return self.model.errors(own_only=True)

    def tell_errors(self, errors: dict[tuple[int, str], str]) -> None:
        """Mark cells by (row, column key) with problems found elsewhere."""
        self.model.tell_errors(errors)
        self._show_errors()

    def current_row(self) -> int:
        """The row of the current cell, -1 for none."""
        return self.view.currentIndex().row()

    def select_row(self, row: int) -> None:
        if 0 <= row < self.model.rowCount():
            self.view.setCurrentIndex(self.model.index(row, 0))

    # -- buttons -------------------------------------------------------------------------------

    def _build_buttons(self, row_word: str, movable: bool) -> None:
        self._buttons = QHBoxLayout()
        self._buttons.setSpacing(6)
        self.add_button = self._button(f"Add {row_word}", self.add_row)
        self.remove_button = self._button(f"Remove {row_word}", self.remove_selected)
        if movable:
            self._button("Move up", self.move_up)
            self._button("Move down", self.move_down)
        self._buttons.addStretch(1)
        self._hint = QLabel("Paste blocks from a spreadsheet with Ctrl+V", self)
        self._hint.setForegroundRole(self.palette().ColorRole.PlaceholderText)
        self._buttons.addWidget(self._hint)

    def keep_rows(self) -> None:
        """The rows stay those that are shown: no buttons to add or remove, no paste beyond the last."""
        self.model.may_grow = False
        self.add_button.hide()
        self.remove_button.hide()

    def hide_hint(self) -> None:
        """Leave out the remark on pasting, where the table is narrow."""
        self._hint.hide()

    def _button(self, text: str, slot: object) -> QPushButton:
        button = push_button(self, text, f"{text} {self.label}", slot)
        key = {"Add": "Insert", "Remove": "Ctrl+Delete"}.get(text.split()[0])
        if key:
            button.setToolTip(f"{text} ({key} in the table)")
        self._buttons.addWidget(button)
        return button

    @Slot()
    def add_row(self) -> None:
        """A new row under the current one."""
        at = self.current_row() + 1 if self.current_row() >= 0 else self.model.rowCount()
        self.model.insert_rows(at)
        self.select_row(at)
        self.view.setFocus()  # what is typed next is the new row's

    @Slot()
    def _add_by_key(self) -> None:
        if self.model.may_grow:
            column = max(self.view.currentIndex().column(), 0)
            self.add_row()
            self.view.setCurrentIndex(self.view.currentIndex().siblingAtColumn(column))

    @Slot()
    def _remove_by_key(self) -> None:
        if self.model.may_grow:
            row = self.current_row()
            self.remove_selected()
            self.select_row(min(row, self.model.rowCount() - 1))

    @Slot()
    def remove_selected(self) -> None:
        """Take the rows of the selection away, leaving the least number."""
        rows = sorted({index.row() for index in self.view.selectedIndexes()})
        spare = self.model.rowCount() - self._least
        if rows and spare > 0:
            self.model.remove_rows(rows[:spare])

    @Slot()
    def move_up(self) -> None:
        self._move(-1)

    @Slot()
    def move_down(self) -> None:
        self._move(1)

    def _move(self, by: int) -> None:
        row = self.current_row()
        if row >= 0 and 0 <= row + by < self.model.rowCount():
            self.model.move_row(row, row + by)
            self.select_row(row + by)

    # -- reports -------------------------------------------------------------------------------

    @Slot()
    def _on_edited(self) -> None:
        self._show_errors()
        self.edited.emit()

    @Slot()
    def _show_errors(self) -> None:
        found = self.model.errors()
        more = f"\n... and {len(found) - 3} more" if len(found) > 3 else ""
        self._errors.show_text("\n".join(found[:3]) + more)

    @Slot(QModelIndex, QModelIndex)
    def _on_current(self, now: QModelIndex, _before: QModelIndex) -> None:
        self.row_selected.emit(now.row())
