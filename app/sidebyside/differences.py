"""What differs in the inputs, candidate by candidate against the reference."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.theme import look
from core.project.model import Project
from core.study.compare import Difference, input_differences


class DifferencesTable(QWidget):
    """A list per candidate: the input, the reference's value, its own value."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._found: dict[str, tuple[Difference, ...]] = {}
        self._reference = ""
        title = QLabel("What differs in the inputs", self)
        title.setFont(look.font(13, bold=True))
        self._text = QLabel(self)
        self._text.setObjectName("inputDifferences")
        self._text.setAccessibleName("What differs in the inputs")
        self._text.setTextFormat(Qt.TextFormat.RichText)
        self._text.setFont(look.font(12))
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 4, 4, 4)
        layout.addWidget(title)
        layout.addWidget(self._text)
        look.look_changed.connect(self._render)

    def show_differences(self, project: Project, reference: str) -> None:
        self._reference = reference
        self._found = {
            candidate.id: input_differences(project, reference, candidate.id)
            for candidate in project.candidates
            if candidate.id != reference
        }
        self._render()

    def table_rows(self) -> list[list[str]]:
        """The list as rows of a table, under a heading row."""
        rows = [["Input that differs", "", self._reference, ""]] if self._found else []
        for letter, found in self._found.items():
            rows += [[d.label, f"{self._reference} → {letter}", d.reference, d.other] for d in found]
        return rows

    @Slot()
    def _render(self) -> None:
        faint = look.current().faint_text.name()
        parts = []
        for letter, found in self._found.items():
            head = f"<b>{letter}</b> against {self._reference}"
            if not found:
                parts.append(f"<p>{head}: <span style='color:{faint}'>no input differs</span></p>")
                continue
            lines = "".join(
                f"<tr><td style='padding-right:18px'>{escape(d.label)}</td>"
                f"<td style='padding-right:8px; color:{faint}'>{escape(d.reference)}</td>"
                f"<td style='padding-right:8px; color:{faint}'>→</td><td>{escape(d.other)}</td></tr>"
                for d in found
            )
            parts.append(f"<p>{head}</p><table cellspacing='0' cellpadding='1'>{lines}</table>")
        self._text.setText("".join(parts) or "Keep a second placement to see what differs.")
