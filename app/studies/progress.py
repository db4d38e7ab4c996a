"""A line that tells how far a study is, with the time left and Cancel."""

from __future__ import annotations

import time

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QPushButton, QSizePolicy, QWidget

from app.fields.plain import PlainLabel
from app.studies.words import time_left


class ProgressLine(QWidget):
    """Words, a bar and Cancel; without bar and button when nothing runs."""

    cancel_wanted = Signal()

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._begun = 0.0
        self.words = PlainLabel("", self)
        self.words.setObjectName(f"{name}Words")
        self.words.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.bar = QProgressBar(self)
        self.bar.setObjectName(f"{name}Bar")
        self.bar.setAccessibleName("Share done")
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedWidth(160)
        self.bar.setMaximumHeight(12)
        self.cancel = QPushButton("Cancel", self)
        self.cancel.setObjectName(f"{name}Cancel")
        self.cancel.clicked.connect(self.cancel_wanted)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.words, 1)
        row.addWidget(self.bar)
        row.addWidget(self.cancel)
        self.setFixedHeight(self.cancel.sizeHint().height())
        self.say("")

    def begin(self, words: str) -> None:
        """Something has started."""
        self._begun = time.perf_counter()
        self.bar.setValue(0)
        self.bar.show()
        self.cancel.show()
        self.words.setText(words)

    @Slot(float, str)
    def tell(self, share: float, words: str) -> None:
        """How far it is."""
        if self.bar.isHidden():
            return
        self.bar.setValue(round(1000 * share))
        spent = time.perf_counter() - self._begun
        left = spent * (1.0 - share) / share if share > 0.02 else 0.0
        self.words.setText(f"{words}{time_left(left)}")

    def say(self, words: str) -> None:
        """Nothing runs; what came of it."""
        self.bar.hide()
        self.cancel.hide()
        self.words.setText(words)
