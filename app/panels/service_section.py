"""Loads, static forces, temperatures, and what the response is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QLabel, QWidget

from app.fields import (
    ChoiceField,
    Column,
    NumberTable,
    SwitchField,
    TextField,
    column_for,
    quantity_for,
)
from app.panels import edits, words
from app.panels.asked_section import without_load
from app.panels.bound import BoundRow, ReadOut
from app.panels.paths import replaced_at, value_at
from app.panels.section import InputSection, set_shown
from core import units
from core.predict.loads.random_load import spectrum_rms_m_s2
from core.project.ceilings import MOST_MODES
from core.project.model import Project
from core.project.service import PointLoad, RandomBase, StaticForce

if TYPE_CHECKING:
    from app.shell.session import Session

FORCE_COLUMNS = (
    Column("name", "Static force", "text", default="service bend"),
    column_for("static_forces.force_n", "Up", default=1.0),
    column_for("static_forces.x_m", "At", optional=True, hint="tip"),
)
SPECTRUM_COLUMNS = (
    column_for("spectrum.frequency_hz", default=100.0),
    column_for("spectrum.density_m2_s3", default=0.1),
)


def _band_low(project: Project, path: str) -> float:
    return value_at(project, path)[0]


def _band_high(project: Project, path: str) -> float:
    return value_at(project, path)[1]


def _with_band_low(project: Project, path: str, value: float) -> Project:
    return replaced_at(project, path, (value, value_at(project, path)[1]))


def _with_band_high(project: Project, path: str, value: float) -> Project:
    return replaced_at(project, path, (value_at(project, path)[0], value))


def _output_patch(project: Project, _path: str) -> str | None:
    patch = project.view.looked_at(project.candidate())
    return None if patch is None else patch.id


class ServiceSection(InputSection):
    """The active load case with its fields; static forces; temperatures; output."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Load and service", parent)
        self._drawn: tuple[object, ...] | None = None
        self._patches: list[str] = []
        self.case = self.row("Load case", ChoiceField[int]("Load case"), "service.active_load")
        self.new_kind = ChoiceField("Kind of new load", words.LOAD_KINDS, parent=self.body)
        self.new_kind.setPlaceholderText("Add a load case...")
        self.new_kind.chosen.connect(self.add_load)
        self.new_kind.set_value(None)
        self.remove_button = self.button("Remove case", self.remove_load)
        self.add_buttons(self.new_kind, self.remove_button)
        self._build_load()
        self._build_forces()
        self._build_temperatures()
        self._build_output()

    # -- building ------------------------------------------------------------------------------

    def _build_load(self) -> None:
        called = self.row("Called", TextField("Called"), "{load}.name")
        self.by_kind: dict[str, list[BoundRow]] = {
            "force": [
                self.row("Force", quantity_for("loads.force_n"), "{load}.force_n", origin=True)
            ],
            "root acceleration": [
                self.row("Level", quantity_for("loads.level_m_s2"), "{load}.level_m_s2", origin=True),
                self.row("Random", SwitchField("Random", "rms over band"), "{load}.random"),
            ],
            "release": [
                self.row("Bent by", quantity_for("loads.deflection_m", "Bent by"), "{load}.deflection_m", origin=True)
            ],
            "impact": [
                self.row("Impulse", quantity_for("loads.impulse_n_s"), "{load}.impulse_n_s",
                          origin=True),
                self.row("Duration", quantity_for("loads.duration_s"), "{load}.duration_s",
                          origin=True),
            ],
            "base shock": [
                self.row("Peak", quantity_for("loads.peak_m_s2"), "{load}.peak_m_s2", origin=True),
                self.row("Lasting", quantity_for("loads.duration_s", "Lasting"), "{load}.duration_s",
                          origin=True),
            ],
            "random base": [],
            "base step": [
                self.row("Level", quantity_for("loads.level_m_s2"), "{load}.level_m_s2", origin=True),
            ],
        }  # fmt: skip
        self.load_x = self.row("At", quantity_for("loads.x_m", "At", optional=True, hint="tip"),
                                "{load}.x_m")
        low = self.row("Band from", quantity_for("loads.band_hz", "Band from"), "{load}.band_hz",
                        read=_band_low, write=_with_band_low)
        high = self.row("Band to", quantity_for("loads.band_hz", "Band to"), "{load}.band_hz",
                         read=_band_high, write=_with_band_high)
        self.load_rows, self.band_rows = (called, low, high), (low, high)
        self.spectrum = NumberTable("Spectrum of the base's acceleration", SPECTRUM_COLUMNS, row_word="point", least=2,
                                    parent=self.body)
        self._in_the_column(self.spectrum)
        self.spectrum.edited.connect(self._take_spectrum)
        self.add(self.spectrum)
        self.rms = self.add(ReadOut("In all, r.m.s."))

    def _build_forces(self) -> None:
        self.forces = NumberTable("Static forces", FORCE_COLUMNS, row_word="force", parent=self.body)
        self._in_the_column(self.forces)
        self.forces.edited.connect(self._take_forces)
        label = QLabel("Static forces the ceramic must survive", self.body)
        label.setBuddy(self.forces.view)
        label.setWordWrap(True)
        self.add(label)
        self.add(self.forces)

    def _in_the_column(self, table: NumberTable) -> None:
        """A short table of which Tab goes on to the next field of the column."""
        table.hide_hint()
        table.view.setTabKeyNavigation(False)
        table.view.verticalHeader().hide()
        table.view.setFixedHeight(self.fontMetrics().height() * 7 + 24)

    def _build_temperatures(self) -> None:
        for label, path in (("Cold", "service.cold_c"), ("Reference", "service.reference_c"),
                            ("Hot", "service.hot_c")):
            self.row(label, quantity_for(path, label, step=1.0), path)
        for label, path, hint in (
            ("Changes by", "service.ramp_span_k", "cold to hot"), ("at a rate of", "service.ramp_rate_k_s", "at once"),
        ):  # fmt: skip
            field = quantity_for(path, optional=True, hint=hint)
            field.setToolTip("A change of temperature charges the ceramics: how far it goes in one go, either way, and how fast.")
            self.row(label, field, path, origin=True)
        self.row("Settled at", quantity_for("service.settle_to", "Settled at"), "service.settle_to")

    def _build_output(self) -> None:
        self.row("Response of", quantity_for("view.output_x_m", optional=True, hint="tip"),
                  "view.output_x_m")
        self.row("Shown as", ChoiceField("Shown as", words.OUTPUTS), "view.output")
        self.of_patch = self.row("Of patch", ChoiceField[str]("Of patch"), "view.output_patch", read=_output_patch)
        self.row("Before means", ChoiceField("Before means", words.BEFORE), "view.before")
        modes = [(number, str(number)) for number in range(1, MOST_MODES + 1)]
        self.row("Modes shown", ChoiceField("Modes shown", modes), "view.modes_shown")

    # -- showing -------------------------------------------------------------------------------

    def places(self, project: Project) -> dict[str, str] | None:
        if not project.service.loads:
            return None
        return {"load": f"service.loads[{project.service.active_load}]"}

    def refresh(self) -> None:
        project = self.session.shown
        drawn = (project.service, project.view, project.origins)
        patches = [patch.id for patch in project.candidate().patches]
        same = self._drawn is not None and all(a is b for a, b in zip(drawn, self._drawn, strict=True))
        if same and patches == self._patches:
            return
        self._drawn, self._patches = drawn, patches
        super().refresh()

    def show_rows(self, project: Project) -> None:
        loads, active = project.service.loads, project.service.active_load
        kind = edits.load_kind(loads[active]) if 0 <= active < len(loads) else ""
        for row in self.load_rows:
            # a spectrum has its band in its table
            set_shown(row, bool(kind) and not (kind == "random base" and row in self.band_rows))
        for key, rows in self.by_kind.items():
            for row in rows:
                set_shown(row, key == kind)
        set_shown(self.spectrum, kind == "random base")
        set_shown(self.rms, kind == "random base")
        set_shown(self.load_x, bool(kind) and isinstance(loads[active], PointLoad))
        patches = project.candidate().patches
        looked_at = project.view.looked_at(project.candidate())
        set_shown(self.of_patch, looked_at is not None and len(patches) > 1)
        self.of_patch.field.set_options([(patch.id, patch.id) for patch in patches])
        self.case.field.set_options([(number, load.name) for number, load in enumerate(loads)])

    def update_rows(self, project: Project) -> None:
        loads = project.service.loads
        active = project.service.active_load
        self.remove_button.setEnabled(len(loads) > 1)
        shown = dict(words.LOAD_KINDS)
        self.remark.setText(shown[edits.load_kind(loads[active])] if 0 <= active < len(loads) else "")
        load = loads[active] if 0 <= active < len(loads) else None
        if isinstance(load, RandomBase) and not self.spectrum.errors():
            self.spectrum.set_rows([
                {"frequency_hz": f, "density_m2_s3": density} for f, density in load.spectrum_hz_m2_s3
            ])
            self.rms.tell(units.show_with_unit(spectrum_rms_m_s2(load), "gn", significant=3))
        if not self.forces.errors():
            self.forces.set_rows([msgspec.structs.asdict(force) for force in project.service.static_forces])

    # -- changes -------------------------------------------------------------------------------

    @Slot(object)
    def add_load(self, kind: object) -> None:
        """A new load of that kind, made the active one."""
        project = self.session.project
        service = project.service
        active = service.active_load
        band = service.loads[active].band_hz if 0 <= active < len(service.loads) else (1.0, 500.0)
        load = edits.new_load(str(kind), dict(words.LOAD_KINDS)[str(kind)], band)
        loads = (*service.loads, load)
        new = msgspec.structs.replace(service, loads=loads, active_load=len(loads) - 1)
        self.session.apply("Add load case", msgspec.structs.replace(project, service=new))
        self.new_kind.set_value(None)

    @Slot()
    def remove_load(self) -> None:
        """The active load away; the one before it becomes active."""
        project = self.session.project
        service = project.service
        active = service.active_load
        loads = service.loads[:active] + service.loads[active + 1 :]
        asked = without_load(service.asked, active)
        new = msgspec.structs.replace(service, loads=loads, active_load=max(active - 1, 0), asked=asked)
        self.session.apply("Remove load case", msgspec.structs.replace(project, service=new))

    @Slot()
    def _take_spectrum(self) -> None:
        """The table in rising order of frequency, whichever order it was typed in."""
        if not self.spectrum.errors():
            points = sorted((row["frequency_hz"], row["density_m2_s3"]) for row in self.spectrum.rows())
            project = self.session.project
            place = f"service.loads[{project.service.active_load}].spectrum_hz_m2_s3"
            self.session.apply("Change the spectrum", replaced_at(project, place, tuple(points)))

    @Slot()
    def _take_forces(self) -> None:
        if not self.forces.errors():
            forces = msgspec.convert(self.forces.rows(), tuple[StaticForce, ...])
            self.session.apply(
                "Change static forces", replaced_at(self.session.project, "service.static_forces", forces)
            )
