"""Tuned masses: place, mass, what they are tuned to, how far they may move; adding and deleting them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QLabel, QWidget

from app.fields import ChoiceField, FormRow, quantity_for
from app.panels import edits
from app.panels.bound import ReadOut
from app.panels.paths import value_at
from app.panels.section import set_shown
from app.panels.tuned_section import TunedSection
from core.predict.absorber_result import AbsorberResult
from core.project.absorber_edits import find_absorber, without_absorber
from core.project.candidate import Absorber, Tuning
from core.project.model import Project
from core.units import words as quantities

if TYPE_CHECKING:
    from app.shell.session import Session


class AbsorberSection(TunedSection):
    """Fields of one tuned mass: the one picked last, else the first."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Tuned mass", parent)
        self._is_built = False
        self.chooser = ChoiceField[str]("Tuned mass", parent=self.body)
        self.chooser.chosen.connect(session.select_absorber)
        self.add(self.chooser)
        self._remove = self.button("Delete tuned mass", self.remove)
        self.add_buttons(self.button("Add tuned mass", self.add_absorber), self._remove)
        self.empty = QLabel("None. A mass on a spring and a damper, beside patches or instead of them.", self.body)
        self.empty.setWordWrap(True)
        self.add(self.empty)

    def _build_rows(self) -> None:
        """When the first tuned mass is shown; most projects have none."""
        self.place = self.row("Place", quantity_for("absorbers.x_m", "Place", step=1.0), "{absorber}.x_m",
                               title="Move tuned mass")
        self.mass = self.row("Mass", quantity_for("absorbers.mass_kg", "Mass"), "{absorber}.mass_kg", origin=True,
                              title="Change tuned mass")
        self.share = self.add(ReadOut("Mass ratio"))
        self.build_rule("{absorber}", "{absorber}.tuning", "Tuned to", of=" of the tuned mass", title="Change tuning")
        self.frequency = self.row("Frequency", quantity_for("absorbers.frequency_hz", "Frequency"),
                                   "{absorber}.frequency_hz", origin=True)
        self.damping = self.row("Damping ratio", quantity_for("absorbers.damping_ratio", "Damping ratio"),
                                 "{absorber}.damping_ratio", origin=True)
        self.frequency_now, self.damping_now = self.add(ReadOut("Frequency")), self.add(ReadOut("Damping ratio"))
        self.spring, self.damper = self.add(ReadOut("Spring")), self.add(ReadOut("Damper"))
        stroke = quantity_for("absorbers.allowed_stroke_m", "Allowed stroke", optional=True, hint="no limit")
        self.allowed = self.row("Allowed stroke", stroke, "{absorber}.allowed_stroke_m")
        self.stroke = self.add(ReadOut("Stroke"))
        self.build_findings("tuned mass remarks")
        self._is_built = True
        self.take_in(self.body.findChildren(FormRow), self._remove)

    # -- showing -------------------------------------------------------------------------------

    def absorber(self, project: Project) -> Absorber | None:
        """The tuned mass picked last, else the first."""
        candidate = project.candidate()
        picked = find_absorber(candidate, self.session.selected_absorber)
        return picked or next(iter(candidate.absorbers), None)

    def places(self, project: Project) -> dict[str, str] | None:
        absorber = self.absorber(project)
        return None if absorber is None else {"absorber": edits.absorber_path(project, absorber.id)}

    def result(self) -> AbsorberResult | None:
        """What the last good prediction says about it."""
        prediction, absorber = self.session.prediction, self.absorber(self.session.shown)
        if prediction is None or absorber is None:
            return None
        return next((result for result in prediction.absorbers if result.id == absorber.id), None)

    def drawn_from(self, project: Project) -> tuple[object, ...]:
        return project.candidate().absorbers, project.origins, project.view.modes_shown, self.session.selected_absorber

    def show_rows(self, project: Project) -> None:
        absorber = self.absorber(project)
        if absorber is not None and not self._is_built:
            self._build_rows()
        shown = self._rows_shown(absorber) if absorber is not None else set()
        for row in self.form_rows():
            set_shown(row, row in shown)
        set_shown(self.empty, absorber is None)
        set_shown(self._remove, absorber is not None)
        set_shown(self.chooser, len(project.candidate().absorbers) > 1)
        if absorber is None:
            if self._is_built:
                self.show_findings(())
            return
        self.offer_modes(project, absorber.tuning)

    def _rows_shown(self, absorber: Absorber) -> set[FormRow]:
        shown: set[FormRow] = {self.place, self.mass, self.share, self.follows, self.spring, self.damper}
        shown |= {self.allowed, self.stroke}
        if absorber.tuning is None:
            return shown | {self.frequency, self.damping}
        return shown | {self.frequency_now, self.damping_now} | self.rule_rows(absorber.tuning)

    def update_rows(self, project: Project) -> None:
        absorber, every = self.absorber(project), project.candidate().absorbers
        self.chooser.set_options([(one.id, f"Tuned mass {one.id}") for one in every])
        self.chooser.set_value(None if absorber is None else absorber.id)
        self.heading.setText("Tuned mass" if absorber is None else f"Tuned mass {absorber.id}")
        self.remark.setText("" if absorber is not None else "none")
        self.refresh_results()

    @Slot()
    def refresh_results(self) -> None:
        """Values in effect, stroke and remarks of the last good prediction."""
        absorber, result = self.absorber(self.session.shown), self.result()
        if absorber is None:
            return
        if result is None:
            for row in (self.share, self.frequency_now, self.damping_now, self.spring, self.damper, self.stroke):
                row.tell("not predicted yet")
            self.show_findings(())
            return
        mode = min(absorber.tuning.mode if absorber.tuning else 1, len(result.mass_ratios))
        ratio = result.mass_ratios[mode - 1] if mode else 0.0
        self.share.tell(f"{quantities.percent(ratio)} of mode {mode}")
        self.frequency_now.tell(quantities.fine_frequency(result.frequency_hz))
        self.damping_now.tell(quantities.damping(result.damping_ratio))
        self.spring.tell(quantities.stiffness(result.stiffness_n_m))
        self.damper.tell(quantities.engineering(result.damper_n_s_m, "N s/m"))
        if self.session.tells_loads:
            self.stroke.tell(f"{quantities.engineering(result.stroke_m, 'm')} {result.size_meaning}")
        self.show_findings(result.remarks)

    # -- changes ---------------------------------------------------------------------------------

    def write_follows(self, project: Project, path: str, follows: bool) -> Project:
        absorber: Absorber = value_at(project, path)
        result = self.result()
        if follows:
            return edits.replaced_at(project, path, replace(absorber, tuning=absorber.tuning or Tuning(rule="optimum")))
        fixed = replace(absorber, tuning=None)
        if result is not None:
            fixed = replace(fixed, frequency_hz=result.frequency_hz, damping_ratio=result.damping_ratio)
        return edits.replaced_at(project, path, fixed)

    @Slot()
    def add_absorber(self) -> None:
        """One more, where the mode served moves most, selected."""
        project, new_id = edits.with_new_absorber(self.session.project, self.session.prediction)
        self.session.apply("Add tuned mass", project)
        self.session.select_absorber(new_id)

    @Slot()
    def remove(self) -> None:
        """The one shown away."""
        project = self.session.project
        absorber = self.absorber(project)
        if absorber is not None:
            self.session.apply(f"Delete tuned mass {absorber.id}", without_absorber(project, project.active, absorber.id))
