"""The right side of the window: the answer, and below it everything that explains it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QBoxLayout, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from app.fields.scroll import scroll_of
from app.results.answer_block import AnswerBlock
from app.results.answer_lines import answer_lines, doubt_lines
from app.results.doubt_watch import DoubtWatch
from app.results.results_panel import ResultsPanel
from app.results.stop_block import StopBlock
from app.results.use_choice import UseChoice
from app.results.use_panel import UsePanel
from app.theme import look
from core.project.served import served_mode

if TYPE_CHECKING:
    from app.shell.answer_watch import AnswerWatch
    from app.shell.session import Session


LEAST_DOUBT = 0.01
"""An assumption that moves the answer by less of it than this is none to speak of."""
DOUBT_OLD = ("assumed",)
"""What is said of a doubt while its numbers are worked out for the layout shown."""


class AnswerSide(QWidget):
    """The answer block above the scrolling results. `input_wanted` names the path of an input."""

    input_wanted = Signal(str)

    def __init__(self, session: Session, watch: AnswerWatch, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("answerSide")
        self._session, self._watch = session, watch
        self._brought: QScrollArea | None = None
        self._content: QWidget | None = None
        self._panels: dict[str, UsePanel] = {}
        self.use = UseChoice(session, self)
        self.head = QWidget(self)
        self.block = AnswerBlock(self.head)
        self.stop = StopBlock(session, self.head)
        self._either = QBoxLayout(QBoxLayout.Direction.TopToBottom, self.head)
        self._either.setContentsMargins(0, 0, 0, 0)
        self._either.addWidget(self.stop)
        self._either.addWidget(self.block)
        self.of_use = AnswerBlock(self.head, asks=False)
        self.of_use.setObjectName("useAnswer")
        self.of_use.setAccessibleName("Answer of the use")
        self._either.addWidget(self.of_use)
        self.results = ResultsPanel(session, self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 10, 0, 0)
        layout.setSpacing(8)
        self._inset = QVBoxLayout()
        self._inset.setContentsMargins(12, 0, 12, 0)
        self._inset.setSpacing(8)
        self._inset.addWidget(self.use)
        self._inset.addWidget(self.head)
        layout.addLayout(self._inset)
        self._below = QStackedWidget(self)
        self._below.addWidget(self.results)
        layout.addWidget(self._below, 1)
        self.use.changed.connect(self.show_use)
        self.block.limits_wanted.connect(self.results.show_limits)
        self.block.asked_wanted.connect(self._ask)
        self.doubts = DoubtWatch(session, self)
        self.doubts.changed.connect(self._show_doubt)
        self.block.doubt_wanted.connect(self._settle)
        self.of_use.doubt_wanted.connect(self._enter)
        watch.changed.connect(self.refresh)
        session.selection_changed.connect(self._show_use_answer)
        session.hand_rests.connect(self.refresh)
        look.look_changed.connect(self.refresh)
        self.refresh()
        self.show_use(self.use.shown)

    @property
    def shown(self) -> ResultsPanel | UsePanel:
        """The panel of the use looked at."""
        return self._panels.get(self.use.shown, self.results)

    @Slot(str)
    def show_use(self, use: str) -> None:
        """Put the panel of a use in the place of the results; it is made when it is first looked at."""
        if use != "damp" and use not in self._panels:
            from app.results.drive_panel import DrivePanel
            from app.results.sense_panel import SensePanel

            made = (DrivePanel if use == "drive" else SensePanel)(
                self._session, f"{use}Panel", "The patch as a shaker" if use == "drive" else "The patch as a pick-up", self
            )
            self._panels[use] = made
            self._below.addWidget(made)
        self._arrange()
        self.refresh()
        if isinstance(self.shown, UsePanel):
            self.shown.refresh()

    def spread_head(self, wide: bool) -> None:
        """Stop sign and answer beside each other where they have the whole width, else over each other."""
        direction = QBoxLayout.Direction
        self._either.setDirection(direction.LeftToRight if wide else direction.TopToBottom)

    def show_below(self, content: QWidget | None) -> None:
        """What stands under the answer: what another page brings along, or the results again. Takes the block back
        from where a page had put it."""
        self.spread_head(False)
        self._inset.addWidget(self.head)
        self._content = content
        if content is not None and self._brought is None:
            self._brought = scroll_of(content, "broughtScroll", self._below, sideways=False)
            self._below.addWidget(self._brought)
        elif content is not None and self._brought is not None and self._brought.widget() is not content:
            self._brought.setWidget(content)
        self._arrange()

    def _arrange(self) -> None:
        """What another page brings along is about damping; else the use decides."""
        brought = self._brought if self._content is not None else None
        self.use.setVisible(brought is None)
        self.refresh()
        self._below.setCurrentWidget(self.shown if brought is None else brought)

    @Slot()
    def copy_table(self) -> None:
        """What is shown, as a table on the clipboard."""
        self.shown.copy_table()

    @Slot()
    def refresh(self) -> None:
        """Say what the session's prediction answers."""
        session = self._session
        project, prediction = session.predicted_for, session.prediction
        damps = self._content is not None or self.use.shown == "damp"
        stopped = None if prediction is None or session.stale else prediction.stop
        if stopped is not None or not session.previewing:
            # what its amplifiers stand is worked out when the hand lets go; F8 goes by the sign in every use
            clips = None if prediction is None or session.stale else prediction.clips
            self.stop.show_sign(stopped or clips)
        self.of_use.setVisible(not damps)
        if not damps:
            self.block.hide()
            self.stop.hide()
            self._show_use_answer()
            return
        self.block.setVisible(stopped is None)
        if project is None or prediction is None:
            self.block.show_lines(None)
            return
        self.block.show_lines(answer_lines(project, prediction, self._watch.answer, session.limits), faded=session.stale)
        if not session.previewing:
            self.block.setAccessibleDescription("\n".join(self.block.sentences()))

    @Slot()
    def _show_use_answer(self) -> None:
        """Of the selected patch's group driven or listening."""
        session, panel = self._session, self.shown
        if self._content is not None or not isinstance(panel, UsePanel):
            return
        prediction, project = session.prediction, session.predicted_for
        group = None if prediction is None else panel.group(prediction)
        if group is None or project is None:
            self.of_use.show_lines(None)
            return
        from app.results.use_answer import of_group  # not before such a use is looked at

        mode = served_mode(project, project.candidate(), session.selected_patch)
        lines, doubt = of_group(group, panel.use, mode, live=session.previewing)
        self.of_use.show_lines(lines, faded=session.stale)
        if doubt is not None:
            self.of_use.show_doubt(*doubt, "type it ›" if panel.use == "sense" else "")
        if not session.previewing:
            self.of_use.setAccessibleDescription("\n".join(self.of_use.sentences()))

    @Slot()
    def _enter(self) -> None:
        session = self._session
        prediction = session.prediction
        group = None if prediction is None or not isinstance(self.shown, UsePanel) else self.shown.group(prediction)
        if group is not None:
            self.input_wanted.emit(f"candidates[{session.shown.active}].groups[{group.id}].instrument")

    @Slot()
    def _show_doubt(self) -> None:
        found = self.doubts.doubts
        if found and found[0].effect > LEAST_DOUBT * abs(found[0].nominal):
            headline, details = doubt_lines(found[0])
            self.block.show_doubt(headline, DOUBT_OLD if self.doubts.is_old else details, "type it ›")
        else:
            self.block.show_doubt("", ())
        if not self.doubts.is_old:
            self.results.rank_assumed({doubt.path: doubt.effect for doubt in found})

    @Slot()
    def _settle(self) -> None:
        if self.doubts.doubts:
            self.input_wanted.emit(self.doubts.doubts[0].path)

    @Slot()
    def _ask(self) -> None:
        self.input_wanted.emit("service.asked.modes")
