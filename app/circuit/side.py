"""Beside the schematic: what leads, parts and papers need of the circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.circuit.parts_block import PartsBlock
from app.circuit.safety_block import SafetyBlock
from app.circuit.take_along import TakeAlong

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.group_result import GroupResult


class CircuitSide(QWidget):
    """Blocks under each other."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("circuitSide")
        self._session = session
        self.parts = PartsBlock(session, self)
        self.safety = SafetyBlock(self)
        self.take_along = TakeAlong(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 8, 14, 12)
        layout.setSpacing(12)
        for block in (self.parts, self.safety, self.take_along):
            layout.addWidget(block)
        layout.addStretch(1)

    def refresh(self, result: GroupResult) -> None:
        """Show what the prediction at rest says of the group."""
        prediction = self._session.prediction
        if prediction is not None:
            self.parts.show_parts(prediction)
            self.take_along.show_prediction(prediction)
        leads, driven = (None, ()) if prediction is None else (prediction.leads, prediction.driven)
        self.safety.show_group(leads, result, driven)
