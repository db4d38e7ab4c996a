"""The page that compares all candidates of the project; it takes the place of the drawing."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLocale, Qt, Slot
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from app.fields.elided import Elided
from app.fields.link import Link
from app.fields.scroll import scroll_of
from app.fields.wheel import CalmList
from app.results.chart import Chart
from app.results.clipboard import as_csv, copy_table
from app.shell import errors
from app.shell.away_page import AwayPage
from app.shell.concern import predicted_from
from app.sidebyside import rows as comparison
from app.sidebyside.differences import DifferencesTable
from app.sidebyside.grid import LABELS, Column, ComparisonGrid
from app.sidebyside.judged import judge
from app.sidebyside.shapes import ShapesOverlay
from app.sidebyside.slow import SlowStudies
from app.theme import look
from core.project import files

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.asked import Answer
    from core.predict.prediction import Prediction


CSV_KINDS = (
    "Table, decimal point, parted by commas (*.csv)",
    "Table, decimal comma, parted by semicolons (*.csv)",
)


class SideBySide(AwayPage):
    """Predicts every candidate on the same structure and load, and shows them in columns."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sideBySide")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._session = session
        self._cache: dict[str, tuple[object, Prediction | None, str]] = {}
        self._answers: dict[str, tuple[object, Answer | None]] = {}
        self._rows: list[comparison.Row] = []
        self._slow = SlowStudies(session, self)
        self._slow.changed.connect(self._on_project)
        self._make_head()
        self._body = body = QWidget(self)
        body.setAutoFillBackground(True)
        self.grid = ComparisonGrid(body)
        self.chart = Chart("comparisonChart", "Responses overlaid", log_x=True, log_y=True, parent=body)
        self.chart.setFixedHeight(250)
        self._chart_title = QLabel(body)
        self._chart_title.setFont(look.font(12))
        self._chart_title.setTextFormat(Qt.TextFormat.RichText)
        self._chart_title.setWordWrap(True)
        self._chart_title.setFixedWidth(LABELS - 20)
        self._chart_title.setAlignment(Qt.AlignmentFlag.AlignTop)
        chart_row = QHBoxLayout()
        chart_row.setContentsMargins(12, 8, 4, 8)
        chart_row.addWidget(self._chart_title)
        chart_row.addWidget(self.chart, 1)
        self.shapes = ShapesOverlay(body)
        self.differences = DifferencesTable(body)
        layout = QVBoxLayout(body)
        layout.setContentsMargins(4, 8, 8, 12)
        layout.addWidget(self.grid)
        layout.addLayout(chart_row)
        layout.addWidget(self.shapes)
        layout.addWidget(self.differences)
        layout.addStretch(1)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addWidget(self._head)
        scroll = scroll_of(body, "comparisonScroll", self)
        scroll.verticalScrollBar().valueChanged.connect(self.grid.update)
        page.addWidget(scroll, 1)
        session.project_changed.connect(self._on_project)
        look.look_changed.connect(self._on_project)

    def _make_head(self) -> None:
        self._head = QFrame(self)
        title = QLabel("Candidates side by side", self._head)
        title.setFont(look.font(14, bold=True))
        about = Elided("comparisonAbout", self._head, ink="text")
        about.setText("same structure and load; the better value of a row is underlined")
        self.reference = CalmList(self._head)
        self.reference.setObjectName("referenceCandidate")
        self.reference.setAccessibleName("Candidate the differences are counted from")
        self.reference.currentIndexChanged.connect(self.refresh)
        row = QHBoxLayout(self._head)
        row.setContentsMargins(16, 8, 12, 8)
        row.addWidget(title)
        row.addWidget(about, 1)
        row.addWidget(QLabel("Differences to", self._head))
        row.addWidget(self.reference)
        for name, text, slot in (
            ("copyComparison", "Copy table", self.copy_table),
            ("saveComparison", "Save as CSV", self.save_csv),
            ("backToDrawing", "Back to the drawing", self._back),
        ):
            button = Link(text, self._head)
            button.setObjectName(name)
            button.clicked.connect(slot)
            row.addWidget(button)

    # ---- what is shown -------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        """Predict what has changed and draw the comparison."""
        project = self._session.project
        self._fill_reference()
        reference = max(self.reference.currentIndex(), 0)
        outcomes = [self._outcome(candidate.id) for candidate in project.candidates]
        predictions = [prediction for prediction, _ in outcomes]
        columns = [
            Column(candidate, trouble)
            for candidate, (_, trouble) in zip(project.candidates, outcomes, strict=True)
        ]
        good = tuple(p.candidate for p in predictions if p is not None)
        slow = dict(zip(good, self._slow.of(project, good), strict=True))
        found = [slow.get(c.id) for c in project.candidates]
        self._rows = comparison.comparison_rows(predictions, reference)
        after_damping = sum(row.mode is not None for row in self._rows)
        self._rows[after_damping:after_damping] = comparison.cold_rows([one.study if one else None for one in found], reference)
        self._rows += comparison.failure_rows([one.failures if one else None for one in found])
        answers = [self._answer(candidate.id, p) for candidate, p in zip(project.candidates, predictions, strict=True)]
        self._rows[:0] = comparison.asked_rows(answers)
        self.grid.show_comparison(project.structure, columns, self._rows)
        self._show_chart(predictions)
        self.shapes.show_shapes(predictions, project.service.asked.modes)
        self.differences.show_differences(project, project.candidates[reference].id)

    def table(self) -> list[list[str]]:
        """The comparison and the differing inputs as one table."""
        project = self._session.project
        letters = [(candidate.id, candidate.name) for candidate in project.candidates]
        reference = project.candidates[max(self.reference.currentIndex(), 0)].id
        return comparison.as_table(letters, reference, self._rows) + self.differences.table_rows()

    @Slot()
    def copy_table(self) -> None:
        copy_table(_rectangular(self.table()))

    def picture(self) -> QPixmap:
        """The whole comparison, also what lies outside the window."""
        self.grid.whole = True
        try:
            return self._body.grab()
        finally:
            self.grid.whole = False

    @Slot()
    def save_csv(self) -> None:
        """Ask for a file name and write the table there."""
        dialog = QFileDialog(self, "Save the comparison", "candidates.csv", ";;".join(CSV_KINDS))
        # as this person's system writes numbers
        dialog.selectNameFilter(CSV_KINDS[QLocale().decimalPoint() == ","])
        dialog.setObjectName("saveCsvDialog")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("csv")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(
            lambda name: self.write_csv(name, decimal_comma=dialog.selectedNameFilter() == CSV_KINDS[1])
        )
        dialog.open()

    def write_csv(self, name: str, *, decimal_comma: bool = False) -> None:
        """Write the table; the byte-order mark lets spreadsheets read the units."""
        text = as_csv(_rectangular(self.table()), decimal_comma=decimal_comma)
        try:
            files.write_atomically(b"\xef\xbb\xbf" + text.encode(), Path(name))
        except (OSError, ValueError) as error:
            errors.tell(self, "The table was not saved", str(error))

    @Slot()
    def _on_project(self) -> None:
        if self.isVisible():
            self.refresh()

    def _fill_reference(self) -> None:
        """One entry a candidate, keeping the chosen one."""
        texts = [c.called for c in self._session.project.candidates]
        if texts == [self.reference.itemText(i) for i in range(self.reference.count())]:
            return
        kept = max(self.reference.currentIndex(), 0)
        self.reference.blockSignals(True)
        self.reference.clear()
        self.reference.addItems(texts)
        self.reference.setCurrentIndex(min(kept, len(texts) - 1))
        self.reference.blockSignals(False)

    def _outcome(self, candidate_id: str) -> tuple[Prediction | None, str]:
        """The prediction, or why there is none; kept while nothing it depends on changed."""
        key = predicted_from(self._session.project, candidate_id)
        known = self._cache.get(candidate_id)
        if known is None or known[0] != key:
            known = (key, *self._session.predict_candidate(candidate_id))
            self._cache[candidate_id] = known
        return known[1], known[2]

    def _answer(self, candidate_id: str, prediction: Prediction | None) -> Answer | None:
        """What is asked for, judged for a candidate; None where nothing is asked or it cannot be predicted."""
        project = self._session.project
        if prediction is None or not project.service.asked.modes:
            return None
        key = predicted_from(project, candidate_id), project.service.asked
        known = self._answers.get(candidate_id)
        if known is None or known[0] != key:
            known = (key, judge(project, candidate_id, prediction))
            self._answers[candidate_id] = known
        return known[1]

    def _show_chart(self, predictions: list[Prediction | None]) -> None:
        now, keys = look.current(), []
        first = next((p for p in predictions if p is not None), None)
        if first is None:
            self.chart.keep_only(())
            return
        response = first.response
        self.chart.set_units("", "")
        self.chart.set_curve("before", response.frequency_hz, np.abs(response.before), now.before)
        for p in predictions:
            if p is not None:
                keys.append(p.candidate)
                self.chart.set_curve(
                    p.candidate,
                    p.response.frequency_hz,
                    np.abs(p.response.after),
                    now.candidate(p.candidate),
                    width=2.0,
                    dash=now.candidate_dash(p.candidate),
                    z=1,
                )
        self.chart.keep_only(("before", *keys))
        self.chart.fit(force=True)
        self._chart_title.setText(
            f"<b>{escape(response.label)}</b><p>{response.unit} over Hz; all candidates on the same axes, in the line "
            f"of their column; grey: {escape(first.before_label)} of {escape(first.candidate)}"
        )


def _rectangular(table: list[list[str]]) -> list[list[str]]:
    """Every line as long as the longest."""
    longest = max(len(line) for line in table)
    return [line + [""] * (longest - len(line)) for line in table]
