"""The one click that cures charges which cancel: exchange a patch's leads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QPushButton, QWidget

from core.project import edit

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.prediction import Prediction


class CureButton(QPushButton):
    """Shown while the prediction has a remark that exchanging leads would cure."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._patch = ""
        self.setObjectName("cureButton")
        self.setAccessibleName("Exchange leads")
        self.clicked.connect(self._cure)
        self.hide()

    def show_for(self, prediction: Prediction | None) -> None:
        """Offer the cure of the first such remark, or nothing."""
        errors = () if prediction is None else prediction.errors
        self._patch = next((remark.reverse for remark in errors if remark.reverse), "")
        if self._patch:
            text = f"{self._title()} now"
            self.setText(text)
            self.setAccessibleName(text)
        self.setVisible(bool(self._patch))

    def _title(self) -> str:
        patches = self._session.shown.candidate().patches
        pair = any(p.id == self._patch and p.face == "both" and not p.pair_bending for p in patches)
        return f"Wire {self._patch} for bending" if pair else f"Exchange the leads of {self._patch}"

    @Slot()
    def _cure(self) -> None:
        project = self._session.project
        self._session.apply(
            self._title(), edit.with_leads_exchanged(project, project.active, self._patch)
        )
