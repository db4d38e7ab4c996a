"""What to search for and within which limits."""

from __future__ import annotations

from typing import TypeVar, get_args

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.fields import (
    ChoiceField,
    FormRow,
    NumberListField,
    QuantityField,
    SwitchField,
    list_for,
    quantity_for,
)
from app.fields.plain import PlainLabel
from app.panels.library_edits import package_options
from app.studies.searched import with_choices
from app.theme import look
from core.circuit.registry import CIRCUITS
from core.project.candidate import CircuitName
from core.project.model import Project
from core.project.ranges import Range
from core.project.record import Face
from core.project.served import served_mode
from core.study.search.goals import GOALS, Goal, Limits, SearchRequest, Series, Target

_FACES: tuple[tuple[Face, str], ...] = (("top", "top"), ("underside", "underside"), ("both", "both, as a pair"))
_COUNTS: tuple[tuple[tuple[int, ...], str], ...] = (((1,), "one"), ((2,), "two"), ((1, 2), "one or two"))
_SERIES: tuple[tuple[Series, str], ...] = (("", "any value"), ("E12", "E12 values"), ("E24", "E24 values"), ("E96", "E96 values"))
_GOALS = {
    "damping": "damping of a mode",
    "weighted": "weighted damping",
    "band": "lowest peak in the band",
    "targets": "targets at least mass",
}
SHORTEST, LONGEST = 0.5, 1.5
"""Range offered for the ceramic's length, of the package's."""
PASSIVE: tuple[CircuitName, ...] = tuple(
    key for key in get_args(CircuitName) if CIRCUITS[key].closed_form is not None and not CIRCUITS[key].active
    and CIRCUITS[key].branches == 1
)


W = TypeVar("W", bound=QWidget)


class SearchForm(QWidget):
    """Goal, what may vary, and limits; `request` reads it."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("searchForm")
        self._rows: dict[str, FormRow] = {}
        self._packages: dict[str, SwitchField] = {}
        self._names: tuple[str, ...] = ()
        self._modes = 0
        self._faced = False
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(5)
        self._layout = layout
        self._heading("What for")
        self.goal = self._add("Goal", ChoiceField("Goal", [(g, _GOALS[g]) for g in GOALS], parent=self))
        self.mode = self._add("Mode", ChoiceField[int]("Mode", parent=self))
        self.weights = self._add(
            "Weights of modes 1, 2, …", list_for("tuning.weights", "Weights of modes 1, 2, …", parent=self)
        )
        self.zeta = self._add(
            "Damping of modes 1, 2, … at least",
            NumberListField(Range("%", 0.0, 0.9), "Damping of modes 1, 2, … at least", parent=self),
        )
        self.drop = self._add(
            "Peaks of modes 1, 2, … down by dB",
            NumberListField(Range("1", 0.0, 120.0), "Peaks of modes 1, 2, … down by dB", parent=self),
        )
        self._heading("What may be used")
        self._package_box = QVBoxLayout()
        self._package_box.setSpacing(2)
        layout.addLayout(self._package_box)
        self.faces = {key: self._switch(f"Face: {text}", key == "top") for key, text in _FACES}
        self.circuits = {key: self._switch(CIRCUITS[key].label, key == "resistor") for key in PASSIVE}
        self.count = self._add("Patches", ChoiceField("Patches", _COUNTS, parent=self))
        self.joined = self._switch("Two patches wired together", False)
        self.widths = self._add("Also ceramic widths", self._sizes("packages.width_m", "Also ceramic widths", "20; 30"))
        self.thicknesses = self._add("Also thicknesses", self._sizes("ceramic_thickness_m", "Also thicknesses", "0.2; 0.5"))
        self.vary = self._switch("Let the ceramic's length vary", False)
        self.short = self._add(
            "Length from", quantity_for("patches.length_m", "Length from", parent=self)
        )
        self.long = self._add(
            "Length to", quantity_for("patches.length_m", "Length to", parent=self)
        )
        self._heading("Limits")
        self.keep_outs = self._switch("Obey the keep-outs", True)
        self.near = self._add("Ceramics from", self._optional("mm", "Ceramics from", "root"))
        self.far = self._add("Ceramics up to", self._optional("mm", "Ceramics up to", "tip"))
        self.mass = self._add("Added mass at most", self._optional("g", "Added mass at most", "any"))
        self.margin = self._add(
            "Static strain margin", self._optional("1", "Static strain margin", "not asked")
        )
        self.voltage = self._add(
            "Peak voltage at the leads", self._optional("V", "Peak voltage at the leads", "any")
        )
        self.inductance = self._add("Inductance at most", self._optional("H", "Inductance at most", "any"))
        self.series = self._add("Part values", ChoiceField("Part values", _SERIES, parent=self))
        self._defaults()
        for field in (self.goal, self.count):
            field.chosen.connect(self._on_choice)
        self.vary.switched.connect(self._on_choice)
        for key in self.circuits:
            self.circuits[key].switched.connect(self._on_choice)
        self._show_rows()

    def _defaults(self) -> None:
        self.goal.set_value("damping")
        self.count.set_value((1,))
        self.series.set_value("")
        self.weights.set_value((1.0, 1.0))
        self.zeta.set_value((0.01,))
        self.drop.set_value((0.0,))
        self.margin.set_value(1.0)

    def _heading(self, text: str) -> None:
        label = PlainLabel(text, self)
        label.setFont(look.font(12, bold=True))
        self._layout.addSpacing(4)
        self._layout.addWidget(label)

    def _add(self, label: str, field: W) -> W:
        self._rows[label] = FormRow(label, field, parent=self)
        self._layout.addWidget(self._rows[label])
        return field

    def _switch(self, text: str, on: bool) -> SwitchField:
        made = SwitchField(text, text, parent=self)
        made.set_value(on)
        self._layout.addWidget(made)
        return made

    def _sizes(self, key: str, label: str, hint: str) -> NumberListField:
        return list_for(key, label, optional=True, hint=hint, parent=self)

    def _optional(self, unit: str, label: str, hint: str) -> QuantityField:
        return QuantityField(Range(unit, 0.0), label, optional=True, hint=hint, parent=self)

    # ---- the project ---------------------------------------------------------------------

    def fit(self, project: Project) -> None:
        """Offer the project's modes and packages."""
        modes = project.view.modes_shown
        if modes != self._modes:
            self._modes = modes
            self.mode.set_options([(n, f"mode {n}") for n in range(1, modes + 1)])
            if self.mode.value() is None:
                self.mode.set_value(served_mode(project, project.candidate()))
        used = {patch.face for patch in project.candidate().patches}
        if used and not self._faced:  # where the patches lie now; from then on what a person ticks
            self._faced = True
            for key, field in self.faces.items():
                field.set_value(key in used)
        options = package_options(project)
        names = tuple(name for name, _ in options)
        if names != self._names:
            self._fill_packages(project, options)

    def _fill_packages(self, project: Project, options: list[tuple[str, str]]) -> None:
        """A switch a package, those of the library after the project's; what a person chose stays."""
        chosen = {name: field.value() for name, field in self._packages.items()}
        names = tuple(name for name, _ in options)
        used = {patch.package for candidate in project.candidates for patch in candidate.patches}
        for old in self._packages.values():
            self._package_box.removeWidget(old)
            old.deleteLater()
        self._names, self._packages = names, {}
        before: QWidget = self.drop  # the last of the goal: the Tab key comes down from there
        for name, text in options:
            made = SwitchField(f"Package {name}", text, parent=self)
            only = len(project.packages) == 1 and name == project.packages[0].name
            made.set_value(chosen.get(name, name in used or only))
            QWidget.setTabOrder(before, made)
            before = self._packages[name] = made
            self._package_box.addWidget(made)
        lengths = [package.length_m for package in project.packages]
        if lengths:
            self.short.set_value(round(SHORTEST * min(lengths), 4))
            self.long.set_value(round(LONGEST * max(lengths), 4))

    def request(self, project: Project) -> tuple[Project, SearchRequest]:
        """The project with all packages that are looked at, and the search asked for. ValueError in words where the
        form contradicts itself."""
        names = tuple(name for name, field in self._packages.items() if field.value())
        widths, thicknesses = self.widths.value() or (), self.thicknesses.value() or ()
        project, looked_at = with_choices(project, names, widths, thicknesses)
        short, long = self.short.value() or 0.0, self.long.value() or 0.0
        if self.vary.value() and not short < long:
            raise ValueError("The ceramic's length range ends before it starts. Make 'Length to' the larger.")
        near, far = self.near.value(), self.far.value()
        if near is not None and far is not None and not near < far:
            raise ValueError(
                "The range for the ceramics ends before it starts. Make 'Ceramics up to' the larger."
            )
        limits = Limits(
            packages=looked_at,
            circuits=tuple(key for key, field in self.circuits.items() if field.value()),
            faces=tuple(key for key, field in self.faces.items() if field.value()),
            patches=self.count.key(),
            joined=self.joined.value(),
            length_m=(short, long) if self.vary.value() else None,
            x_range_m=None if near is None and far is None else (near or 0.0, far or float("inf")),
            keep_outs=self.keep_outs.value(),
            added_mass_kg=self.mass.value(),
            strain_margin=self.margin.value() or 0.0,
            largest_inductance_h=self.inductance.value(),
            preferred=self.series.key(),
            largest_voltage_v=self.voltage.value(),
        )
        return project, SearchRequest(self._goal(), limits)

    def _goal(self) -> Goal:
        weights = tuple(self.weights.value() or ())[: self._modes]
        zeta, drop = (tuple(field.value() or ())[: self._modes] for field in (self.zeta, self.drop))
        targets = []
        for k in range(max(len(zeta), len(drop))):
            damping = zeta[k] if k < len(zeta) and zeta[k] > 0.0 else None
            peak = -drop[k] if k < len(drop) and drop[k] > 0.0 else None
            if damping is not None or peak is not None:
                targets.append(Target(k + 1, damping, peak))
        kind = self.goal.key()
        return Goal(kind, int(self.mode.value() or 1), weights, tuple(targets) if kind == "targets" else ())

    @Slot()
    def _on_choice(self) -> None:
        self._show_rows()
        self.changed.emit()

    def _show_rows(self) -> None:
        goal = self.goal.value()
        self._rows["Mode"].setVisible(goal == "damping")
        self._rows["Weights of modes 1, 2, …"].setVisible(goal == "weighted")
        for label in ("Damping of modes 1, 2, … at least", "Peaks of modes 1, 2, … down by dB"):
            self._rows[label].setVisible(goal == "targets")
        for label in ("Length from", "Length to"):
            self._rows[label].setVisible(self.vary.value())
        self.joined.setVisible(2 in (self.count.value() or ()))
        coils = any(
            self.circuits[key].value() for key in self.circuits
            if CIRCUITS[key].resonates
        )  # fmt: skip
        self._rows["Inductance at most"].setVisible(coils)
