"""Trouble told in words: expected trouble beside what was asked, the unexpected with a report.

PySide6 hands exceptions in slots to `sys.excepthook` and runs on. The hook here logs the
traceback, keeps the recovery file, and shows a sentence with a report to copy.
"""

from __future__ import annotations

import logging
import logging.handlers
import platform
import sys
import traceback
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QObject, Qt, Slot, qVersion
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QMessageBox, QPushButton, QWidget

from app.fields.plain import keep_plain
from app.shell.settings import home

log = logging.getLogger("quietspan")


def versions() -> list[tuple[str, str]]:
    """Names and versions of the program and of what it stands on."""
    from importlib import metadata

    found = [("Quietspan", program_version()), ("Python", platform.python_version()), ("Qt", qVersion())]
    for name in ("PySide6-Essentials", "pyqtgraph", "numpy", "scipy", "msgspec", "pint", "shapely", "ezdxf", "svgelements", "pyuff", "schemdraw"):
        try:
            found.append((name, metadata.version(name)))
        except metadata.PackageNotFoundError:
            continue
    return found


def program_version() -> str:
    from app import __version__

    return __version__


def log_file() -> Path:
    return home() / "quietspan.log"


def start_log() -> None:
    """Write warnings and worse to a small rotating file in the settings folder."""
    try:
        handler = logging.handlers.RotatingFileHandler(
            log_file(), maxBytes=500_000, backupCount=1, encoding="utf-8", delay=True
        )
    except OSError:
        return
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    handler.setLevel(logging.WARNING)
    logging.getLogger().addHandler(handler)


def tell(parent: QWidget | None, title: str, text: str, *, detail: str = "") -> QMessageBox:
    """Show a message in words without stopping the event loop; the box is returned."""
    box = QMessageBox(QMessageBox.Icon.Warning, title, "", QMessageBox.StandardButton.Ok, parent)
    box.setObjectName("message")
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    keep_plain(box, text, detail)
    box.open()
    return box


class ErrorReporter(QObject):
    """The last line of defence: an unexpected exception becomes a sentence and a report."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._open = False
        self._report = ""

    def install(self) -> None:
        sys.excepthook = self.handle

    def handle(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        """Log the exception and show it once; further ones while the box is open are only logged."""
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, trace)
            return
        log.error("unexpected", exc_info=(kind, error, trace))
        if self._open or QApplication.instance() is None:
            return
        self._report = _report(kind, error, trace)
        self._open = True
        self._box().open()

    def _box(self) -> QMessageBox:
        box = QMessageBox(self._window)
        box.setObjectName("errorReport")
        box.setIcon(QMessageBox.Icon.Warning)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle("Something went wrong")
        keep_plain(
            box,
            "Quietspan met something it did not expect. Your project is still open.",
            "A recovery copy is kept. Save under another name if something looks odd. "
            f"The report can be copied; it is also in {log_file()}.",
        )
        box.setDetailedText(self._report)
        copy = QPushButton("Copy report", box)
        box.addButton(copy, QMessageBox.ButtonRole.ActionRole)
        copy.clicked.disconnect()
        copy.clicked.connect(self._copy)
        box.addButton(QMessageBox.StandardButton.Close)
        box.finished.connect(self._closed)
        return box

    @Slot()
    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self._report)

    @Slot(int)
    def _closed(self, _result: int) -> None:
        self._open = False


def _report(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> str:
    lines = [f"{name} {version}" for name, version in versions()]
    lines.append(platform.platform())
    lines.append("")
    lines.extend(traceback.format_exception(kind, error, trace))
    return "\n".join(lines)
