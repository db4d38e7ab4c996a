"""The fields of the sheet: paper, datum, title block, tolerances, shop notes, revisions."""

from __future__ import annotations

from typing import Any

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QLabel, QScrollArea, QVBoxLayout, QWidget

from app.fields import ChoiceField, FormRow, NoteField, QuantityField, TextField, quantity_for
from app.fields.plain import PlainLabel
from app.handover.revisions import RevisionList
from app.theme import look
from core.handover.sheet.datums import touchable_datums
from core.handover.sheet.layout import PAPERS_MM
from core.handover.sheet.tolerances import room_words
from core.project import edit
from core.project.model import Project
from core.project.sheet import Sheet
from core.units.words import millimetres

PAPERS = tuple(
    (paper, f"{paper}, {width:g} x {height:g} mm") for paper, (width, height) in PAPERS_MM.items()
)

TITLE_FIELDS = (
    ("title", "Title", "as the project's name; the candidate's follows"),
    ("number", "Identification number", "the candidate's letter follows"),
    ("mirrored_number", "Number of the mirrored part's", "the number with -M"),
    ("part_drawing", "Part and its drawing", "number and revision"),
    ("patch_specification", "Patch specification", "as the package's name"),
    ("owner", "Legal owner", ""),
    ("creator", "Creator", ""),
    ("approver", "Approval", ""),
    ("date", "Date of issue", "2026-03-02"),
)
FACE_FIELDS = (
    ("face_note", "The top face is", "side away from …"),
    ("underside_note", "The underside is", "side towards …"),
)
TOLERANCES = ("tolerance_x_m", "tolerance_x_root_m", "tolerance_y_m", "tolerance_angle_rad")
NOTES = (
    ("surface_preparation", "Surface preparation"),
    ("adhesive", "Adhesive"),
    ("cure", "Pressure and cure"),
)
SHOP_FIELDS = (
    ("tolerance_source", "Tolerances are from", "allowed placement error, mode 1"),
    ("connector_place", "Connector lands at", "left on the sheet to write"),
)
PURCHASE_FIELDS = (("alternates", "Approved alternates", "none so far"),)
DECISION = (("question", "The customer's question"), ("choice", "Why this candidate, and the reserve"))


class SheetForm(QScrollArea):
    """Edits a `Sheet`; `changed` follows every keystroke, so that the preview can, `committed` a field that is done."""

    changed = Signal()
    committed = Signal()

    def __init__(self, project: Project, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sheetForm")
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMinimumWidth(330)
        self._sheet = project.sheet
        self._project = project
        self._page = QWidget(self)
        self._column = QVBoxLayout(self._page)
        self._column.setContentsMargins(12, 10, 12, 12)
        self._column.setSpacing(5)
        self._texts: dict[str, TextField] = {}
        self._notes: dict[str, NoteField] = {}
        self._tolerances: dict[str, QuantityField] = {}
        self._add_choices(project)
        self._add_texts("Faces", FACE_FIELDS)
        self._add_texts("Title block", TITLE_FIELDS)
        self._add_tolerances()
        self._add_texts("", SHOP_FIELDS)
        self._add_notes("Bond", NOTES)
        self._add_parts()
        self._add_texts("", PURCHASE_FIELDS)
        self._add_notes("Decision", DECISION)
        self._add_revisions()
        self._column.addStretch(1)
        self.setWidget(self._page)
        self._write(project.sheet)
        look.look_changed.connect(self._tell_room)

    def follow(self, project: Project) -> None:
        """The part and its layout as they are now: what may be the datum, where there is room."""
        if project is not self._project:
            self._project = project
            self.datum.set_options(datum_options(project))
            self._tell_room()

    def sheet(self) -> Sheet:
        """The sheet as the fields say it; a field with an error keeps its last good value."""
        values: dict[str, object] = {name: field.text().strip() for name, field in self._texts.items()}
        values |= {name: field.toPlainText().strip() for name, field in self._notes.items()}
        values |= {name: field.value() for name, field in self._tolerances.items()}
        values["parts"] = round(self._parts.value() or 0.0)
        return msgspec.structs.replace(
            self._sheet,
            paper=self.paper.value(),
            datum=self.datum.value(),
            revisions=self.revisions.value(),
            **values,
        )

    def has_errors(self) -> bool:
        return any(field.error() for field in (*self._tolerances.values(), self._parts))

    # ---- building ------------------------------------------------------------------------

    def _heading(self, words: str) -> None:
        if not words:
            return
        label = QLabel(words, self._page)
        label.setFont(look.font(13, bold=True))
        label.setContentsMargins(0, 8, 0, 0)
        self._column.addWidget(label)

    def _add_choices(self, project: Project) -> None:
        self.paper = ChoiceField("Paper", PAPERS, parent=self._page)
        self.paper.chosen.connect(self._told)
        self.paper.chosen.connect(self._done)
        self._column.addWidget(FormRow("&Paper", self.paper, parent=self._page))
        self.datum = ChoiceField("Datum A", datum_options(project), parent=self._page)
        self.datum.chosen.connect(self._told)
        self.datum.chosen.connect(self._done)
        self._column.addWidget(FormRow("&Datum A", self.datum, parent=self._page))

    def _add_texts(self, heading: str, fields: tuple[tuple[str, str, str], ...]) -> None:
        self._heading(heading)
        for name, label, hint in fields:
            field = TextField(label, hint=hint, parent=self._page)
            field.textEdited.connect(self._told)
            field.committed.connect(self._done)
            self._texts[name] = field
            self._column.addWidget(FormRow(label, field, parent=self._page))

    def _add_tolerances(self) -> None:
        self._heading("Tolerances of the placement")
        for name in TOLERANCES:
            options: dict[str, Any] = {"optional": True, "hint": "as along"} if name == "tolerance_x_root_m" else {}
            field = quantity_for(f"sheet.{name}", parent=self._page, **options)
            for told in (field.committed, field.cleared, field.previewed):
                told.connect(self._told)
            for done in (field.committed, field.cleared):
                done.connect(self._tolerance_by_hand)
                done.connect(self._done)
            self._tolerances[name] = field
            self._column.addWidget(FormRow(field.label, field, parent=self._page))
        self.room = PlainLabel("", self._page)
        self.room.setObjectName("roomOfTolerances")
        self.room.setWordWrap(True)
        self._column.addWidget(self.room)

    def _add_parts(self) -> None:
        self._heading("Purchase")
        self._parts = quantity_for("sheet.parts", step=1.0, digits=0, parent=self._page)
        self._parts.committed.connect(self._told)
        self._parts.previewed.connect(self._told)
        self._parts.committed.connect(self._done)
        self._column.addWidget(FormRow("Parts of the batch", self._parts, parent=self._page))

    def _add_notes(self, heading: str, notes: tuple[tuple[str, str], ...]) -> None:
        self._heading(heading)
        for name, label in notes:
            caption = QLabel(label, self._page)
            field = NoteField(label, parent=self._page)
            field.setFixedHeight(3 * self.fontMetrics().lineSpacing() + 12)
            field.textChanged.connect(self._told)
            field.committed.connect(self._done)
            caption.setBuddy(field)
            self._notes[name] = field
            self._column.addWidget(caption)
            self._column.addWidget(field)

    def _add_revisions(self) -> None:
        self._heading("Revisions")
        self.revisions = RevisionList(self._page)
        self.revisions.changed.connect(self._date_of_revision)
        self.revisions.changed.connect(self._told)
        self.revisions.changed.connect(self._done)
        self._column.addWidget(self.revisions)

    @Slot()
    def _tolerance_by_hand(self) -> None:
        """A tolerance typed here is no longer the one its source gave."""
        if self._texts["tolerance_source"].text().strip() == self._sheet.tolerance_source:
            self._texts["tolerance_source"].set_value("")
            self._told()

    @Slot()
    def _date_of_revision(self) -> None:
        """The date of issue is that of the last revision."""
        lines = self.revisions.value()
        if lines:
            self._texts["date"].set_value(lines[-1].date)

    def _write(self, sheet: Sheet) -> None:
        self.paper.set_value(sheet.paper)
        self.datum.set_value(sheet.datum)
        for name, text in self._texts.items():
            text.set_value(getattr(sheet, name))
        for name, note in self._notes.items():
            note.set_value(getattr(sheet, name))
        for name, tolerance in self._tolerances.items():
            tolerance.set_value(getattr(sheet, name))
        self._parts.set_value(float(sheet.parts))
        self.revisions.set_value(sheet.revisions)
        self._tell_room()

    @Slot()
    def _told(self) -> None:
        self._tell_room()
        self.changed.emit()

    @Slot()
    def _done(self) -> None:
        self.committed.emit()

    @Slot()
    def _tell_room(self) -> None:
        """Where the tolerances are more than there is room for; the sheet says and keeps to it too."""
        words = ""
        given = [field.value() for name, field in self._tolerances.items() if name != "tolerance_x_root_m"]
        if None not in given and not self.has_errors():
            words = "\n".join(room_words(edit.with_sheet(self._project, self.sheet()), None))
        self.room.setText(words)
        palette = self.room.palette()
        palette.setColor(self.room.foregroundRole(), look.current().caution)
        self.room.setPalette(palette)
        self.room.setVisible(bool(words))


def datum_options(project: Project) -> tuple[tuple[object, str], ...]:
    """Only what a person can touch may be chosen."""
    touchable = tuple(
        (datum.name, f"{datum.name}, x = {millimetres(datum.x_m)}") for datum in touchable_datums(project)
    )
    return ((None, "tip edge, where it can be touched"), *touchable)
