"""One layout found: its plan in small, score, what holds it, and the button that keeps it."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.sidebyside.mini_drawing import paint_mini
from app.studies.words import circuit_text, place_text
from app.theme import look
from core.project.candidate import Candidate
from core.project.structure import Structure
from core.study.search.goals import Found, SoFar
from core.units import words


class _Plan(QWidget):
    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._drawn: tuple[Structure, Candidate] | None = None
        self.setFixedSize(QSize(210, 74))

    def show_layout(self, structure: Structure, candidate: Candidate) -> None:
        self._drawn = (structure, candidate)
        self.setAccessibleName(f"Plan: {place_text(candidate)}")
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        if self._drawn is None:
            return
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint_mini(p, QRectF(self.rect()).adjusted(1, 1, -1, -1), *self._drawn, self)


class FoundCard(QFrame):
    """A layout, so far or with its exact numbers; `keep_wanted` with its place in the list.

    A card is made once and filled again: making labels costs more than changing their text.
    """

    keep_wanted = Signal(int)

    def __init__(self, number: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.number = number
        self.candidate: Candidate | None = None
        self.setObjectName(f"found{number + 1}")
        self.setFrameShape(QFrame.Shape.StyledPanel)
        column = QVBoxLayout()
        column.setSpacing(2)
        self.head = self._line(bold=True)
        self._place, self._circuit, self._numbers, self.holds = (self._line() for _ in range(4))
        self.holds.setObjectName(f"holds{number + 1}")
        for label in (self.head, self._place, self._circuit, self._numbers, self.holds):
            column.addWidget(label)
        self.keep = QPushButton("Keep as candidate", self)
        self.keep.setObjectName(f"keepFound{number + 1}")
        self.keep.setAccessibleName(f"Keep layout {number + 1} as a candidate")
        self.keep.clicked.connect(self._wanted)
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 8, 10, 8)
        self._plan = _Plan(self)
        row.addWidget(self._plan, 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(column, 1)
        row.addWidget(self.keep, 0, Qt.AlignmentFlag.AlignTop)

    def show_so_far(self, structure: Structure, found: SoFar) -> None:
        """A layout of a search that still runs; it cannot be kept yet."""
        self._show(structure, found.candidate, found.words, may_keep=False)
        self._numbers.setText("" if found.exact else "So far, to be predicted exactly.")
        self.holds.setText("")

    def show_found(self, structure: Structure, found: Found) -> None:
        """A layout with its exact numbers and what holds it."""
        self._show(structure, found.candidate, found.score_words, may_keep=True)
        self._numbers.setText(_numbers(found))
        self.holds.setText(_held(found))

    def let_keep(self) -> None:
        """The search is over: what it has found so far may be kept."""
        self.keep.setEnabled(True)

    def _show(self, structure: Structure, candidate: Candidate, words: str, *, may_keep: bool) -> None:
        self.candidate = candidate
        self._plan.show_layout(structure, candidate)
        self.head.setText(f"{self.number + 1}.  {_capital(words)}")
        self._place.setText(place_text(candidate))
        self._circuit.setText(circuit_text(candidate))
        self.keep.setText("Keep as candidate")
        self.keep.setEnabled(may_keep)

    def show_kept(self, letter: str) -> None:
        """It has become a candidate."""
        self.keep.setText(f"Kept as {letter}")
        self.keep.setEnabled(False)

    def _line(self, *, bold: bool = False) -> QLabel:
        label = PlainLabel("", self)
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
        f"mode {n}: {words.damping(zeta)}" + ("" if peak is None else f" ({words.decibel(peak)})")
        for n, (zeta, peak) in enumerate(zip(found.zeta[:3], found.peak_db[:3], strict=True), 1)
    ]
    margin = (
        "" if found.strain_margin == float("inf") else f", static strain margin {words.times(found.strain_margin)}"
    )
    volts = f", {words.voltage(found.voltage_v)} peak at the leads" if found.voltage_v > 0.0 else ""
    return f"{', '.join(modes)}. Adds {words.mass(found.added_mass_kg)}{margin}{volts}."


def _held(found: Found) -> str:
    if not found.binding:
        return "Held by nothing: moving it either way loses."
    edge = " This is the edge of what was searched." if found.at_edge else ""
    return f"Held by: {'; '.join(found.binding)}.{edge}"
