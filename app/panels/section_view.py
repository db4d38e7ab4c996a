"""EI(x) and m(x) drawn live, and mass and tip stiffness beside what scale and weights said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGroupBox, QLabel, QVBoxLayout, QWidget

from app.fields import quantity_for
from app.fields.plain import PlainLabel
from app.panels import words
from app.panels.bare import bare
from app.panels.bound import BoundRow, ReadOut
from app.panels.paths import lies_in
from app.results.chart import Chart
from app.theme import look
from core.units import words as quantities

if TYPE_CHECKING:
    from app.panels.draft import Draft


class SectionView(QWidget):
    """Follows a draft; keeps the last good curves while the draft has problems, and says so."""

    def __init__(self, draft: Draft, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._draft = draft
        self.stiffness = Chart("EI chart", "Bending stiffness along the span", log_x=False, log_y=False,
                               parent=self)
        self.mass = Chart("m chart", "Mass per length along the span", log_x=False, log_y=False, parent=self)
        self.stiffness.set_units("m", "N m\N{SUPERSCRIPT TWO}")
        self.mass.set_units("m", "g/m")
        self.state = PlainLabel("", self)
        self.state.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(QLabel("Bending stiffness EI(x)", self))
        layout.addWidget(self.stiffness, 1)
        layout.addWidget(QLabel("Mass per length m(x)", self))
        layout.addWidget(self.mass, 1)
        layout.addWidget(self.state)
        layout.addWidget(self._checks())
        draft.project_changed.connect(self.refresh)
        self.refresh()

    def _checks(self) -> QGroupBox:
        box = QGroupBox("Model against the sample", self)
        rows = QVBoxLayout(box)
        self.total = ReadOut("Total mass", parent=box)
        self.weighed = BoundRow(
            self._draft, "Weighed",
            quantity_for("structure.weighed_mass_kg", "Weighed", optional=True, hint="on the scale"),
            "structure.weighed_mass_kg", parent=box,
        )  # fmt: skip
        self.tip = ReadOut("Tip stiffness", parent=box)
        self.tested = BoundRow(
            self._draft, "Dead-weight test",
            quantity_for("structure.dead_weight_stiffness_n_m", "Dead-weight test", optional=True, hint="force/sag"),
            "structure.dead_weight_stiffness_n_m", parent=box,
        )  # fmt: skip
        for row in (self.total, self.weighed, self.tip, self.tested):
            rows.addWidget(row)
        return box

    def refresh(self) -> None:
        """Compute and draw the draft's structure again."""
        project = self._draft.shown
        self.weighed.refresh(project, {})
        self.tested.refresh(project, {})
        spoiled = any(
            lies_in(problem.path, place)
            for problem in self._draft.problems for place in ("structure", "materials")
        )
        self.state.setVisible(spoiled)
        if spoiled:
            self.state.setText("Curves and totals are those before the problem told below.")
            return
        found = bare(project)
        colour = look.current().accent
        self.stiffness.set_curve("EI", found.x_m, found.bending_stiffness_nm2, colour)
        self.mass.set_curve("m", found.x_m, 1e3 * found.mass_per_length_kg_m, colour)
        self.stiffness.fit()
        self.mass.fit()
        structure = project.structure
        self.total.tell(words.measured_text(quantities.mass(found.mass_kg), found.mass_kg, structure.weighed_mass_kg))
        if found.tip_stiffness_n_m is None:
            self.tip.tell("the tip cannot move, or nothing holds the part")
        else:
            self.tip.tell(words.measured_text(quantities.stiffness(found.tip_stiffness_n_m), found.tip_stiffness_n_m, structure.dead_weight_stiffness_n_m))
