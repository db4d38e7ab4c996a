"""Tables for the clipboard: tabs for a spreadsheet, HTML for a document."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

from PySide6.QtCore import QMimeData, QStringListModel
from PySide6.QtGui import QGuiApplication

Table = Sequence[Sequence[str]]
"""Rows of cells; the first row holds the headings."""


def as_tsv(table: Table) -> str:
    return "\n".join("\t".join(cell.replace("\t", " ").replace("\n", "; ") for cell in row) for row in table)


def as_html(table: Table) -> str:
    from html import escape  # with the first table copied, not with the window

    head, *body = table
    rows = ["<tr>" + "".join(f"<th>{escape(cell)}</th>" for cell in head) + "</tr>"]
    for row in body:
        cells = (escape(cell).replace("\n", "<br>") for cell in row)
        rows.append("<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>")
    return '<table border="1" cellspacing="0" cellpadding="3">' + "".join(rows) + "</table>"


def as_csv(table: Table, *, decimal_comma: bool = False) -> str:
    """Cells parted by commas; with decimal commas in the numbers, parted by semicolons."""
    import csv

    text = io.StringIO()
    rows = [[_NUMBER.sub(r"\1,\2", cell) for cell in row] for row in table] if decimal_comma else table
    csv.writer(text, delimiter=";" if decimal_comma else ",", lineterminator="\r\n").writerows(rows)
    return text.getvalue()


_NUMBER = re.compile(r"(?<![\w.])([+\-\N{MINUS SIGN}]?\d+)\.(\d+)(?![\w.]*\.\d)")
"""A number with a decimal point, alone or with a unit; not a version such as 1.2.3."""


def copy_table(table: Table) -> None:
    """Put the table on the clipboard in both forms; the reader takes the one it knows."""
    data = _made_by_qt()
    data.setText(as_tsv(table))
    data.setHtml(as_html(table))
    QGuiApplication.clipboard().setMimeData(data)


def _made_by_qt() -> QMimeData:
    """Empty data that Python has no part in. Where the system has no clipboard of its own (offscreen, a bare
    framebuffer), Qt's outlives the interpreter, and data constructed here would call it when destroyed: a crash."""
    model = QStringListModel([""])
    data = model.mimeData([model.index(0)])
    for form in data.formats():
        data.removeFormat(form)
    return data
