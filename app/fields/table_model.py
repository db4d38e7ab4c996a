"""The cells of a `NumberTable`: text as typed, its value, and what is wrong with it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal

from app.fields.plain import plain
from app.theme import look
from core import units
from core.project.ceilings import MOST_STATIONS
from core.project.ranges import PLAIN, Range

Kind = Literal["number", "list", "text", "choice", "switch", "fixed"]
Value = float | tuple[float, ...] | str | bool | None


HEADER_WIDTH = 14
"""Letters of a column title before it goes on in the next line."""
_THREE_DECIMALS = re.compile(r"[-+]?\d{1,3},\d{3}")


@dataclass(frozen=True)
class Column:
    """One column. Numbers are SI outside and within `range`, in its unit on screen; `optional` cells may be empty (None).

    A "list" cell holds one number, or several parted by semicolons (a tuple), their count a
    multiple of `multiple`.

    A "fixed" cell is a text to read. `hint` is shown faintly in an empty optional cell ("tip"). `choices` are (key, text) pairs.
    """

    key: str
    title: str
    kind: Kind = "number"
    range: Range = PLAIN
    optional: bool = False
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    default: Value = None
    multiple: int = 1

    @property
    def unit(self) -> str:
        return self.range.unit

    @property
    def header(self) -> str:
        """The title on lines of a narrow column, its unit under it."""
        lines = textwrap.wrap(self.title, HEADER_WIDTH, break_long_words=False)
        return "\n".join([*lines, units.symbol(self.unit)] if self.unit else lines)

    def to_text(self, value: Value) -> str:
        """The cell text that shows `value`."""
        if value is None:
            return ""
        if self.kind in ("number", "list"):
            numbers = value if isinstance(value, tuple) else (value,)
            return "; ".join(units.show(float(number), self.unit or "1") for number in numbers)
        if self.kind == "switch":
            return "yes" if value else "no"
        if self.kind == "choice":
            return dict(self.choices).get(str(value), str(value))
        return str(value)

    def to_value(self, text: str) -> Value:
        """The value of a cell text; ValueError in words when it is none."""
        text = text.strip()
        if self.kind == "number":
            return self._number(text)
        if self.kind == "list":
            return self._list(text)
        if self.kind == "switch":
            return text.lower() in ("yes", "y", "true", "1", "x")
        if self.kind == "choice":
            return self._choice(text)
        if not text and not self.optional:
            raise ValueError(f"{self.title} is empty. Type a name.")
        return text

    def _number(self, text: str) -> float | None:
        if not text:
            if self.optional:
                return None
            raise ValueError(f"{self.title} is empty. Type a number{self._in_unit}.")
        value = units.parse(text, self.unit or "1")
        trouble = self.range.trouble(self.title, value)
        if trouble:
            raise ValueError(trouble)
        return value

    def _list(self, text: str) -> Value:
        parts = [part for part in text.split(";") if part.strip()]
        if len(parts) % self.multiple:
            raise ValueError(f"{self.title}: {len(parts)} numbers; a multiple of {self.multiple} is needed.")
        if len(parts) > 1:
            return tuple(self._one_of_list(part) for part in parts)
        return self._number(text)

    def _one_of_list(self, text: str) -> float:
        number = self._number(text.strip())
        if number is None:
            raise ValueError(f"{self.title} is empty. Type a number{self._in_unit}.")
        return number

    def _choice(self, text: str) -> str:
        for key, shown in self.choices:
            if text.lower() in (shown.lower(), key.lower()):
                return key
        listed = ", ".join(shown for _, shown in self.choices)
        raise ValueError(f"{self.title}: '{text}' is not one of {listed}.")

    @property
    def _in_unit(self) -> str:
        return f" in {units.symbol(self.unit)}" if self.unit else ""


@dataclass
class Cell:
    text: str
    value: Value
    error: str = ""


def _three_decimals(text: str) -> str:
    """A pasted "12,000" with its comma read as a decimal sign: columns of three decimals are common."""
    return text.replace(",", ".") if _THREE_DECIMALS.fullmatch(text) else text


Index = QModelIndex | QPersistentModelIndex


class TableModel(QAbstractTableModel):
    """Rows of cells; `edited` after a person's change (typing, paste, rows added or removed)."""

    edited = Signal()

    def __init__(self, columns: Sequence[Column], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = list(columns)
        self.cells: list[list[Cell]] = []
        self._told: dict[tuple[int, str], str] = {}
        self.may_grow = True
        """Whether a paste may add rows."""
        self.new_row: Callable[[], dict[str, Value]] = dict
        """Values of a new row that stand in for the defaults of their columns."""
        self.most_rows = MOST_STATIONS
        self._refused = ""
        """Why the last change was not made; the next one takes it away."""

    # -- whole table -----------------------------------------------------------------------

    def set_table(self, columns: Sequence[Column], rows: Sequence[dict[str, Value]]) -> None:
        """Show other columns and rows."""
        self.beginResetModel()
        self.columns = list(columns)
        self.cells = [[self._cell_of(column, row.get(column.key)) for column in columns] for row in rows]
        self._told, self._refused = {}, ""
        self.endResetModel()

    def rows(self) -> list[dict[str, Value]]:
        """The last good values, row by row."""
        return [
            {column.key: cell.value for column, cell in zip(self.columns, row, strict=True)}
            for row in self.cells
        ]

    def tell_errors(self, errors: dict[tuple[int, str], str]) -> None:
        """Mark cells by (row, column key) with problems found elsewhere."""
        if errors != self._told:
            self._told = dict(errors)
            if self.cells:
                last = self.index(len(self.cells) - 1, len(self.columns) - 1)
                self.dataChanged.emit(self.index(0, 0), last)

    def show_fixed(self, row: int, key: str, text: str) -> None:
        """Write a cell that only shows, without touching what is being typed beside it."""
        c = next(i for i, column in enumerate(self.columns) if column.key == key)
        cell = self.cells[row][c]
        if cell.text != text:
            cell.text, cell.value = text, text
            self.dataChanged.emit(self.index(row, c), self.index(row, c))

    def error_at(self, row: int, column: int) -> str:
        return self.cells[row][column].error or self._told.get((row, self.columns[column].key), "")

    def errors(self, *, own_only: bool = False) -> list[str]:
        """Every wrong cell as a sentence that names its row."""
        found = [self._refused] if self._refused else []
        for r, row in enumerate(self.cells):
            for c, cell in enumerate(row):
                error = cell.error if own_only else self.error_at(r, c)
                if error:
                    found.append(f"Row {r + 1}: {error}")
        return found

    # -- a person's changes ------------------------------------------------------------------

    def put_text(self, row: int, column: int, text: str) -> None:
        """Take a typed text into a cell; a bad one stays with its reason."""
        self._refused = ""
        cell, spec = self.cells[row][column], self.columns[column]
        if spec.kind == "fixed":
            return
        try:
            value = spec.to_value(text)
        except ValueError as error:
            cell.text, cell.error = text.strip(), str(error)
        else:
            cell.text, cell.value, cell.error = spec.to_text(value), value, ""
        self.dataChanged.emit(self.index(row, column), self.index(row, column))

    def put_block(self, row: int, column: int, block: list[list[str]]) -> tuple[int, int]:
        """Take a pasted block at a cell, adding rows where needed; the last cell written."""
        if block and self._is_heading(block, column):
            block = block[1:]
        if not self.may_grow:
            block = block[: len(self.cells) - row]
        self._refused = ""
        if row + len(block) > max(self.most_rows, len(self.cells)):
            self._refused = (
                f"{len(block)} rows were pasted from row {row + 1}; the table takes at most {self.most_rows}. "
                "Nothing was changed: paste fewer."
            )
            self.edited.emit()
            return row, column
        missing = row + len(block) - len(self.cells)
        if missing > 0:
            self.insert_rows(len(self.cells), missing, quiet=True)
        last = (row, column)
        for r, texts in enumerate(block):
            for c, text in enumerate(texts[: len(self.columns) - column]):
                self.put_text(row + r, column + c, _three_decimals(text))
                last = (row + r, column + c)
        self.edited.emit()
        return last

    def insert_rows(self, at: int, count: int = 1, *, quiet: bool = False) -> None:
        """Add rows of defaults, or copies of the row above where a column has no default."""
        self._refused = ""
        self.beginInsertRows(QModelIndex(), at, at + count - 1)
        for _ in range(count):
            starts = self.new_row()
            new = [
                self._cell_of(column, starts[column.key])
                if column.key in starts
                else self._new_cell(column, at - 1, c)
                for c, column in enumerate(self.columns)
            ]
            self.cells.insert(at, new)
        self.endInsertRows()
        if not quiet:
            self.edited.emit()

    def remove_rows(self, rows: Sequence[int]) -> None:
        """Take rows away."""
        self._refused = ""
        for row in sorted(set(rows), reverse=True):
            self.beginRemoveRows(QModelIndex(), row, row)
            del self.cells[row]
            self.endRemoveRows()
        self.edited.emit()

    def move_row(self, row: int, to: int) -> None:
        """Exchange a row with its neighbour `to`."""
        self._refused = ""
        self.beginResetModel()
        self.cells.insert(to, self.cells.pop(row))
        self.endResetModel()
        self.edited.emit()

    def _new_cell(self, column: Column, above: int, c: int) -> Cell:
        if column.default is not None or column.optional or not self.cells:
            return self._cell_of(column, column.default)
        kept = self.cells[max(above, 0)][c]
        return Cell(kept.text, kept.value, kept.error)

    def _cell_of(self, column: Column, value: Value) -> Cell:
        text = column.to_text(value)
        try:
            return Cell(text, column.to_value(text) if value is None else value)
        except ValueError as error:
            return Cell(text, value, str(error))

    def _is_heading(self, block: list[list[str]], column: int) -> bool:
        """True when the first pasted row has words where numbers belong and a number row follows."""
        if len(block) < 2:
            return False
        numbers = [
            c
            for c in range(min(len(block[0]), len(self.columns) - column))
            if self.columns[column + c].kind == "number"
        ]
        return bool(numbers) and all(
            block[0][c] and not any(sign.isdigit() for sign in block[0][c].split("[")[0]) for c in numbers
        )

    # -- Qt ------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        return 0 if parent.isValid() else len(self.cells)

    def columnCount(self, parent: Index = QModelIndex()) -> int:
        return 0 if parent.isValid() else len(self.columns)

    def flags(self, index: Index) -> Qt.ItemFlag:
        base = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self.columns[index.column()].kind == "fixed":
            return base
        if self.columns[index.column()].kind == "switch":
            return base | Qt.ItemFlag.ItemIsUserCheckable
        return base | Qt.ItemFlag.ItemIsEditable

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> object:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Horizontal:
            return self.columns[section].header
        return str(section + 1)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row, c = index.row(), index.column()
        cell, column = self.cells[row][c], self.columns[c]
        if role == Qt.ItemDataRole.CheckStateRole and column.kind == "switch":
            return Qt.CheckState.Checked if cell.value else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.EditRole:
            return cell.text
        if role == Qt.ItemDataRole.DisplayRole:
            return "" if column.kind == "switch" else self._display(row, c)
        if role == Qt.ItemDataRole.ToolTipRole:
            return (
                plain(self.error_at(row, c) or (cell.text if column.kind in ("fixed", "text") else ""))
                or None
            )
        if role == Qt.ItemDataRole.AccessibleDescriptionRole:
            return self.error_at(row, c) or None
        return self._looks(row, c, role)

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        row, c = index.row(), index.column()
        if role == Qt.ItemDataRole.CheckStateRole:
            self.put_text(row, c, "yes" if Qt.CheckState(value) == Qt.CheckState.Checked else "no")
        elif role == Qt.ItemDataRole.EditRole:
            if str(value) == self.cells[row][c].text:
                return True  # untouched: keep the exact value behind the rounded text
            self.put_text(row, c, str(value))
        else:
            return False
        self.edited.emit()
        return True

    def _display(self, row: int, c: int) -> str:
        cell, column = self.cells[row][c], self.columns[c]
        mark = "! " if self.error_at(row, c) else ""
        return mark + (cell.text or column.hint)

    def _looks(self, row: int, c: int, role: int) -> object:
        if role == Qt.ItemDataRole.TextAlignmentRole and self.columns[c].kind in ("number", "list"):
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.BackgroundRole and self.error_at(row, c):
            return look.faded(look.current().danger, 0.18)
        if role == Qt.ItemDataRole.ForegroundRole:
            if self.error_at(row, c):
                return look.current().danger
            if not self.cells[row][c].text:
                return look.current().faint_text
        return None
