"""The pages of the window: inputs, drawing and answers on the first, the others made when first wanted and kept as left.

The circuit is no page of its own in the stack: it takes the place of the drawing between inputs and answers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QSplitter, QStackedWidget, QWidget

from app.drawing.canvas import SpanCanvas
from app.panels.input_panel import InputPanel
from app.panels.input_rail import InputSide
from app.results.answer_side import AnswerSide
from app.shell.document import Document
from app.shell.folding import is_narrow
from app.shell.session import Session

if TYPE_CHECKING:
    from app.circuit.page import CircuitPage
    from app.handover.papers_page import PapersPage
    from app.measured.page import MeasuredPage
    from app.show.page import ShowPage
    from app.sidebyside.page import SideBySide
    from app.studies.page import StudyPage

    Page = CircuitPage | MeasuredPage | PapersPage | ShowPage | SideBySide | StudyPage

STACKED = 1200
"""Below this width of the window what belongs beside the circuit stands under it."""
LEAST_DRAWING, LEAST_RESULTS = 400, 356
"""Widths that leave everything legible beside the rail of the inputs on 800 pixels."""
MAP, SEARCH, TOLERANCE = 0, 1, 2
"""Places of the studies in their row."""


class Pages(QStackedWidget):
    """Shows one page; `turned` names the one that is seen: "drawing", or the name of another in the row of pages."""

    turned = Signal(str)

    def __init__(
        self, session: Session, document: Document, inputs: InputPanel, canvas: SpanCanvas, answers: AnswerSide,
        parent: QWidget,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._session, self._document = session, document
        self._inputs, self._canvas, self._answers = inputs, canvas, answers
        self._stacked = False
        self.comparison: SideBySide | None = None
        self.studies: StudyPage | None = None
        self.circuit: CircuitPage | None = None
        self.measured: MeasuredPage | None = None
        self.papers: PapersPage | None = None
        self.ring_down: ShowPage | None = None
        self._centre = QStackedWidget(self)
        self._centre.addWidget(canvas)
        self.splitter = self._make_splitter()
        self.input_side = InputSide(inputs, self.splitter, self)
        self.addWidget(self.input_side)
        self.currentChanged.connect(self._on_turned)
        self._centre.currentChanged.connect(self._on_turned)

    def _make_splitter(self) -> QSplitter:
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.setObjectName("mainSplitter")
        splitter.setHandleWidth(1)  # Qt widens the place to grab it by itself
        for widget in (self._inputs, self._centre, self._answers):
            splitter.addWidget(widget)
        self._centre.setMinimumWidth(LEAST_DRAWING)
        self._answers.setMinimumWidth(LEAST_RESULTS)
        splitter.setStretchFactor(1, 1)
        splitter.setCollapsible(1, False)
        splitter.setCollapsible(2, False)
        return splitter

    # ---- which one is seen ---------------------------------------------------------------

    @property
    def seen(self) -> str:
        """The name of the page that is seen."""
        shown = self._centre.currentWidget() if self.on_first else self.currentWidget()
        return next((name for name, page in self._made().items() if page is shown), "drawing")

    @property
    def page_seen(self) -> Page | None:
        """The page that stands in place of the drawing; None while the drawing is seen."""
        return self._made().get(self.seen)

    @property
    def on_first(self) -> bool:
        """Whether the inputs stand beside what is seen."""
        return self.currentWidget() is self.input_side

    def _made(self) -> dict[str, Page]:
        """The pages beside the drawing that were asked for so far."""
        pages: dict[str, Page | None] = {
            "compare": self.comparison, "studies": self.studies, "circuit": self.circuit,
            "measured": self.measured, "papers": self.papers, "show": self.ring_down,
        }  # fmt: skip
        return {name: page for name, page in pages.items() if page is not None}

    @Slot()
    def _on_turned(self) -> None:
        self._fit_circuit()
        self.turned.emit(self.seen)

    # ---- turning to one; each is imported when it is first wanted, so that the window is up sooner ---------------

    @Slot(str)
    def show_page(self, name: str, _checked: bool = False) -> None:
        """The page of that name in the row of pages, as it was left."""
        {"drawing": self.show_drawing, "compare": self.compare, "studies": self.show_studies,
         "circuit": self.show_circuit, "measured": self.show_measured, "papers": self.hand_over}[name]()  # fmt: skip

    @Slot()
    def show_drawing(self) -> None:
        self._centre.setCurrentWidget(self._canvas)
        self.setCurrentWidget(self.input_side)
        self._canvas.setFocus()

    @Slot()
    def show_inputs(self) -> None:
        """The page seen, where it has the inputs beside it; else the drawing."""
        if not self.on_first:
            self.show_drawing()

    @Slot()
    def show_circuit(self) -> None:
        """What hangs on the leads, in place of the drawing between inputs and answer."""
        if self.circuit is None:
            from app.circuit.page import CircuitPage

            self.circuit = CircuitPage(self._session, self)
            self.circuit.back_wanted.connect(self.show_drawing)
            self.circuit.said.connect(self._document.said)
            self.circuit.side.take_along.paper_wanted.connect(self.show_paper)
            self._centre.addWidget(self.circuit)
        self._centre.setCurrentWidget(self.circuit)
        self.setCurrentWidget(self.input_side)
        self._inputs.bring_up(self._inputs.circuit)
        self.circuit.setFocus()

    @Slot()
    def compare(self) -> None:
        """All candidates side by side."""
        if self.comparison is None:
            from app.sidebyside.page import SideBySide

            self.comparison = SideBySide(self._session, self)
            self.comparison.back_wanted.connect(self.show_drawing)
            self.addWidget(self.comparison)
        self.comparison.refresh()
        self.setCurrentWidget(self.comparison)
        self.comparison.setFocus()

    @Slot()
    def show_studies(self) -> None:
        """The study looked at last."""
        self._study(self.studies.tabs.currentIndex() if self.studies is not None else MAP)

    @Slot()
    def show_map(self) -> None:
        """The map of placements."""
        self._study(MAP)

    @Slot()
    def find_best(self) -> None:
        """The search."""
        self._study(SEARCH)

    @Slot()
    def show_tolerance(self) -> None:
        """What tolerances do."""
        self._study(TOLERANCE)

    def _study(self, tab: int) -> None:
        if self.studies is None:
            from app.studies.page import StudyPage

            self.studies = StudyPage(self._session, self)
            self.studies.back_wanted.connect(self.show_drawing)
            self.studies.said.connect(self._document.said)
            self.addWidget(self.studies)
        self.setCurrentWidget(self.studies)
        self.studies.show_tab(tab)

    @Slot()
    def show_measured(self) -> MeasuredPage:
        """What the prototype did: files, verdict, correction."""
        if self.measured is None:
            from app.measured.page import MeasuredPage

            self.measured = MeasuredPage(self._session, self)
            self.measured.back_wanted.connect(self.show_drawing)
            self.measured.said.connect(self._document.said)
            self.addWidget(self.measured)
        self.setCurrentWidget(self.measured)
        self.measured.setFocus()
        return self.measured

    @Slot()
    def hand_over(self) -> PapersPage:
        """The papers: diagram, template, cards and record."""
        if self.papers is None:
            from app.handover.papers_page import PapersPage

            self.papers = PapersPage(self._session, self)
            self.papers.back_wanted.connect(self.show_drawing)
            self.addWidget(self.papers)
        self.setCurrentWidget(self.papers)
        return self.papers

    @Slot(str)
    def show_paper(self, key: str) -> None:
        """The papers, open at one."""
        papers = self.hand_over().papers
        if papers is not None:
            papers.open_at(key)

    @Slot()
    def show_ring_down(self) -> None:
        """The ring-down played, before and after, in place of the drawing."""
        if self.ring_down is None:
            from app.show.page import ShowPage

            self.ring_down = ShowPage(self._session, self)
            self.ring_down.back_wanted.connect(self.show_drawing)
            self.ring_down.said.connect(self._document.said)
            self.addWidget(self.ring_down)
        self.setCurrentWidget(self.ring_down)
        self.ring_down.setFocus()
        self.ring_down.clock.play()

    # ---- what a narrow window does ---------------------------------------------------------

    def fit(self, width: int) -> None:
        """Arrange for a window of a width."""
        self.input_side.set_narrow(is_narrow(width))
        self._stacked = width < STACKED
        self._fit_circuit()

    def _fit_circuit(self) -> None:
        """What belongs beside the circuit takes the place of the results; in a narrow window all is one column."""
        circuit, answers = self.circuit, self._answers
        if circuit is None:
            return
        on_circuit = self.seen == "circuit"
        if on_circuit and self._stacked:
            answers.spread_head(True)
            circuit.stack(answers.head)
            answers.head.show()  # where another use than damping had put it away
            answers.hide()
        else:
            answers.show_below(circuit.side if on_circuit else None)
            answers.show()
