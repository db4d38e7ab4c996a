"""What is typed of an active loop: its groups, law and amplifier; closing and tuning it, its coefficients as files."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace
from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from app.fields import ChoiceField, quantity_for
from app.fields.buttons import push_button
from app.fields.described import list_for
from app.panels.asked_fields import ModeListField
from app.panels.bound import BoundRow, Writer
from app.panels.paths import replaced_at
from app.results.loop_work import LoopWork
from app.results.section import Sentences
from app.shell.saved_text import ask_and_save
from core.circuit.loop.digital import as_c, as_csv, digital
from core.predict.loop.design import LoopView, tuned
from core.predict.loop.stop import LoopStop, stopped
from core.project.loop import LoopDesign, LoopFilter
from core.project.loop_edits import close_loop, open_loop, with_loop

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.candidate import Candidate
    from core.project.model import Project

LAWS = (("velocity", "velocity feedback"), ("position", "position feedback"), ("typed", "transfer function"))
CLOSED = "Closed: all that is predicted of candidate {} is predicted with the loop."
OPEN = "Open: candidate {} is predicted without the loop. What stands here is what closing it would do."
CLOSED_TIP = "The driven group's leads go to the amplifier; those of the group that listens to an input alone."
OPENED_TIP = "What hung on the leads before hangs on them again; leads that had nothing are shorted. The design of the loop stays."
NEW_FILTER = LoopFilter(20.0, 0.15, 0.1)


class LoopInputs(QWidget):
    """Every value typed is a step that can be undone. `gain_stopped` when a gain went no farther than the loop holds."""

    gain_stopped = Signal()

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self._session = session
        self._view: LoopView | None = None
        self._stopped: tuple[LoopDesign, LoopStop] | None = None
        self.rows: list[BoundRow] = []
        self.tuning = LoopWork("tuningProgress", "Tuning ...", session, self)
        self.tuning.found.connect(self._take_tuned)
        self._column = QVBoxLayout(self)
        self._column.setSpacing(4)
        self._build_groups()
        self._build_law()
        for label, name in (
            ("Amplifier, gain", "amplifier_gain"), ("Bandwidth", "bandwidth_hz"), ("Output resistance", "output_ohm"),
            ("Largest voltage", "amplifier_v"), ("Largest current", "amplifier_a"), ("Delay", "delay_s"), ("Sampling", "sampling_hz"),
        ):  # fmt: skip
            held = {"write": self._holding(replaced_at)} if name == "amplifier_gain" else {}
            self._row(label, quantity_for(f"loop.{name}"), name, **held)
        self.csv = self._button("Coefficients, CSV ...", "loopCsv", partial(self._save, "csv", "Table (*.csv)", as_csv))
        self.c_code = self._button("Coefficients, C array ...", "loopC", partial(self._save, "c", "C source (*.c)", as_c))
        self._column.addStretch(1)

    # -- building ------------------------------------------------------------------------------

    def _build_groups(self) -> None:
        self.state = Sentences("loopState", "Whether the candidate is predicted with the loop", self)
        self._column.addWidget(self.state)
        self.closing = self._button("&Close the loop", "closeLoop", self._close_or_open)
        self.driven = self._row("Driven group", ChoiceField[str]("Driven group"), "driven", read=_read_driven, write=_write_driven)
        self.sensing = self._row("Sensing group", ChoiceField[str]("Sensing group"), "sensing", write=_write_sensing)

    def _build_law(self) -> None:
        self.law = self._row("Law", ChoiceField("Law", LAWS), "law")
        self.modes = self._row("Modes it damps", ModeListField("Modes it damps"), "modes", write=_write_modes)
        self.velocity = self._row(
            "Gain, V per V/s", quantity_for("loop.velocity_gain_s"), "velocity_gain_s", write=self._holding(replaced_at)
        )
        self.filters = [
            self._row(
                label, list_for(f"loop.filters.{name}", label), f"filters.{name}", read=_read_filters,
                write=self._holding(_write_filters) if name == "gain" else _write_filters,
            )
            for label, name in (("Filters, frequency", "frequency_hz"), ("Filters, damping", "damping_ratio"), ("Filters, gain", "gain"))
        ]
        self.typed = [
            self._row(label, list_for(f"loop.{name}", label), name)
            for label, name in (("Numerator, s high first", "numerator"), ("Denominator", "denominator"))
        ]
        self.tune = self._button("Closed form", "tuneClosedForm", self._closed_form)
        self.optimise = self._button("Tune to the optimum", "tuneOptimum", self._optimum)
        self._column.addWidget(self.tuning.line)

    def _row(self, label: str, field: Any, name: str, **options: Any) -> BoundRow:
        row = BoundRow(self._session, label, field, f"candidates[{{candidate}}].loop.{name}", parent=self, **options)
        self.rows.append(row)
        self._column.addWidget(row)
        return row

    def _button(self, text: str, name: str, slot: object) -> QPushButton:
        made = push_button(self, text, name, slot)
        self._column.addWidget(made)
        return made

    def _holding(self, write: Writer) -> Writer:
        """Writes a gain that is typed or stepped, and stops where the loop would grow."""

        def written(project: Project, path: str, value: Any) -> Project:
            made = write(project, path, value)
            self._stopped = None if self._view is None else stopped(self._view.at(project.candidate().loop), made.candidate().loop)
            if self._stopped is None:
                return made
            QTimer.singleShot(0, self.gain_stopped.emit)  # where it stopped at what there was, nothing else says so
            return with_loop(project, self._stopped[0])

        return written

    # -- showing -------------------------------------------------------------------------------

    def show_project(self, project: Project, view: LoopView | None) -> None:
        """The values of the project, and what can be done with the loop predicted for it."""
        self._view = view
        design, groups = project.candidate().loop, project.candidate().groups
        names = [("", "as they come")] + [(g.id, f"{g.id} {' '.join(m.patch for m in g.members)}") for g in groups]
        self.driven.field.set_options(names)
        self.sensing.field.set_options(names)
        for row in self.rows:
            row.refresh(project, {"candidate": project.active})
        self.velocity.setVisible(design.law == "velocity")
        for row in self.filters:
            row.setVisible(design.law == "position")
        for row in self.typed:
            row.setVisible(design.law == "typed")
        for button in (self.tune, self.optimise):
            button.setVisible(design.law != "typed")
        for button in (self.tune, self.optimise, self.csv, self.c_code):
            button.setEnabled(view is not None)
        self.tuning.forget()
        self._show_state(project.candidate())
        if view is not None and self._stopped is not None and self._stopped[0] != view.design:
            self._stopped = None

    @property
    def stopped(self) -> LoopStop | None:
        """Where the gain that was typed last would have made the loop grow; None once anything else has changed."""
        return None if self._stopped is None else self._stopped[1]

    def _show_state(self, candidate: Candidate) -> None:
        closed = candidate.loop_is_closed
        self.state.show_lines([("plain", (CLOSED if closed else OPEN).format(candidate.id))])
        self.closing.setText("&Open the loop" if closed else "&Close the loop")
        self.closing.setEnabled(closed or candidate.loop_ends is not None)
        self.closing.setToolTip(OPENED_TIP if closed else CLOSED_TIP)

    # -- hands ---------------------------------------------------------------------------------

    @Slot()
    def _close_or_open(self) -> None:
        project = self._session.project
        if project.candidate().loop_is_closed:
            self._session.apply("Open the loop", open_loop(project))
        elif project.candidate().loop_ends is not None:
            self._session.apply("Close the loop", close_loop(project))

    @Slot()
    def _closed_form(self) -> None:
        if self._view is not None:
            self._apply("Tune the loop by the closed form", tuned(self._view, "closed form"))

    @Slot()
    def _optimum(self) -> None:
        view = self._view
        if view is not None:
            self.tuning.request(lambda goes_on: tuned(view, "optimum", goes_on))

    @Slot(object)
    def _take_tuned(self, design: LoopDesign | None) -> None:
        if design is not None:
            self._apply("Tune the loop to the optimum", design)

    def _apply(self, title: str, design: LoopDesign) -> None:
        self._session.apply(title, with_loop(self._session.project, design))

    def _save(self, ending: str, kind: str, write: Any, _checked: bool = False) -> None:
        view = self._view
        if view is not None:
            ask_and_save(self, "Coefficients of the loop", f"loop.{ending}", kind, lambda: write(digital(view.loop.control)))


def _read_driven(project: Project, _path: str) -> str:
    """The group that is driven, where the loop is closed; else the one named."""
    candidate = project.candidate()
    ends = candidate.loop_ends
    return candidate.groups[ends[1]].id if candidate.loop_is_closed and ends is not None else candidate.loop.driven


def _write_driven(project: Project, _path: str, group: str) -> Project:
    return with_loop(project, driven=group)


def _write_sensing(project: Project, _path: str, group: str) -> Project:
    return with_loop(project, sensing=group)


def _write_modes(project: Project, _path: str, modes: tuple[int, ...]) -> Project:
    return with_loop(project, modes=modes or (1,))


def _read_filters(project: Project, path: str) -> tuple[float, ...]:
    return tuple(getattr(one, path.rpartition(".")[2]) for one in project.candidate().loop.filters)


def _write_filters(project: Project, path: str, values: Any) -> Project:
    """Another list of one value per filter; a longer list adds filters, a shorter one takes some away."""
    old = project.candidate().loop.filters
    made = tuple(
        replace(old[i] if i < len(old) else (old[-1] if old else NEW_FILTER), **{path.rpartition(".")[2]: value})
        for i, value in enumerate(values)
    )
    return with_loop(project, filters=made)
