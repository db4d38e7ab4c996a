"""The preview before an outline is taken: what the file holds, where the beam lies on it, what will change."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.fields import ErrorLabel
from app.fields.buttons import push_button
from app.fields.pending import commit_typing
from app.fields.plain import PlainLabel
from app.fields.within_screen import resize_within
from app.outline.findings import Findings, findings_of
from app.outline.form import ImportForm, Scroller
from app.outline.reading import Found, read_file
from app.outline.scene import scene_of
from app.outline.sheet_view import SheetView
from app.outline.state import ImportState, Outcome
from app.outline.tracing_hand import TracingHand
from app.shell.jobs import NewestJob
from core.outline import widths
from core.outline.drawing import OutlineDrawing, OutlineError
from core.outline.frame import Frame
from core.outline.readers import PICTURES, READERS

if TYPE_CHECKING:
    from app.shell.session import Session

TITLE = "Import outline"
EMPTY_HINT = "Choose a DXF or SVG drawing, a picture to trace, or paste a table of widths."
HINT = (
    "Drag the axis points, the clamp line and the tip line. They catch on corners of the drawing; "
    "Ctrl lets them move freely. The wheel zooms, dragging empty ground moves the sheet, 0 shows everything."
)


def file_filter() -> str:
    """What the file dialog offers."""
    every = " ".join(f"*{s}" for r in READERS for s in r.suffixes) + " " + " ".join(f"*{s}" for s in PICTURES)
    kinds = [f"{r.label} ({' '.join(f'*{s}' for s in r.suffixes)})" for r in READERS]
    pictures = f"Picture to trace ({' '.join(f'*{s}' for s in PICTURES)})"
    return ";;".join([f"Outlines ({every})", *kinds, pictures, "All files (*)"])


class ImportDialog(QDialog):
    """Opens on a file, or empty with buttons to choose or paste. OK is one undo step."""

    def __init__(self, session: Session, path: Path | None = None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.state: ImportState | None = None
        self.hand = TracingHand(self)
        self.outcome = Outcome()
        self._pasted: str | None = None
        self._kind = "drawing"
        self._m_per_px = 1.0
        self._folder = str(path.parent) if path else ""
        # Of the session, not of this window: closing it need not wait for a large file to be read.
        self._job = NewestJob(session)
        self._job.finished.connect(self._on_read)
        self._job.failed.connect(self._on_unreadable)
        self.setObjectName("outline import")
        self.setWindowTitle(TITLE)
        resize_within(self, 1180, 740)
        self._build()
        self._connect()
        if path is not None:
            self.open_path(path)
        else:
            self._show()

    # -- building ----------------------------------------------------------------------------------

    def _build(self) -> None:
        self.file_label = QLabel(self)
        self.file_label.setObjectName("outline file")
        self.file_label.setTextFormat(Qt.TextFormat.PlainText)
        self.open_button = self._button("Choose &file …", self.ask_file)
        self.paste_button = self._button("&Paste widths", self.paste)
        self.paste_button.setToolTip("Rows of x and width from the clipboard, as copied from a spreadsheet")
        self.form = ImportForm(self)
        self.findings = Findings(self)
        content = QWidget(self)
        inner = QVBoxLayout(content)
        inner.setContentsMargins(0, 0, 10, 0)
        inner.addWidget(self.form)
        inner.addWidget(self.findings)
        inner.addStretch(1)
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.file_label)
        buttons = QHBoxLayout()
        buttons.addWidget(self.open_button)
        buttons.addWidget(self.paste_button)
        column.addLayout(buttons)
        column.addWidget(Scroller(content, self), 1)
        right = QWidget(self)
        sheet = QVBoxLayout(right)
        sheet.setContentsMargins(0, 0, 0, 0)
        self.hint = PlainLabel(HINT, self)
        self.hint.setObjectName("outline hint")
        self.hint.setWordWrap(True)
        self.sheet = SheetView(self)
        self.busy = QProgressBar(self)
        self.busy.setRange(0, 0)
        self.busy.setTextVisible(False)
        self.busy.setFixedHeight(6)
        self.stop_button = self._button("&Stop reading", self.stop_reading)
        self.reading = QWidget(self)
        row = QHBoxLayout(self.reading)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.busy, 1)
        row.addWidget(self.stop_button)
        self.reading.hide()
        sheet.addWidget(self.hint)
        sheet.addWidget(self.reading)
        sheet.addWidget(self.sheet, 1)
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.addWidget(left)
        splitter.addWidget(right)
        splitter.setStretchFactor(1, 1)
        splitter.setChildrenCollapsible(False)
        splitter.setSizes([372, 800])
        self.trouble = ErrorLabel(self)
        self.trouble.setObjectName("outline trouble")
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, parent=self
        )
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setText("Take outline")
        layout = QVBoxLayout(self)
        layout.addWidget(splitter, 1)
        layout.addWidget(self.trouble)
        layout.addWidget(self.buttons)

    def _button(self, text: str, slot: object) -> QPushButton:
        return push_button(self, text, f"button {text.replace('&', '')}", slot)

    def _connect(self) -> None:
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.sheet.frame_dragged.connect(self._take_frame)
        self.sheet.clicked.connect(self._on_click)
        hand, form = self.hand, self.form
        self.sheet.point_moved.connect(hand.move_point)
        self.sheet.closed_wanted.connect(hand.close)
        self.sheet.undo_wanted.connect(hand.take_back)
        hand.changed.connect(self._on_traced)
        hand.distance_wanted.connect(form.distance.setFocus)
        form.distance_typed.connect(hand.set_distance)
        form.unit_chosen.connect(partial(self._change, "set_unit", fit=True))
        form.role_chosen.connect(partial(self._change, "set_role"))
        form.join_changed.connect(partial(self._change, "set_join"))
        form.part_chosen.connect(partial(self._change, "set_part"))
        form.mirror_switched.connect(partial(self._change, "set_mirrored"))
        form.share_chosen.connect(partial(self._change, "set_share"))
        form.zones_only_switched.connect(partial(self._change, "set_zones_only"))
        form.clamp_typed.connect(self._take_clamp)
        form.end_typed.connect(self._take_end)
        form.length_typed.connect(self._take_length)

    # -- opening -----------------------------------------------------------------------------------

    @Slot()
    def ask_file(self) -> None:
        """Choose a drawing or a picture."""
        dialog = QFileDialog(self, "Choose the drawing of the outline", self._folder, file_filter())
        dialog.setObjectName("outlineFileDialog")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self._on_file_selected)
        dialog.open()

    @Slot(str)
    def _on_file_selected(self, name: str) -> None:
        self.open_path(Path(name))

    def open_path(self, path: Path) -> None:
        """Read that file off the window's thread; a picture is then shown to be traced."""
        self._folder = str(path.parent)
        self._forget()
        self.file_label.setText(path.name)
        self.reading.show()
        self._show_all()
        self.hint.setText(f"Reading {path.name} …")
        self._job.request(partial(read_file, path, self.session.project))

    @Slot()
    def stop_reading(self) -> None:
        """Give the file up; the window is as it was before one was chosen."""
        self._job.cancel()
        self.reading.hide()
        self.file_label.setText("")
        self._show()

    @Slot(int, object)
    def _on_read(self, _revision: int, found: Found) -> None:
        self.reading.hide()
        if found.words:
            self._refuse(found.words)
        elif found.image is not None:
            self._kind = "picture"
            self.hand.begin(found.name, found.image)
        elif found.state is not None:
            self._kind, self.state, self.outcome = found.state.drawing.kind, found.state, found.outcome
            self._show_all(fit=True)

    @Slot(int, object)
    def _on_unreadable(self, _revision: int, _error: object) -> None:
        self.reading.hide()
        self._refuse(
            "This file could not be read; it holds something unexpected. Export it again as DXF or SVG."
        )

    @Slot()
    def paste(self) -> None:
        """The table on the clipboard as an outline."""
        self.take_widths(QGuiApplication.clipboard().text())

    def take_widths(self, text: str) -> None:
        """A pasted table as an outline."""
        self._forget()
        self.file_label.setText("pasted widths")
        try:
            if not text.strip():
                raise OutlineError(
                    "The clipboard holds no text. Copy the columns x and width, then paste again."
                )
            drawing = widths.from_text(text)
        except OutlineError as error:
            self._refuse(str(error))
            return
        # Only a column without places needs to be told its length.
        self._pasted = text if drawing.is_column else None
        self._take_drawing(drawing)

    def _take_drawing(self, drawing: OutlineDrawing) -> None:
        self._kind = drawing.kind
        self.state = ImportState(self.session.project, drawing)
        self._show(fit=True)

    def _forget(self) -> None:
        self.state, self._pasted, self._kind = None, None, "drawing"
        self.hand.forget()
        self.outcome = Outcome()

    def _refuse(self, words: str) -> None:
        self._forget()
        self.outcome = Outcome(error=words)
        self._show_all()

    # -- changes -----------------------------------------------------------------------------------

    def _change(self, method: str, *values: object, fit: bool = False) -> None:
        """One change of the choices, by the name of its method."""
        if self.state is not None:
            getattr(self.state, method)(*values)
            self._show(fit=fit)

    @Slot(object)
    def _take_frame(self, moved: Frame) -> None:
        self._change("set_frame", moved)

    @Slot(float)
    def _take_clamp(self, clamp_m: float) -> None:
        if self.state is not None and self.state.choices.frame is not None:
            self._take_frame(replace(self.state.choices.frame, clamp_m=clamp_m))

    @Slot(object)
    def _take_end(self, end_m: float | None) -> None:
        if self.state is not None and self.state.choices.frame is not None:
            self._take_frame(replace(self.state.choices.frame, end_m=end_m))

    @Slot(float)
    def _take_length(self, length_m: float) -> None:
        if self._pasted is not None:
            text = self._pasted
            unit = self.state.choices.unit if self.state else "mm"
            drawing = widths.from_text(text, unit=unit, length_m=length_m)
            self.state = ImportState(self.session.project, drawing)
            self._show(fit=True)

    # -- clicks on the sheet -----------------------------------------------------------------------

    @Slot(float, float)
    def _on_click(self, x: float, y: float) -> None:
        """A point of the tracing, or the closed line that is to be the part."""
        if self.hand.tracing is not None:
            self.hand.click(x, y)
        elif self.state is not None:
            part = self.state.area_at(x, y)
            if part is not None and part != self.state.choices.part:
                self._change("set_part", part)

    @Slot(bool)
    def _on_traced(self, fit: bool) -> None:
        """Another tracing: what was set about the beam is kept."""
        tracing, old = self.hand.tracing, self.state
        if tracing is None:
            return
        try:
            drawing = tracing.outline()
        except OutlineError:
            self.state = None
        else:
            self.state = ImportState(self.session.project, drawing)
            if old is not None:
                self.state.keep_beam(old.choices, tracing.m_per_px / self._m_per_px)
            self._m_per_px = tracing.m_per_px
        self._show(fit=fit)

    # -- showing -----------------------------------------------------------------------------------

    def _show(self, *, fit: bool = False) -> None:
        self.outcome = self.state.outcome() if self.state is not None else Outcome()
        self._show_all(fit=fit)

    def _show_all(self, *, fit: bool = False) -> None:
        tracing = self.hand.tracing
        self.form.show_state(self.state, self._kind)
        self.form.setVisible(self.state is not None or tracing is not None)
        self.form.length_row.setVisible(self._pasted is not None)
        self.sheet.tracing = tracing is not None
        self.sheet.show_scene(scene_of(self.state, self.outcome, tracing, self.hand.image), fit=fit)
        self.hint.setText(self._hint())
        if tracing is not None:
            self.form.distance.set_value(tracing.distance_m)
        self.findings.tell(*findings_of(self.outcome))
        self.trouble.show_text(self.outcome.error)
        ok = self.outcome.after is not None
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(ok)

    def _hint(self) -> str:
        tracing = self.hand.tracing
        if tracing is not None and not (tracing.closed and tracing.has_scale):
            return tracing.words()
        return HINT if self.state is not None else EMPTY_HINT

    # -- ending ------------------------------------------------------------------------------------

    def accept(self) -> None:
        """Take the outline as one undo step; without one, stay open."""
        commit_typing()
        if self.outcome.after is None:
            return
        only = self.state is not None and self.state.choices.zones_only
        self.session.apply("Import keep-outs" if only else TITLE, self.outcome.after)
        super().accept()

    def done(self, result: int) -> None:
        self._job.cancel()
        if not self._job.busy:
            self._job.deleteLater()
        super().done(result)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter commits a field; it does not close the window."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()
            return
        super().keyPressEvent(event)
