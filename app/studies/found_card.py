"""One layout found: its plan in small, score, what holds it, and the button that keeps it."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app import look
from app.results.words import percent, significant
from app.sidebyside.mini_drawing import paint_mini
from app.studies.words import circuit_text, decibels, place_text
from core.project.model import Candidate, Structure
from core.study.goals import Found


class _Plan(QWidget):
    def __init__(self, structure: Structure, candidate: Candidate, parent: QWidget) -> None:
        super().__init__(parent)
        self._structure, self._candidate = structure, candidate
        self.setFixedSize(QSize(210, 74))
        self.setAccessibleName(f"Plan: {place_text(candidate)}")

    def paintEvent(self, _event: QPaintEvent) -> None:
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint_mini(p, QRectF(self.rect()).adjusted(1, 1, -1, -1), self._structure, self._candidate, self)


class FoundCard(QFrame):
    """A layout with its exact numbers; `keep_wanted` with its place in the list."""

    keep_wanted = Signal(int)

    def __init__(
        self, number: int, structure: Structure, found: Found, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.number, self.found = number, found
        self.setObjectName(f"found{number + 1}")
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self._labels: list[QLabel] = []
        column = QVBoxLayout()
        column.setSpacing(2)
        head = self._line(f"{number + 1}.  {_capital(found.score_words)}", bold=True)
        column.addWidget(head)
        for text in (place_text(found.candidate), circuit_text(found.candidate), _numbers(found)):
            column.addWidget(self._line(text))
        self.holds = self._line(_held(found))
        self.holds.setObjectName(f"holds{number + 1}")
        column.addWidget(self.holds)
        self.keep = QPushButton("Keep as candidate", self)
        self.keep.setObjectName(f"keepFound{number + 1}")
        self.keep.setAccessibleName(f"Keep layout {number + 1} as a candidate")
        self.keep.clicked.connect(self._wanted)
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 8, 10, 8)
        row.addWidget(_Plan(structure, found.candidate, self), 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(column, 1)
        row.addWidget(self.keep, 0, Qt.AlignmentFlag.AlignTop)

    def show_kept(self, letter: str) -> None:
        """It has become a candidate."""
        self.keep.setText(f"Kept as {letter}")
        self.keep.setEnabled(False)

    def _line(self, text: str, *, bold: bool = False) -> QLabel:
        label = QLabel(text, self)
        label.setWordWrap(True)
        label.setFont(look.font(12 if bold else 11, bold=bold))
        label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        return label

    @Slot()
    def _wanted(self) -> None:
        self.keep_wanted.emit(self.number)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _numbers(found: Found) -> str:
    modes = [
        f"mode {n}: {percent(zeta)}" + ("" if peak is None else f" ({decibels(peak)})")
        for n, (zeta, peak) in enumerate(zip(found.zeta[:3], found.peak_db[:3], strict=True), 1)
    ]
    margin = (
        "" if found.strain_margin == float("inf") else f", static strain margin {found.strain_margin:.2f}"
    )
    mass = significant(1e3 * found.added_mass_kg)
    return f"{', '.join(modes)}. Adds {mass} g{margin}."


def _held(found: Found) -> str:
    if not found.binding:
        return "Held by nothing: moving it either way loses."
    edge = " This is the edge of what was searched." if found.at_edge else ""
    return f"Held by: {'; '.join(found.binding)}.{edge}"
