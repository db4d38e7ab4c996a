"""The verdict in a frame: sign, sentence, the numbers behind it; never a colour alone."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QSizePolicy, QWidget

from app.fields.plain import PlainLabel
from app.measured.text_table import Tone, tone_color
from app.theme import look
from core.measured.verdict import Code

SIGNS: dict[Code, tuple[str, Tone]] = {
    "good": ("✔", "good"), "suspect": ("?", "caution"), "debond": ("✘", "danger"), "crack": ("✘", "danger"),
    "wrong patch": ("✘", "danger"), "polarity or lead": ("✘", "danger"), "instrument": ("?", "caution"), "not judged": ("?", "faint"),
}  # fmt: skip


class VerdictBox(QFrame):
    """Sign, title and text."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("verdictBox")
        self._tone: Tone = "faint"
        self.sign = PlainLabel("", self)
        self.sign.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignHCenter)
        self.sign.setFixedWidth(34)
        self.title = PlainLabel("", self)
        self.title.setObjectName("verdictTitle")
        self.text = PlainLabel("", self)
        self.text.setObjectName("verdictText")
        for label in (self.title, self.text):
            label.setWordWrap(True)
            label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        grid = QGridLayout(self)
        grid.setContentsMargins(10, 10, 12, 10)
        grid.addWidget(self.sign, 0, 0, 2, 1)
        grid.addWidget(self.title, 0, 1)
        grid.addWidget(self.text, 1, 1)
        grid.setColumnStretch(1, 1)
        look.look_changed.connect(self._restyle)
        self._restyle()

    def tell(self, sign: str, tone: Tone, title: str, text: str) -> None:
        """Show a sentence and what is behind it."""
        self._tone = tone
        self.sign.setText(sign)
        self.title.setText(title)
        self.text.setText(text)
        self.text.setVisible(bool(text))
        self.setAccessibleName(title)
        self.setAccessibleDescription(text)
        self._restyle()

    @Slot()
    def _restyle(self) -> None:
        now, color = look.current(), tone_color(self._tone)
        self.sign.setFont(look.font(22, bold=True))
        self.title.setFont(look.font(15, bold=True))
        self.text.setFont(look.font(12))
        tint = look.faded(color, 0.08)
        self.setStyleSheet(
            f"QFrame#verdictBox {{ background: rgba({tint.red()},{tint.green()},{tint.blue()},{tint.alpha()});"
            f" border: 1px solid {look.faded(color, 0.45).name(look.faded(color, 0.45).NameFormat.HexArgb)}; border-radius: 4px; }}"
        )
        for label, paint in ((self.sign, color), (self.title, now.text), (self.text, now.text)):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), paint)
            label.setPalette(palette)
