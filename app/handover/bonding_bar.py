"""Above the bonding record: its readings typed, read from a table of text, and written as one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
from PySide6.QtCore import QLocale, Qt, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QWidget

from app.fields.buttons import push_button
from app.fields.plain import PlainLabel
from app.handover.bonding_dialog import BondingDialog, asked_of
from app.shell.session import Session
from app.shell.settings import Settings
from core.handover.text.bonding_record import count_words
from core.measured.bonded import judge_part
from core.measured.bonded_csv import BondedError, bonded_csv, read_bonded
from core.project import files
from core.project.bonded import merged, read_of, with_read
from core.study.tolerance.pass_bands import PassBands

CSV_KINDS = (
    "Table, decimal point, parted by commas (*.csv)",
    "Table, decimal comma, parted by semicolons (*.csv)",
)


class BondingBar(QWidget):
    """Buttons and how the parts stand. `told` gives (error, what was done), one of them empty."""

    told = Signal(str, str)

    def __init__(self, session: Session, bands: Callable[[], PassBands | None], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("bondingBar")
        self._session, self._bands = session, bands
        self.dialog: BondingDialog | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(push_button(self, "&Enter readings …", "enterReadings", self.enter))
        row.addWidget(push_button(self, "&Read table …", "readReadings", self._ask_to_read))
        row.addWidget(push_button(self, "&Write table …", "writeReadings", self._ask_to_write))
        self.stand = PlainLabel("", self)
        self.stand.setObjectName("bondingStand")
        row.addWidget(self.stand, 1)
        session.project_changed.connect(self.refresh)
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Say how the parts stand."""
        project, bands = self._session.project, self._bands()
        judged = [judge_part(part, bands) for part in read_of(project.bonded, project.active)]
        self.stand.setText(count_words(judged) if judged else "No part was read yet.")
        if self.dialog is not None:
            self.dialog.set_bands(bands)

    @Slot()
    def enter(self) -> None:
        """The table of readings, as one undo step."""
        self.dialog = BondingDialog(self._session, self._bands(), self)
        self.dialog.finished.connect(self._on_entered)
        self.dialog.open()

    @Slot()
    def _on_entered(self) -> None:
        if self.dialog is not None:
            self.dialog.deleteLater()
            self.dialog = None

    def read(self, path: str | Path) -> bool:
        """Take the readings of a file into the project; False, and why in words, where it has a fault."""
        project = self._session.project
        groups = [group.id for group in project.candidate().groups]
        try:
            new = read_bonded(Path(path).read_bytes(), project.active, groups)
        except OSError as fault:
            self.told.emit(f"{Path(path).name} could not be read: {files.reason(fault)}", "")
            return False
        except BondedError as error:
            self.told.emit(f"Nothing was taken from {Path(path).name}.\n{error}", "")
            return False
        parts = merged(read_of(project.bonded, project.active), new)
        changed = msgspec.structs.replace(project, bonded=with_read(project.bonded, project.active, parts))
        self._session.apply("Read bonding record", changed)
        self.told.emit("", f"{len(new)} parts read from {Path(path).name}.")
        return True

    def write(self, path: str | Path, *, decimal_comma: bool = False) -> bool:
        """Write the readings with verdicts; the byte-order mark lets spreadsheets read the units."""
        project = self._session.project
        parts = read_of(project.bonded, project.active)
        text = bonded_csv(parts, asked_of(self._session, parts), self._bands(), decimal_comma=decimal_comma)
        try:
            files.write_atomically(b"\xef\xbb\xbf" + text.encode(), Path(path))
        except (OSError, ValueError) as error:
            self.told.emit(f"{Path(path).name} was not written: {error}", "")
            return False
        self.told.emit("", f"{len(parts)} parts written to {path}.")
        return True

    @Slot()
    def _ask_to_read(self) -> None:
        dialog = self._file_dialog("Read a bonding record", "readBondingDialog", "")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.setNameFilters(["Tables (*.csv *.tsv *.txt)", "All files (*)"])
        dialog.fileSelected.connect(self.read)
        dialog.open()

    @Slot()
    def _ask_to_write(self) -> None:
        dialog = self._file_dialog("Write the bonding record", "writeBondingDialog", "bonding record.csv")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("csv")
        dialog.setNameFilters(CSV_KINDS)
        dialog.selectNameFilter(CSV_KINDS[QLocale().decimalPoint() == ","])
        dialog.fileSelected.connect(
            lambda name: self.write(name, decimal_comma=dialog.selectedNameFilter() == CSV_KINDS[1])
        )
        dialog.open()

    def _file_dialog(self, title: str, name: str, start: str) -> QFileDialog:
        dialog = QFileDialog(self, title, str(Settings().sheet_folder / start))
        dialog.setObjectName(name)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        return dialog
