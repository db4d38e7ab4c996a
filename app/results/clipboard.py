"""Tables for the clipboard: tabs for a spreadsheet, HTML for a document."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from html import escape

from PySide6.QtCore import QMimeData
from PySide6.QtGui import QGuiApplication

Table = Sequence[Sequence[str]]
"""Rows of cells; the first row holds the headings."""


def as_tsv(table: Table) -> str:
    return "\n".join("\t".join(cell.replace("\t", " ").replace("\n", "; ") for cell in row) for row in table)


def as_html(table: Table) -> str:
    head, *body = table
    rows = ["<tr>" + "".join(f"<th>{escape(cell)}</th>" for cell in head) + "</tr>"]
    for row in body:
        cells = (escape(cell).replace("\n", "<br>") for cell in row)
        rows.append("<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>")
    return '<table border="1" cellspacing="0" cellpadding="3">' + "".join(rows) + "</table>"


def as_csv(table: Table) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(table)
    return text.getvalue()


def copy_table(table: Table) -> None:
    """Put the table on the clipboard in both forms; the reader takes the one it knows."""
    data = QMimeData()
    data.setText(as_tsv(table))
    data.setHtml(as_html(table))
    QGuiApplication.clipboard().setMimeData(data)
