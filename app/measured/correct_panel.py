"""The right column: what may be wrong in the model, ticked; found with its uncertainty; taken as one step."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.fields import ChoiceField, ErrorLabel, FormRow, SwitchField
from app.fields.plain import PlainLabel
from app.shell.jobs import NewestJob
from app.theme import look
from core.measured.correct import Correction, Residual, Unknown, correct, reasons, unknowns_of, values_of
from core.measured.record import MeasuredError
from core.measured.report_text import compared_label
from core.units import words

if TYPE_CHECKING:
    from app.measured.work import Outcome
    from app.shell.session import Session

ROW = 20
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class LeftOver(QWidget):
    """What is left of each value before and after, as two bars about nothing."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("leftOver")
        self.setAccessibleName("What is left over, before and after")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._rows: tuple[Residual, ...] = ()
        look.look_changed.connect(self.update)

    def show_rows(self, rows: tuple[Residual, ...]) -> None:
        self._rows = rows
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.setVisible(bool(rows))
        self.updateGeometry()
        self.update()

    def sentences(self) -> list[str]:
        """The bars in words."""
        return [f"{_name(r)}: {words.change(words.shift(r.before), words.shift(r.after))}{', held back' if r.held_back else ''}" for r in self._rows]

    def sizeHint(self) -> QSize:
        return QSize(300, ROW * len(self._rows) + 18)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        now = look.current()
        far = max((abs(v) for r in self._rows for v in (r.before, r.after)), default=0.01) or 0.01
        w = float(self.width())
        with QPainter(self) as p:
            p.setFont(look.font(11))
            p.setPen(now.faint_text)
            p.drawText(QRectF(0, 0, w, 16), _RIGHT, "grey before, dark after; % of the value")
            for n, r in enumerate(self._rows):
                top = 18.0 + n * ROW
                p.setPen(now.good if r.held_back else now.text)
                label = f"{_name(r)}, held back" if r.held_back else _name(r)
                p.drawText(QRectF(0, top, 0.40 * w, ROW), _LEFT, p.fontMetrics().elidedText(label, Qt.TextElideMode.ElideRight, int(0.40 * w)))
                middle, reach = 0.57 * w, 0.15 * w
                for value, color, y, high in ((r.before, look.faded(now.strong_line, 0.5), 3.0, 7.0), (r.after, now.accent, 10.0, 6.0)):
                    wide = value / far * reach
                    p.fillRect(QRectF(middle + min(wide, 0.0), top + y, max(abs(wide), 1.0), high), color)
                p.setPen(now.text)
                p.drawText(QRectF(0.73 * w, top, 0.27 * w - 2, ROW), _RIGHT, words.change(words.shift(r.before), words.shift(r.after)))


class CorrectPanel(QWidget):
    """Ticks, the finding, and the one step."""

    taken = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("correctPanel")
        self._session = session
        self._outcome: Outcome | None = None
        self._ticked: set[str] = set()
        self.correction: Correction | None = None
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_done)
        self._job.failed.connect(self._on_failed)
        self.heading = PlainLabel("Correct the model", self)
        self.heading.setFont(look.font(13, bold=True))
        self.about = PlainLabel("", self)
        self.about.setWordWrap(True)
        self._rows = QVBoxLayout()
        self._rows.setSpacing(4)
        self.switches: dict[str, SwitchField] = {}
        self.told: dict[str, PlainLabel] = {}
        self.held: ChoiceField[int | None] = ChoiceField("Held back", ((None, "no mode"),))
        self.held.setToolTip("A mode that is not fitted: what is left of it checks the correction")
        self._held_row = FormRow("Hold back", self.held)
        self.work = QPushButton("Work it out", self)
        self.work.setObjectName("workOut")
        self.work.clicked.connect(self._work_out)
        self.trouble = ErrorLabel(self)
        self.alike = PlainLabel("", self)
        self.alike.setWordWrap(True)
        self.left = LeftOver(self)
        self.take = QPushButton("Take as one step", self)
        self.take.setObjectName("takeCorrection")
        self.take.clicked.connect(self._take)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 10, 12, 12)
        layout.setSpacing(6)
        layout.addWidget(self.heading)
        layout.addWidget(self.about)
        layout.addLayout(self._rows)
        below: tuple[QWidget, ...] = (self._held_row, self.work, self.trouble, self.alike, self.left, self.take)
        for widget in below:
            layout.addWidget(widget)
        layout.addStretch(1)
        look.look_changed.connect(self._restyle)
        self.show_outcome(None)

    def wait(self) -> None:
        """What was measured is worked out anew: what was found of it before is none to take."""
        self._job.cancel()
        self._rest()
        self.work.setEnabled(False)
        self._outcome = self.correction = None
        self.take.hide()

    def show_outcome(self, outcome: Outcome | None) -> None:
        """What can be corrected with what was measured."""
        self.wait()
        self.work.setEnabled(True)
        self._outcome = outcome
        found = None if outcome is None or not outcome.comparable else outcome.evaluation
        values = () if found is None else values_of(found)
        for widget in (self._held_row, self.work):
            widget.setVisible(bool(values))
        self.left.show_rows(())
        self.alike.hide()
        self.trouble.show_text("")
        self._clear()
        if outcome is None or found is None or not values:
            self.about.setText("Once frequencies are measured, the model is corrected to them here.")
            return
        count = sum(v.compared.quantity != "damping" for v in values)
        self.about.setText(f"At most {count} unknowns from {count} values and the damping. Tick what may be wrong; the root first.")
        why = reasons(outcome.project, values, outcome.measurement.bench)
        root = found.verdict is not None and found.verdict.cause == "root"
        for unknown in unknowns_of(outcome.project):
            self._add(unknown, why.get(unknown.path, ""), (unknown.kind == "root" and root) or unknown.kind == "damping")
        modes = sorted({v.mode for v in values if v.mode is not None})
        self.held.set_options(((None, "no mode"), *((m, f"mode {m}") for m in modes)))

    def close_jobs(self) -> None:
        self._job.close()

    # ---- ticks ---------------------------------------------------------------------------

    def _clear(self) -> None:
        for row in (*self.switches.values(), *self.told.values()):
            self._rows.removeWidget(row)
            row.hide()
            row.deleteLater()
        self.switches, self.told = {}, {}

    def _add(self, unknown: Unknown, reason: str, likely: bool) -> None:
        switch = SwitchField(unknown.label, unknown.label)
        switch.setObjectName(f"tick {unknown.label}")
        switch.setEnabled(not reason)
        switch.set_value(not reason and (likely or unknown.path in self._ticked))
        told = PlainLabel(reason, self)
        told.setWordWrap(True)
        told.setIndent(20)
        told.setVisible(bool(reason))
        self._rows.addWidget(switch)
        self._rows.addWidget(told)
        self.switches[unknown.path], self.told[unknown.path] = switch, told
        self._restyle()

    @Slot()
    def _restyle(self) -> None:
        for told in self.told.values():
            palette = told.palette()
            palette.setColor(told.foregroundRole(), look.current().faint_text)
            told.setPalette(palette)

    @Slot()
    def _work_out(self) -> None:
        outcome = self._outcome
        if outcome is None or outcome.evaluation is None:
            return
        ticked = {path for path, switch in self.switches.items() if switch.value()}
        self._ticked = ticked
        chosen = tuple(u for u in unknowns_of(outcome.project) if u.path in ticked)
        values, bench = values_of(outcome.evaluation), outcome.measurement.bench
        held, project, inherent = self.held.value(), outcome.project, outcome.evaluation.inherent
        source = ", ".join(run.name for run in outcome.evaluation.runs)[:120] or "impedance sweep"

        def work(stop: threading.Event) -> Correction:
            return correct(project, values, chosen, bench=bench, held_back=held, source=source, inherent=inherent)

        self.work.setEnabled(False)
        self.work.setText("Working it out ...")
        self._job.request(work)

    @Slot(int, object)
    def _on_done(self, _revision: int, correction: Correction) -> None:
        self._rest()
        self.correction = correction
        self.trouble.show_text("")
        for found in correction.found:
            label = self.told.get(found.unknown.path)
            if label is not None:
                label.setText(f"{found.before} → {found.after}")
                label.show()
        self.alike.setText("\n".join(correction.alike))
        self.alike.setVisible(bool(correction.alike))
        self.left.show_rows(correction.residuals)
        self.take.show()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._rest()
        told = str(error) if isinstance(error, MeasuredError) else "The correction could not be worked out. Tick fewer unknowns."
        self.trouble.show_text(told)

    def _rest(self) -> None:
        self.work.setEnabled(True)
        self.work.setText("Work it out")

    @Slot()
    def _take(self) -> None:
        if self.correction is not None:
            corrected = self.correction.into(self._session.project)
            self._session.apply("Correct the model to what was measured", corrected)
            self.taken.emit()


def _name(residual: Residual) -> str:
    c = residual.value.compared
    short = {"frequency": "f", "coupling": "K² ", "damping": "ζ"}.get(c.quantity)
    return compared_label(c).capitalize() if short is None else f"{short}{c.mode}"
