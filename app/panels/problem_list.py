"""Problems that no visible field tells, each a click away from its place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app.fields import ErrorLabel

if TYPE_CHECKING:
    from core.project.problems import Problem


class ProblemLine(QWidget):
    """One problem with a button that goes to its field."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.path = ""
        self.text = ErrorLabel(self)
        self.go = QPushButton("Go to", self)
        self.go.clicked.connect(self._go)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.text, 1)
        line.addWidget(self.go)

    def tell(self, problem: Problem, *, reachable: bool) -> None:
        self.path = problem.path
        self.text.show_text(problem.message, caution=problem.caution)
        self.go.setObjectName(f"go to {problem.path}")
        self.go.setAccessibleName(f"Go to: {problem.message}")
        self.go.setVisible(reachable)

    @Slot()
    def _go(self) -> None:
        self.wanted.emit(self.path)


class ProblemList(QFrame):
    """Hidden while there is nothing to tell; emits `wanted` with the path to go to."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("problem list")
        self.setAccessibleName("Problems elsewhere")
        self._lines: list[ProblemLine] = []
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 4)
        self._layout.setSpacing(4)
        self.hide()

    def tell(self, problems: Sequence[tuple[Problem, bool]]) -> None:
        """Show (problem, can be gone to) pairs."""
        while len(self._lines) < len(problems):
            line = ProblemLine(self)
            line.wanted.connect(self.wanted)
            self._lines.append(line)
            self._layout.addWidget(line)
        for number, line in enumerate(self._lines):
            line.setVisible(number < len(problems))
            if number < len(problems):
                problem, reachable = problems[number]
                line.tell(problem, reachable=reachable)
        self.setVisible(bool(problems))

    def texts(self) -> list[str]:
        """The problems told now."""
        return [line.text.problem() for line in self._lines if not line.isHidden()]
