"""The patch as a shaker: motion and force per volt, the waveform, what it can push, what stops its volts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from msgspec.structs import replace
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QFileDialog

from app.fields import ChoiceField, quantity_for
from app.fields.link import Link
from app.panels.bound import BoundRow
from app.results.row_list import Level
from app.results.section import About, Sentences
from app.results.use_charts import LoadLineChart, MarkedChart
from app.results.use_panel import UsePanel
from app.results.use_table import UseTable
from app.theme import look
from core.predict.forcing import place
from core.predict.use.bridge import bridge
from core.predict.use.text import (
    DRIVE_HEADS,
    also_driven,
    beyond_told,
    bridge_told,
    cautions,
    drive_rows,
    heat_told,
    load_line_told,
    waveform_told,
)
from core.project.served import served_mode
from core.units import words

if TYPE_CHECKING:
    from core.predict.group_result import GroupResult
    from core.predict.use.drive import Driving
    from core.project.use import Use

WAVEFORMS = (
    ("sine", "sine"),
    ("square", "square"),
    ("triangle", "triangle"),
    ("ramp", "slow ramp"),
    ("table", "from a file"),
)


class DrivePanel(UsePanel):
    """Follows the session while the use is Drive."""

    use: ClassVar[Use] = "drive"

    def build(self) -> None:
        body = self.body
        self.modes = UseTable("driveTable", "Motion per volt", (0.75, 1.0, 1.25, 1.3, 1.45, 1.1), body)
        self.also = About(body, wrapped=True)
        self._what_modes = self.section("Motion and force per volt", self.modes, self.also)
        self.waveform = self._row("Waveform", ChoiceField("Waveform", WAVEFORMS), "waveform")
        self.frequency = self._row("Frequency", quantity_for("drive.frequency_hz"), "frequency_hz")
        self.amplitude = self._row("Volts, to either side", quantity_for("drive.amplitude_v"), "amplitude_v")
        self.bias = self._row("Bias", quantity_for("drive.bias_v"), "bias_v")
        self.current = self._row("Amplifier, current", quantity_for("drive.amplifier_a"), "amplifier_a")
        self.rate = self._row("Amplifier, rate", quantity_for("drive.amplifier_v_s"), "amplifier_v_s")
        self.loss = self._row("Loss, times small signal", quantity_for("drive.large_signal"), "large_signal")
        self.file = Link("Read a waveform: seconds, volts ...", body)
        self.file.clicked.connect(self._read)
        self.played = MarkedChart("waveChart", "Volts and motion in time", log=False, least=140, parent=body)
        self._what_wave = self.section(
            "Driven by", self.waveform, self.frequency, self.amplitude, self.bias, self.current, self.rate, self.loss,
            self.file, self.played,
        )  # fmt: skip
        self.spring = self._row("Against a spring", quantity_for("drive.load_n_m"), "load_n_m")
        self.pressure = self._row("Against a pressure", quantity_for("drive.pressure_pa"), "pressure_pa")
        self.area = self._row("on an area of", quantity_for("drive.area_m2"), "area_m2")
        self.line = LoadLineChart(body)
        self._what_line = self.section("Force against stroke, slow", self.spring, self.pressure, self.area, self.line)
        self.stops = MarkedChart("stopsChart", "What stops the volts", log=True, least=150, parent=body)
        self.heat = About(body, wrapped=True)
        self._what_stops = self.section("What stops it", self.stops, self.heat)
        self.mismatch = self._row("Reference off by", quantity_for("drive.mismatch"), "mismatch")
        self.bridge = Sentences("bridgeFacts", "Self-sensing bridge", body)
        self._what_bridge = self.section("Self-sensing bridge", self.mismatch, self.bridge)
        self._what_bridge.set_about("the driven patch as its own pick-up, against a reference capacitor")
        self.cautions = Sentences("driveCautions", "Cautions for driven leads", body)
        self.section("Cautions", self.cautions)

    def _row(self, label: str, field: Any, name: str) -> BoundRow:
        return self.bind(BoundRow(self.session, label, field, f"drive.{name}", parent=self.body))

    def show_group(self, group: GroupResult, *, faded: bool) -> None:
        driving = group.driving
        if self.tells():
            self._say(group)
        bad = frozenset(str(m.number) for m in driving.modes if driving.drive.amplitude_v > m.allowed_v)
        slow = frozenset({"slow"}) if driving.drive.amplitude_v > driving.field_v else frozenset()
        self.modes.show_rows(DRIVE_HEADS, drive_rows(driving), bad=bad | slow, asked=frozenset({"slow"}), faded=faded)
        project = self.session.predicted_for or self.session.shown
        self.also.show_text(also_driven(driving, served_mode(project, project.candidate(), self.session.selected_patch)))
        at = place(driving.point_m, driving.solved.beam.spec.span_m)
        self._what_modes.set_about(f"group {group.id} driven, motion of {at}; most volts: a steady sine to either side, and its limit")
        of_file = driving.drive.waveform == "table"
        for row in (self.frequency, self.amplitude, self.bias):
            row.setVisible(not of_file or row is not self.frequency)
        self.file.setVisible(of_file)
        self._show_wave(driving, faded)
        self._show_line(driving, faded)
        self._show_stops(driving, faded)
        self.heat.show_text(heat_told(driving))

    def _say(self, group: GroupResult) -> None:
        """What is told in sentences."""
        driving = group.driving
        told = beyond_told(driving)
        level: Level = "danger" if driving.drive.amplitude_v > driving.field_v else "caution"
        self.alarm.show_lines([(level, text) for text in told])
        self.alarm.setVisible(bool(told))
        if not self.waits(self.bridge):
            self.bridge.show_lines([("plain", text) for text in bridge_told(bridge(driving, group.sensing))])
        self.cautions.show_lines([("caution", text) for text in cautions(driving)])

    def _show_wave(self, driving: Driving, faded: bool) -> None:
        if self.waits(self.played):
            return
        from core.predict.use.waveform import played  # not before this use is looked at

        if driving.drive.waveform == "table" and len(driving.drive.table_s_v) < 2:
            self.played.keep_only(())
            self._what_wave.set_about("no file read yet")
            return
        shown, now, strength = played(driving), look.current(), 0.45 if faded else 1.0
        self.played.set_units("s", "m")
        self.played.set_curve("tip", shown.time_s, shown.moved_m, look.faded(now.after, strength), width=1.0, z=1)
        held = shown.volts * driving.slow_m_per_v
        self.played.set_curve("slow", shown.time_s, held, look.faded(now.before, strength), dash=(4.0, 3.0), z=2)
        self.played.fit()
        self._what_wave.set_about(f"{waveform_told(shown)}; dashed: where the volts would hold it at rest")

    def _show_line(self, driving: Driving, faded: bool) -> None:
        line = driving.load_line
        self.line.setVisible(line is not None)
        self._what_line.set_about(load_line_told(driving))
        if line is not None:
            against = (line.against_n_m, line.against_n)
            self.line.show_line(line.free_m, line.blocked_n, against, (line.stroke_m, line.force_n), faded=faded)

    def _show_stops(self, driving: Driving, faded: bool) -> None:
        if self.waits(self.stops):
            return
        limits, now, strength = driving.limits, look.current(), 0.45 if faded else 1.0
        self.stops.set_units("Hz", "V")
        self.stops.set_curve("most volts", limits.frequency_hz, limits.least_v, look.faded(now.after, strength), width=2.0)
        self.stops.set_marks(((driving.model_ends_hz, "beam model ends"),))
        if not self.session.previewing:
            self.stops.fit()
        field = words.engineering(driving.field_v, "V", 2)
        self._what_stops.set_about(f"volts of a steady sine; field {field} to either side, strain at modes, current and rate above")

    def table(self, group: GroupResult) -> list[tuple[str, ...]]:
        driving = group.driving
        facts = (*beyond_told(driving), load_line_told(driving), heat_told(driving), *bridge_told(bridge(driving, group.sensing)), *cautions(driving))
        return [DRIVE_HEADS, *drive_rows(driving), *((fact, *[""] * 5) for fact in facts)]

    @Slot()
    def _read(self) -> None:
        path, _ = QFileDialog.getOpenFileName(self, "Read a waveform", "", "Columns of seconds and volts (*.csv *.txt *.tsv);;All files (*)")
        if path:
            self.read_file(Path(path))

    def read_file(self, path: Path) -> None:
        """Take a waveform from a file; what is wrong with it is told above the results."""
        from core.predict.use.waveform import NotAWaveform, read_waveform

        try:
            table = read_waveform(path.read_text(encoding="utf-8", errors="replace"))
        except (OSError, NotAWaveform) as error:
            why = error.strerror if isinstance(error, OSError) else str(error)
            self.alarm.show_lines([("danger", f"{path.name}: {why}")])
            self.alarm.setVisible(True)
            return
        project = self.session.project
        drive = replace(project.drive, waveform="table", table_s_v=table)
        self.session.apply(f"Read the waveform {path.name}", replace(project, drive=drive))
