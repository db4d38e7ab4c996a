"""Hand over: the placement diagram with its fields, a live preview, and export."""

from __future__ import annotations

from pathlib import Path

import msgspec
from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.fields import ErrorLabel
from app.handover.preview import SheetPreview
from app.handover.render import drawing_image, write_sheet
from app.handover.sheet_form import SheetForm
from app.session import Session
from app.settings import Settings
from core.handover.diagram import placement_diagrams
from core.handover.items import Drawing, SheetError
from core.handover.notes import open_voltage_v
from core.project.model import Project

FORMATS = (("PDF", "pdf"), ("SVG", "svg"), ("PNG", "png"))
NOTHING_CHANGED = "Nothing is exported while a field holds an error. Mend it first."


class HandOverDialog(QDialog):
    """Fields on the left, the sheet on the right. OK and every export put the fields into the
    project as one undo step; Cancel leaves the project as it was."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("handOverDialog")
        self.setWindowTitle("Placement diagram")
        self.session = session
        self._settings = Settings()
        self._drawings: tuple[Drawing, ...] = ()
        self._page = 0
        self._turn = QTimer(self, singleShot=True, interval=0)
        self._turn.timeout.connect(self.refresh)
        self.form = SheetForm(session.project, self)
        self.preview = SheetPreview(self)
        self.errors = ErrorLabel(self)
        self.errors.setObjectName("handOverError")
        self.said = QLabel("", self)
        self.said.setObjectName("handOverSaid")
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._lay_out()
        self.form.changed.connect(self._turn.start)
        session.project_changed.connect(self._turn.start)
        self.resize(1240, 780)
        self.refresh()

    # ---- what a person reads -------------------------------------------------------------

    def project(self) -> Project:
        """The open project with the sheet as the fields say it."""
        return msgspec.structs.replace(self.session.project, sheet=self.form.sheet())

    def drawings(self) -> tuple[Drawing, ...]:
        return self._drawings

    @Slot()
    def refresh(self) -> None:
        """Draw the sheets anew, or say what keeps them from being drawn."""
        self._turn.stop()
        project = self.project()
        prediction = None if self.session.stale else self.session.prediction
        try:
            self._drawings = placement_diagrams(
                project,
                remarks=prediction.remarks if prediction else (),
                open_voltage_v=open_voltage_v(project, prediction) if prediction else None,
            )
        except SheetError as error:
            self._drawings = ()
            self.preview.show_words(str(error))
        self._show_page()
        for button in (*self._exports, self._copy):
            button.setEnabled(bool(self._drawings))

    # ---- export --------------------------------------------------------------------------

    def export(self, path: str | Path) -> bool:
        """Put the fields into the project and write the sheets; False, and why in words, if not."""
        if self.form.has_errors():
            self._tell(error=NOTHING_CHANGED)
            return False
        self.form.revisions.add()
        self.refresh()
        if not self._drawings:
            self._tell(error=self.preview.words())
            return False
        try:
            written = write_sheet(self._drawings, path)
        except SheetError as error:
            self._tell(error=str(error))
            return False
        self._put()
        self._settings.sheet_folder = Path(path).parent
        self._tell(said=", ".join(p.name for p in written) + f" written to {written[0].parent}")
        return True

    @Slot()
    def _ask_and_export(self) -> None:
        suffix = str(self.sender().property("suffix"))
        name = _file_name(self._drawings[0].title if self._drawings else "sheet")
        start = self._settings.sheet_folder / f"{name}.{suffix}"
        dialog = QFileDialog(self, f"Export the sheet as {suffix.upper()}", str(start))
        dialog.setObjectName("exportFileDialog")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilter(f"{suffix.upper()} (*.{suffix})")
        dialog.setDefaultSuffix(suffix)
        dialog.selectFile(start.name)
        dialog.fileSelected.connect(self.export)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot()
    def copy_picture(self) -> None:
        """The sheet shown, at print resolution, on the clipboard."""
        if self._drawings:
            QGuiApplication.clipboard().setImage(drawing_image(self._drawings[self._page]))
            self._tell(said="The sheet is on the clipboard as a picture.")

    @Slot()
    def accept(self) -> None:
        if self.form.has_errors():
            self._tell(error="A field holds an error. Mend it, or Cancel.")
            return
        self._put()
        super().accept()

    def _put(self) -> None:
        """One undo step; a reason typed but not yet added is a revision meant."""
        self.form.revisions.add()
        self.session.apply("Edit placement diagram", self.project())

    def _tell(self, *, error: str = "", said: str = "") -> None:
        self.errors.show_text(error)
        self.said.setText(said)

    # ---- pages ---------------------------------------------------------------------------

    @Slot()
    def _next_page(self) -> None:
        self._page = (self._page + 1) % max(1, len(self._drawings))
        self._show_page()

    def _show_page(self) -> None:
        count = len(self._drawings)
        self._page = min(self._page, max(0, count - 1))
        self._pages.setVisible(count > 1)
        self._pages.setText(f"Sheet {self._page + 1} of {count}, show the &next")
        if self._drawings:
            self.preview.show_drawing(self._drawings[self._page])

    # ---- building ------------------------------------------------------------------------

    def _lay_out(self) -> None:
        right = QWidget(self)
        above = QHBoxLayout()
        about = QLabel("Live preview. Wheel enlarges, drag shifts, double click fits.", right)
        self._pages = self._button("", "nextSheet", right)
        self._pages.clicked.connect(self._next_page)
        above.addWidget(about, 1)
        above.addWidget(self._pages)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(above)
        column.addWidget(self.preview, 1)
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.addWidget(self.form)
        splitter.addWidget(right)
        splitter.setStretchFactor(1, 1)
        splitter.setCollapsible(0, False)
        splitter.setSizes([370, 870])
        layout = QVBoxLayout(self)
        layout.addWidget(splitter, 1)
        layout.addWidget(self.errors)
        layout.addLayout(self._buttons())

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.addWidget(self.said, 1)
        self._copy = self._button("&Copy picture", "copyPicture", self)
        self._copy.clicked.connect(self.copy_picture)
        row.addWidget(self._copy)
        self._exports = []
        for label, suffix in FORMATS:
            button = self._button(f"Export {label} …", f"export{label}", self)
            button.setProperty("suffix", suffix)
            button.clicked.connect(self._ask_and_export)
            self._exports.append(button)
            row.addWidget(button)
        row.addSpacing(16)
        cancel = self._button("Cancel", "cancelSheet", self)
        cancel.clicked.connect(self.reject)
        ok = self._button("OK", "acceptSheet", self)
        ok.clicked.connect(self.accept)
        row.addWidget(cancel)
        row.addWidget(ok)
        return row

    def _button(self, label: str, name: str, parent: QWidget) -> QPushButton:
        button = QPushButton(label, parent)
        button.setObjectName(name)
        button.setAutoDefault(False)
        return button


def _file_name(title: str) -> str:
    """The title as a file name: letters, digits and hyphens."""
    words = "".join(c if c.isalnum() else " " for c in title.split(":")[0]).split()
    return "-".join(words).lower() or "sheet"
