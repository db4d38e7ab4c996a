"""The tolerance study with its form: samples in the background, results drawn as they come."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.shell import workers
from app.shell.concern import predicted_from
from app.studies.cause_bars import CauseBars
from app.studies.live_study import LiveStudy
from app.studies.misplacement import Misplacement
from app.studies.progress import ProgressLine
from app.studies.tolerance_bands import ToleranceBands
from app.studies.tolerance_form import ToleranceForm
from app.studies.tolerance_table import tolerance_table
from app.studies.words import NOT_PREDICTED, failed
from app.theme import look
from core.project.candidate import Candidate
from core.project.model import Project, Tolerance
from core.study.tolerance.uncertain import uncertain_inputs
from core.units import words
from core.units.sentence import inside

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.prediction import Prediction
    from core.study.tolerance.samples import Spread
    from core.study.tolerance.tolerance import ToleranceResult

PARTIAL_S = 0.25
"""Partial results are drawn no oftener than this."""


class TolerancePage(LiveStudy):
    """One study at a time; the newest request wins, and while it runs the last one stays, faded."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "tolerancePage", parent)
        self._asked: Project | None = None
        self._result: ToleranceResult | None = None
        self.form = ToleranceForm(self)
        self.verdict = PlainLabel("", self)
        self.verdict.setObjectName("toleranceVerdict")
        self.verdict.setWordWrap(True)
        self.how = PlainLabel("", self)
        self.how.setObjectName("toleranceHow")
        self.how.setWordWrap(True)
        self.how.setFont(look.font(11))
        self.bands = ToleranceBands(self)
        self.causes = CauseBars(self)
        self.misplacement = Misplacement(session, self)
        self._follow(ProgressLine("toleranceProgress", self))
        self._causes_head = _heading("", self)
        self._lay_out()
        self._pause.timeout.connect(self.refresh)
        self.form.changed.connect(self._on_tolerance)
        self.form.asked.connect(self.refresh)
        self.bands.chosen.connect(self._show_causes)
        self._partial.connect(self._on_partial)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)

    def _lay_out(self) -> None:
        body = QWidget(self)
        column = QVBoxLayout(body)
        column.setContentsMargins(10, 10, 16, 10)
        column.setSpacing(6)
        column.addWidget(self.verdict)
        column.addWidget(self.how)
        column.addWidget(_heading("Damping ratio with the circuit as built", self))
        column.addWidget(self.bands)
        column.addSpacing(6)
        column.addWidget(self._causes_head)
        column.addWidget(self.causes)
        column.addSpacing(6)
        column.addWidget(self.misplacement)
        column.addStretch(1)
        right = QVBoxLayout()
        right.setContentsMargins(0, 0, 0, 8)
        right.addWidget(scroll_of(body, "toleranceResults", self), 1)
        foot = QHBoxLayout()
        foot.setContentsMargins(10, 0, 16, 0)
        foot.addWidget(self.progress)
        right.addLayout(foot)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.form)
        row.addLayout(right, 1)

    # ---- asking --------------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        """Ask for the study the form and the project describe unless it is the one shown."""
        if not self.isVisible():
            return
        session = self._session
        prediction, project = session.prediction, session.project
        if session.stale or prediction is None:
            self._say(NOT_PREDICTED)
            return
        from core.study.carried import how_worked  # with the engine, not with the window

        self.how.setText(how_worked(project.structure))
        self.how.setVisible(bool(self.how.text()))
        self.form.show_inputs(uncertain_inputs(project, _held(project, prediction)))
        self.misplacement.refresh()
        samples, seed = self.form.samples.key(), int(self.form.seed.value() or 0)
        key = (_relevant(project), samples, self.form.spread.value(), seed)
        if key == self._key:
            return
        self._key, self._asked = key, project
        self._fade()
        self.progress.begin(f"Working out {samples} samples")
        spread: Spread = self.form.spread.key()
        self._job.request(partial(_work, project, samples, seed, spread, self._partial.emit))

    @Slot()
    def close_jobs(self) -> None:
        """End background work."""
        super().close_jobs()
        self.misplacement.close_jobs()
        workers.close()

    @Slot(str, object)
    def _on_tolerance(self, path: str, said: Tolerance) -> None:
        """One undo step an input."""
        project = self._session.project
        row = self.form.rows.get(path)
        title = f"Tolerance of {inside(row.label.text())}" if row is not None else "Tolerance"
        self._session.apply(title, replace(project, tolerances={**project.tolerances, path: said}))

    def _say(self, text: str) -> None:
        self._job.cancel()
        self._key = None
        self.verdict.setText(text)
        self.progress.say("")
        self._fade()

    def table(self) -> list[list[str]]:
        """The bands of every mode and their causes; nothing before the first study."""
        return [[]] if self._result is None else tolerance_table(self._result)

    # ---- what comes back -----------------------------------------------------------------

    @Slot(object)
    def _on_partial(self, told: tuple[Project, ToleranceResult]) -> None:
        project, result = told
        if project is self._asked and self._key is not None:
            self._show(result)
            self.progress.tell(result.progress.share, f"{result.progress.done} of {result.progress.total} samples")

    @Slot(int, object)
    def _on_finished(self, _revision: int, result: ToleranceResult | None) -> None:
        if result is None or self._asked is None:
            return
        self._show(result)
        self._session.set_tolerance(self._asked, result)
        seconds = result.progress.seconds
        self.progress.say(
            f"{result.progress.done} samples of {len(result.inputs)} inputs in {words.seconds(seconds)}, seed {result.seed}; "
            f"the same seed gives the same answer."
        )

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._say(failed("The study", error))

    def _show(self, result: ToleranceResult) -> None:
        fresh = self._result is None or self._result.candidate != result.candidate
        self._result = result
        prediction = self._session.prediction
        nominal = tuple(m.zeta for m in prediction.modes) if prediction is not None else ()
        self.bands.show_modes(result.modes, nominal, faded=False)
        if fresh:
            self.bands.choose(result.target_mode)  # among the rows now shown
        self._show_causes()
        target = result.modes[min(result.target_mode, len(result.modes)) - 1]
        share = target.zeta.p10 / nominal[target.number - 1] if len(nominal) >= target.number else float("nan")
        self.verdict.setText(
            f"Nine in ten parts have at least {words.damping(target.zeta.p10)} damping in mode {target.number}, "
            f"{words.share(round(share, 2))} of what the nominal layout has (◇)."
        )

    @Slot()
    def _show_causes(self) -> None:
        result = self._result
        if result is None:
            return
        number = min(self.bands.mode, len(result.modes))
        self._causes_head.setText(f"Where the spread of mode {number}'s damping comes from")
        self.causes.show_causes(result.modes[number - 1].causes, number, result.progress.done, faded=False)

    def _fade(self) -> None:
        """What is shown belongs to an earlier request."""
        result = self._result
        if result is not None:
            prediction = self._session.prediction
            nominal = tuple(m.zeta for m in prediction.modes) if prediction is not None else ()
            self.bands.show_modes(result.modes, nominal, faded=True)


def _heading(text: str, parent: QWidget) -> QLabel:
    label = PlainLabel(text, parent)
    label.setFont(look.font(13, bold=True))
    return label


def _held(project: Project, prediction: Prediction) -> Candidate:
    """The active candidate with the predicted circuit values fixed."""
    candidate = project.candidate()
    values = {g.id: {v.name: v.value for v in g.values} for g in prediction.groups}
    return replace(
        candidate,
        groups=tuple(
            replace(g, circuit=replace(g.circuit, values=values.get(g.id, {}), tuning=None))
            for g in candidate.groups
        ),
    )


def _relevant(project: Project) -> object:
    """What the study depends on."""
    return (*predicted_from(project), project.sheet.tolerance_x_m, project.origins, project.tolerances)


def _work(
    project: Project,
    samples: int,
    seed: int,
    spread: Spread,
    tell: Callable[[object], None],
    stop: threading.Event,
) -> ToleranceResult | None:
    from core.study.tolerance.tolerance import tolerance_study

    def on_partial(result: ToleranceResult) -> None:
        tell((project, result))

    return tolerance_study(
        project,
        samples=samples,
        seed=seed,
        spread=spread,
        executor=workers.pool(),
        cancelled=stop.is_set,
        on_partial=on_partial,
        partial_every_s=PARTIAL_S,
    )
