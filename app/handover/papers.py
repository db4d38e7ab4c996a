"""The papers: every document with its fields, a live preview, and export."""

from __future__ import annotations

from pathlib import Path

import msgspec
from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.fields import ErrorLabel
from app.fields.buttons import push_button
from app.fields.plain import PlainLabel
from app.handover.bonding_bar import BondingBar
from app.handover.changes_dialog import ChangesDialog
from app.handover.computed import ComputedResults
from app.handover.document_bar import DocumentBar
from app.handover.export_all import ExportAll
from app.handover.preview import SheetPreview
from app.handover.render import drawing_image
from app.handover.sheet_form import SheetForm
from app.handover.write import file_stem, write_document
from app.shell.session import Session
from app.shell.settings import Settings
from core.handover.documents import Order
from core.handover.drawing.items import Drawing, SheetError
from core.handover.releases import follow_revisions
from core.project.model import Project
from core.study.tolerance.pass_bands import PassBands

FORMATS = (("PDF", "pdf"), ("SVG", "svg"), ("PNG", "png"), ("DXF", "dxf"), ("Markdown", "md"), ("CSV", "csv"), ("netlist", "cir"))
NOTHING_CHANGED = "Nothing is exported while a field holds an error. Mend it first."


class Papers(QWidget):
    """Fields on the left, the document on the right. A field that is done goes into the project as an undo step, as
    everywhere."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("papers")
        self.session = session
        self._settings = Settings()
        self._drawings: tuple[Drawing, ...] = ()
        self._page = 0
        self._turn = QTimer(self, singleShot=True, interval=0)
        self._turn.timeout.connect(self.refresh)
        self._computed = ComputedResults(session, self)
        self.form = SheetForm(session.project, self)
        self.bar = DocumentBar(self)
        self.bonding = BondingBar(session, self._bands, self)
        self.bonding.told.connect(self._on_bonding_told)
        self.preview = SheetPreview(self)
        self.everything = ExportAll(self)
        self.everything.ended.connect(self._on_exported)
        self.errors = ErrorLabel(self)
        self.errors.setObjectName("handOverError")
        self.said = PlainLabel("", self)
        self.said.setObjectName("handOverSaid")
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._lay_out()
        self.form.changed.connect(self._turn.start)
        self.form.committed.connect(self.keep)
        self._computed.arrived.connect(self.refresh)
        self._computed.arrived.connect(self.bonding.refresh)
        self._computed.failed.connect(self.preview.show_words)
        self.bar.chosen.connect(self._on_document)
        self.bar.turned.connect(self._turn_page)
        session.project_changed.connect(self._turn.start)
        self.refresh()

    # ---- what a person reads -------------------------------------------------------------

    def project(self) -> Project:
        """The open project with the sheet as the fields say it, new revisions frozen."""
        open_now = self.session.project
        edited = msgspec.structs.replace(open_now, sheet=self.form.sheet())
        return follow_revisions(edited, open_now.sheet.revisions)

    def drawings(self) -> tuple[Drawing, ...]:
        return self._drawings

    def order(self) -> Order:
        """The document that is shown, with the results there are for it."""
        project = self.project()
        return Order(
            project, project.active, self._computed.of(project),
            self.bar.bar_mm("along"), self.bar.bar_mm("across"),
        )  # fmt: skip

    @Slot()
    def refresh(self) -> None:
        """Draw the document anew, or say what keeps it from being drawn."""
        self._turn.stop()
        self.form.follow(self.session.project)
        order, which = self.order(), self.bar.kind()
        self.bonding.setVisible(which.key == "bonding")
        if self._computed.is_missing(order.project, which):
            self._computed.request(order.project, which)
            self._drawings = ()
            self.preview.show_words("Predicting what this document tells …")
        else:
            try:
                self._drawings = which.draw(order)
            except SheetError as error:
                self._drawings = ()
                self.preview.show_words(str(error))
        self._show_page()
        for button, suffix in self._exports:
            button.setEnabled(bool(self._drawings) and suffix in which.formats)
            button.setVisible(suffix in which.formats)
        self._copy.setEnabled(bool(self._drawings))
        self._changes.setEnabled(bool(order.project.releases))

    # ---- export --------------------------------------------------------------------------

    def export(self, path: str | Path) -> bool:
        """Put the fields into the project and write the document; False, and why in words, if not."""
        if self.form.has_errors() or self.bar.has_errors():
            self._tell(error=NOTHING_CHANGED)
            return False
        self.form.revisions.add()
        self.refresh()
        if not self._drawings:
            self._tell(error=self.preview.words())
            return False
        try:
            written = write_document(self.bar.kind(), self.order(), path)
        except SheetError as error:
            self._tell(error=str(error))
            return False
        self._put()
        self._settings.sheet_folder = Path(path).parent
        self._tell(said=_told(written))
        return True

    @Slot()
    def _ask_and_export(self) -> None:
        suffix = str(self.sender().property("suffix"))
        start = self._settings.sheet_folder / f"{file_stem(self.bar.kind(), self.order())}.{suffix}"
        dialog = QFileDialog(self, f"Export as {suffix.upper()}", str(start))
        dialog.setObjectName("exportFileDialog")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilter(f"{suffix.upper()} (*.{suffix})")
        dialog.setDefaultSuffix(suffix)
        dialog.selectFile(start.name)
        dialog.fileSelected.connect(self.export)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot()
    def _ask_for_folder(self) -> None:
        dialog = QFileDialog(self, "Export all documents into a folder", str(self._settings.sheet_folder))
        dialog.setObjectName("exportFolderDialog")
        dialog.setFileMode(QFileDialog.FileMode.Directory)
        dialog.setOption(QFileDialog.Option.ShowDirsOnly)
        dialog.fileSelected.connect(self.export_all)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot(str)
    def export_all(self, folder: str | Path) -> None:
        """Every document into a folder; it goes on in the background and can be stopped."""
        if self.form.has_errors() or self.bar.has_errors():
            self._tell(error=NOTHING_CHANGED)
            return
        self._put()
        self._settings.sheet_folder = Path(folder)
        self._tell()
        self._all.setEnabled(False)
        self.everything.start(self.order(), Path(folder))

    @Slot(object, object)
    def _on_exported(self, files: tuple[Path, ...], troubles: tuple[str, ...]) -> None:
        self._all.setEnabled(True)
        said = f"{len(files)} files written to {files[0].parent}" if files else ""
        self._tell(error=" ".join(troubles), said=said)

    @Slot()
    def copy_picture(self) -> None:
        """The page shown, at print resolution, on the clipboard."""
        if self._drawings:
            QGuiApplication.clipboard().setImage(drawing_image(self._drawings[self._page]))
            self._tell(said="The page is on the clipboard as a picture.")

    @Slot()
    def show_changes(self) -> None:
        """List what differs from the last release."""
        dialog = ChangesDialog(self.project(), self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot()
    def keep(self) -> None:
        """Put the fields into the project; one that holds an error has its last good value."""
        self.session.apply("Edit papers", self.project())

    def open_at(self, key: str) -> None:
        """Show the document of that key."""
        self.bar.document.set_value(key)
        self._on_document()

    def close_jobs(self) -> None:
        """End background work."""
        self.everything.close_job()
        self._computed.close()

    def _put(self) -> None:
        """A reason typed but not yet released is a revision meant."""
        self.form.revisions.add()
        self.keep()

    def _tell(self, *, error: str = "", said: str = "") -> None:
        self.errors.show_text(error)
        self.said.setText(said)

    def _bands(self) -> PassBands | None:
        """Pass bands of the open project, as far as they were computed."""
        tolerance = self._computed.of(self.session.project).tolerance
        return None if tolerance is None else PassBands(tolerance)

    @Slot(str, str)
    def _on_bonding_told(self, error: str, said: str) -> None:
        self._tell(error=error, said=said)

    # ---- pages ---------------------------------------------------------------------------

    @Slot()
    def _on_document(self) -> None:
        self._page = 0
        self._tell()
        self.preview.fit()
        self.refresh()

    @Slot(int)
    def _turn_page(self, step: int) -> None:
        self._page = (self._page + step) % max(1, len(self._drawings))
        self._show_page()

    def _show_page(self) -> None:
        count = len(self._drawings)
        self._page = min(self._page, max(0, count - 1))
        self.bar.show_pages(self._page, count)
        if self._drawings:
            self.preview.show_drawing(self._drawings[self._page])

    # ---- building ------------------------------------------------------------------------

    def _lay_out(self) -> None:
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(8, 0, 0, 0)
        column.addWidget(self.bar)
        column.addWidget(self.bonding)
        column.addWidget(self.preview, 1)
        column.addWidget(QLabel("Wheel enlarges, drag shifts, double click fits.", right))
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.addWidget(self.form)
        splitter.addWidget(right)
        splitter.setStretchFactor(1, 1)
        splitter.setCollapsible(0, False)
        splitter.setSizes([370, 870])
        layout = QVBoxLayout(self)
        layout.addWidget(splitter, 1)
        layout.addWidget(self.errors)
        layout.addWidget(self.everything)
        layout.addLayout(self._buttons())

    def _buttons(self) -> QVBoxLayout:
        """Two rows, so that they all fit beside each other on a small screen."""
        row, last = QHBoxLayout(), QHBoxLayout()
        self._changes = push_button(self, "&What changed …", "showChanges", self.show_changes)
        self._copy = push_button(self, "&Copy picture", "copyPicture", self.copy_picture)
        self._all = push_button(self, "Export &all …", "exportAll", self._ask_for_folder)
        row.addStretch(1)
        row.addWidget(self._copy)
        self._exports = []
        for label, suffix in FORMATS:
            button = push_button(self, f"Export {label} …", f"export{label}", self._ask_and_export)
            button.setProperty("suffix", suffix)
            self._exports.append((button, suffix))
            row.addWidget(button)
        row.addWidget(self._all)
        last.addWidget(self._changes)
        last.addWidget(self.said, 1)
        rows = QVBoxLayout()
        rows.addLayout(row)
        rows.addLayout(last)
        return rows


def _told(written: tuple[Path, ...]) -> str:
    names = ", ".join(p.name for p in written[:3]) + (f" and {len(written) - 3} more" if len(written) > 3 else "")
    return f"{names} written to {written[0].parent}"
