"""What a badly used electrode could gain, said beside the results, and the one click that splits it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.results.answer_lines import asked_modes
from app.theme import look
from core import units
from core.predict.electrics.electrode import SignChange, sign_change
from core.project.patch_edits import split_at

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.prediction import Prediction


class SplitOffer(QWidget):
    """Shown while the strain of a mode that is asked for changes sign under an electrode."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("splitOffer")
        self._session = session
        self._change: SignChange | None = None
        self.words = PlainLabel("", self)
        self.words.setWordWrap(True)
        self.words.setFont(look.font(12))
        self.button = QPushButton(self)
        self.button.setObjectName("splitButton")
        self.button.clicked.connect(self._split)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 6)
        column.setSpacing(4)
        column.addWidget(self.words)
        column.addWidget(self.button)
        self.hide()

    def show_for(self, prediction: Prediction | None) -> None:
        """Say it of the first mode asked for that has it, or hide."""
        self._change = None
        shown = self._session.shown
        for number in asked_modes(shown) if prediction is not None else ():
            if prediction is None or number > len(prediction.modes):
                continue
            mode = prediction.modes[number - 1]
            change = sign_change(shown.candidate(), mode)
            if change is not None and self._can_split(change):
                self._change = change
                where = units.show_with_unit(change.x_m, "mm", significant=4)
                use = units.show_with_unit(mode.electrode_use or 0.0, "%", significant=2)
                self.words.setText(
                    f"Mode {number} uses {use} of what the electrode could give: its strain changes sign under "
                    f"{change.patch} at {where}, and the charges of the two parts cancel."
                )
                self.button.setText(f"Split {change.patch} at {where}")
                break
        self.setVisible(self._change is not None)

    def _can_split(self, change: SignChange) -> bool:
        try:
            split_at(self._session.shown, self._session.shown.active, change.patch, change.x_m)
        except ValueError:
            return False
        return True

    @Slot()
    def _split(self) -> None:
        change, project = self._change, self._session.project
        if change is not None:
            self._session.apply(self.button.text(), split_at(project, project.active, change.patch, change.x_m))
