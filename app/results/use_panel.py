"""What the panels of a use share: a scrolling column of sections that follows the session while it is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from app.panels.bound import BoundRow
from app.results.clipboard import copy_table
from app.results.pace import Pace
from app.results.section import ResultSection, Sentences
from app.theme import look

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.group_result import GroupResult
    from core.predict.prediction import Prediction
    from core.project.use import Use

NOTHING = "Bond a patch and wire it: a group of patches is what listens and pushes."
NOTHING_YET = "No prediction yet. Mend what the fields on the left point at, and it appears here."


class UsePanel(QScrollArea):
    """One use of the selected patch's group. Subclasses build their sections and show a group in them."""

    use: ClassVar[Use]

    def __init__(self, session: Session, name: str, accessible: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.session = session
        self.body = QWidget(self)
        self.alarm = Sentences(f"{name}Alarm", "What to watch out for", self.body)
        self._sections: list[ResultSection] = []
        self._rows: list[BoundRow] = []
        self._rests = False
        self._pace = Pace()
        self._column = QVBoxLayout(self.body)
        self._column.setContentsMargins(12, 0, 8, 12)
        self._column.setSpacing(4)
        self._column.addWidget(self.alarm)
        self.build()
        self._column.addStretch(1)
        self.setWidget(self.body)
        for signal in (session.prediction_changed, session.problems_changed, session.selection_changed):
            signal.connect(self.refresh)
        session.hand_rests.connect(self._catch_up)
        look.look_changed.connect(self.refresh)

    # -- building ------------------------------------------------------------------------------

    def build(self) -> None:
        """Make the sections: each use its own."""
        raise NotImplementedError

    def section(self, title: str, *content: QWidget) -> ResultSection:
        """A titled section under the ones before."""
        box = QWidget(self.body)
        inner = QVBoxLayout(box)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(4)
        for widget in content:
            inner.addWidget(widget)
        made = ResultSection(title, box, self.body, stacked=True)
        self._sections.append(made)
        self._column.addWidget(made)
        return made

    def bind(self, row: BoundRow) -> BoundRow:
        """Have a row follow the project."""
        self._rows.append(row)
        return row

    # -- showing -------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(384, 700)

    @Slot()
    def _catch_up(self) -> None:
        """What a moving hand left out."""
        self._rests = True
        self.refresh()
        self._rests = False

    def waits(self, shown: QWidget) -> bool:
        """What nobody sees waits until the hand rests."""
        return self.session.previewing and not self._rests and shown.visibleRegion().isEmpty()

    def tells(self) -> bool:
        """Whether sentences are said anew, which wraps them and lays the panel out: not in every frame of a drag."""
        session = self.session
        return not session.previewing or self._rests or self._pace.turn(("words",), busy=session.tells_loads) is not None

    @property
    def is_current(self) -> bool:
        return self.session.shown.view.use == self.use

    def group(self, prediction: Prediction) -> GroupResult | None:
        """What the prediction says about the group of the selected patch, else the first."""
        from core.predict.prediction import group_of  # with the prediction, not with the window

        return group_of(prediction, self.session.selected_patch)

    @Slot()
    def refresh(self) -> None:
        """Show the session's prediction, while this use is looked at."""
        if not self.is_current:
            return
        project, prediction = self.session.shown, self.session.prediction
        for row in self._rows:
            row.refresh(project, {})
        group = None if prediction is None else self.group(prediction)
        for section in self._sections:
            section.setVisible(group is not None)
        if group is None or prediction is None:
            self.alarm.show_lines([("plain", NOTHING_YET if prediction is None else NOTHING)])
            self.alarm.setVisible(True)
            return
        self.show_group(group, faded=self.session.stale)

    def show_group(self, group: GroupResult, *, faded: bool) -> None:
        """Put a group's results into the sections: each use its own."""
        raise NotImplementedError

    def table(self, group: GroupResult) -> list[tuple[str, ...]]:
        """What is copied, each use its own: a head, then rows of cells."""
        raise NotImplementedError

    @Slot()
    def copy_table(self) -> None:
        prediction = self.session.prediction
        group = None if prediction is None else self.group(prediction)
        if group is not None:
            copy_table(self.table(group))
