"""The root stiffness from a measured f1: typed, found with its range, checked with f2 and f3, taken as one step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QDialogButtonBox, QVBoxLayout, QWidget

from app.fields import ChoiceField, ErrorLabel, FormRow, QuantityField
from app.fields.plain import PlainLabel
from app.fields.within_screen import resize_within
from app.panels.draft import DraftDialog
from core.measured import root
from core.project.ranges import Range

if TYPE_CHECKING:
    from app.shell.session import Session

STATES = tuple(root.STATE_WORDS.items())
LARGEST_UNCERTAINTY = 0.2


class RootDialog(DraftDialog):
    """OK gives the part an elastic root of the stiffness found, marked as measured."""

    title = "Take the root stiffness from f1"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("root editor")
        self.setWindowTitle("Root stiffness from a measured f1")
        self.state = ChoiceField("Measured", STATES)
        has_patches = bool(session.project.candidate().patches)
        self.state.set_value("shorted" if has_patches else "bare")
        self.state.chosen.connect(self.refresh_all)
        self.frequencies = [
            QuantityField(Range("Hz", 0.0, 1e7, above=True), f"Measured f{n}", optional=True, hint="" if n == 1 else "as a check")
            for n in (1, 2, 3)
        ]
        self.uncertainty = QuantityField(Range("%", 0.0, LARGEST_UNCERTAINTY), "Uncertainty of f1")
        self.uncertainty.set_value(root.USUAL_UNCERTAINTY)
        layout = QVBoxLayout(self.page)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(FormRow("Measured", self.state))
        for field in (*self.frequencies, self.uncertainty):
            layout.addWidget(FormRow(field.label, field))
            field.committed.connect(self.refresh_all)
            field.cleared.connect(self.refresh_all)
        self.found_text = PlainLabel("", self.page)
        self.found_text.setObjectName("root found")
        self.found_text.setWordWrap(True)
        self.checks_text = PlainLabel("", self.page)
        self.checks_text.setObjectName("root checks")
        self.checks_text.setWordWrap(True)
        self.refusal = ErrorLabel(self.page)
        self.refusal.setObjectName("root refused")
        for label in (self.found_text, self.checks_text, self.refusal):
            layout.addWidget(label)
        layout.addStretch(1)
        resize_within(self, 460, 420)
        self.refresh_all()

    @Slot()
    def refresh_all(self) -> None:
        """Find the root again from what is typed."""
        found, refused = None, ""
        measured = tuple(field.value() for field in self.frequencies)
        if measured[0] is not None:
            try:
                found = root.find_root(
                    self.session.project, measured, state=self.state.key(),
                    uncertainty=self.uncertainty.value() or 0.0,
                )  # fmt: skip
            except root.RootError as error:
                refused = str(error)
        self._found = found
        self.refusal.show_text(refused)
        self.found_text.setText(
            root.root_text(found) if found else "" if refused else "Type the f1 that was measured; the stiffness follows."
        )
        self.checks_text.setText("\n".join(map(root.check_text, found.checks)) if found else "")
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(found is not None)

    def accept(self) -> None:
        """One undo step; while a text is being typed it is read first, and what it says seen before it is taken."""
        focus = self.focusWidget()
        if isinstance(focus, QuantityField):
            focus.commit()
        if self._found is not None:
            self.draft.apply("", root.with_root_found(self.session.project, self._found))
            super().accept()
