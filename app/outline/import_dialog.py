"""The preview before an outline is taken: what the file holds, where the beam lies on it, what will change."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QGuiApplication, QImage, QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.fields import ErrorLabel
from app.fields.pending import commit_typing
from app.jobs import NewestJob
from app.outline.form import Findings, ImportForm, Scroller
from app.outline.sheet_view import Scene, SheetView
from app.outline.state import OUTLINE, ImportState, Outcome
from app.outline.tracing import Tracing, load_picture
from core import units
from core.outline import widths
from core.outline.drawing import UNITS, OutlineDrawing, OutlineError
from core.outline.frame import Frame
from core.outline.readers import PICTURES, READERS, read_drawing
from core.outline.shape import model_outline
from core.project.model import CutOut

if TYPE_CHECKING:
    from app.session import Session

TITLE = "Import outline"
HINT = (
    "Drag the axis points, the clamp line and the tip line. They catch on corners of the drawing; "
    "Ctrl lets them move freely. The wheel zooms, dragging empty ground moves the sheet, 0 shows everything."
)


def file_filter() -> str:
    """What the file dialog offers."""
    every = " ".join(f"*{s}" for r in READERS for s in r.suffixes) + " " + " ".join(f"*{s}" for s in PICTURES)
    kinds = [f"{r.label} ({' '.join(f'*{s}' for s in r.suffixes)})" for r in READERS]
    pictures = f"Picture to trace ({' '.join(f'*{s}' for s in PICTURES)})"
    return ";;".join([f"Outlines ({every})", *kinds, pictures, "All files (*)"])


class ImportDialog(QDialog):
    """Opens on a file, or empty with buttons to choose or paste. OK is one undo step."""

    def __init__(self, session: Session, path: Path | None = None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.state: ImportState | None = None
        self.tracing: Tracing | None = None
        self.outcome = Outcome()
        self._image: QImage | None = None
        self._pasted: str | None = None
        self._kind = "drawing"
        self._folder = str(path.parent) if path else ""
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_read)
        self._job.failed.connect(self._on_unreadable)
        self.setObjectName("outline import")
        self.setWindowTitle(TITLE)
        self.resize(1180, 740)
        self._build()
        self._connect()
        if path is not None:
            self.open_path(path)
        else:
            self._show()

    # -- building ----------------------------------------------------------------------------------

    def _build(self) -> None:
        self.file_label = QLabel(self)
        self.file_label.setObjectName("outline file")
        self.file_label.setTextFormat(Qt.TextFormat.PlainText)
        self.open_button = self._button("Choose &file …", self.ask_file)
        self.paste_button = self._button("&Paste widths", self.paste)
        self.paste_button.setToolTip("Rows of x and width from the clipboard, as copied from a spreadsheet")
        self.form = ImportForm(self)
        self.findings = Findings(self)
        content = QWidget(self)
        inner = QVBoxLayout(content)
        inner.setContentsMargins(0, 0, 10, 0)
        inner.addWidget(self.form)
        inner.addWidget(self.findings)
        inner.addStretch(1)
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.file_label)
        buttons = QHBoxLayout()
        buttons.addWidget(self.open_button)
        buttons.addWidget(self.paste_button)
        column.addLayout(buttons)
        column.addWidget(Scroller(content, self), 1)
        right = QWidget(self)
        sheet = QVBoxLayout(right)
        sheet.setContentsMargins(0, 0, 0, 0)
        self.hint = QLabel(HINT, self)
        self.hint.setObjectName("outline hint")
        self.hint.setWordWrap(True)
        self.sheet = SheetView(self)
        self.busy = QProgressBar(self)
        self.busy.setRange(0, 0)
        self.busy.setTextVisible(False)
        self.busy.setFixedHeight(6)
        self.busy.hide()
        sheet.addWidget(self.hint)
        sheet.addWidget(self.busy)
        sheet.addWidget(self.sheet, 1)
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.addWidget(left)
        splitter.addWidget(right)
        splitter.setStretchFactor(1, 1)
        splitter.setChildrenCollapsible(False)
        splitter.setSizes([372, 800])
        self.trouble = ErrorLabel(self)
        self.trouble.setObjectName("outline trouble")
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, parent=self
        )
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setText("Take outline")
        layout = QVBoxLayout(self)
        layout.addWidget(splitter, 1)
        layout.addWidget(self.trouble)
        layout.addWidget(self.buttons)

    def _button(self, text: str, slot: object) -> QPushButton:
        made = QPushButton(text, self)
        made.setObjectName(f"button {text.replace('&', '')}")
        made.setAutoDefault(False)
        made.clicked.connect(slot)
        return made

    def _connect(self) -> None:
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.sheet.frame_dragged.connect(self._take_frame)
        self.sheet.clicked.connect(self._on_click)
        self.sheet.point_moved.connect(self._on_point_moved)
        self.sheet.closed_wanted.connect(self.close_tracing)
        self.sheet.undo_wanted.connect(self.take_back)
        form = self.form
        form.unit_chosen.connect(self._take_unit)
        form.role_chosen.connect(self._take_role)
        form.join_changed.connect(self._take_join)
        form.part_chosen.connect(self._take_part)
        form.mirror_switched.connect(self._take_mirror)
        form.share_chosen.connect(self._take_share)
        form.clamp_typed.connect(self._take_clamp)
        form.end_typed.connect(self._take_end)
        form.distance_typed.connect(self._take_distance)
        form.length_typed.connect(self._take_length)

    # -- opening -----------------------------------------------------------------------------------

    @Slot()
    def ask_file(self) -> None:
        """Choose a drawing or a picture."""
        dialog = QFileDialog(self, "Choose the drawing of the outline", self._folder, file_filter())
        dialog.setObjectName("outlineFileDialog")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self._on_file_selected)
        dialog.open()

    @Slot(str)
    def _on_file_selected(self, name: str) -> None:
        self.open_path(Path(name))

    def open_path(self, path: Path) -> None:
        """Read that file off the window's thread; a picture is shown at once to be traced."""
        self._folder = str(path.parent)
        self._forget()
        self.file_label.setText(path.name)
        if path.suffix.lower() in PICTURES:
            try:
                self._image = load_picture(path)
            except OutlineError as error:
                self._refuse(str(error))
                return
            self._kind, self.tracing = "picture", Tracing(path.name)
            self._show(fit=True)
            return
        self.busy.show()
        self._show_all()
        self.hint.setText(f"Reading {path.name} …")
        self._job.request(partial(_read, path))

    @Slot(int, object)
    def _on_read(self, _revision: int, drawing: object) -> None:
        self.busy.hide()
        if isinstance(drawing, OutlineDrawing):
            self._take_drawing(drawing)
        else:
            self._refuse(str(drawing))

    @Slot(int, object)
    def _on_unreadable(self, _revision: int, _error: object) -> None:
        self.busy.hide()
        self._refuse(
            "This file could not be read; it holds something unexpected. Export it again as DXF or SVG."
        )

    @Slot()
    def paste(self) -> None:
        """The table on the clipboard as an outline."""
        self.take_widths(QGuiApplication.clipboard().text())

    def take_widths(self, text: str) -> None:
        """A pasted table as an outline."""
        self._forget()
        self.file_label.setText("pasted widths")
        try:
            if not text.strip():
                raise OutlineError(
                    "The clipboard holds no text. Copy the columns x and width, then paste again."
                )
            drawing = widths.from_text(text)
        except OutlineError as error:
            self._refuse(str(error))
            return
        self._pasted = text
        self._take_drawing(drawing)

    def _take_drawing(self, drawing: OutlineDrawing) -> None:
        self._kind = drawing.kind
        self.state = ImportState(self.session.project, drawing)
        one_column = self._pasted is not None and bool(drawing.remarks)
        self.form.length_row.setVisible(one_column)
        self._show(fit=True)

    def _forget(self) -> None:
        self.state, self.tracing, self._image, self._pasted, self._kind = None, None, None, None, "drawing"
        self.form.length_row.hide()
        self.outcome = Outcome()

    def _refuse(self, words: str) -> None:
        self._forget()
        self.outcome = Outcome(error=words)
        self._show_all()

    # -- changes -----------------------------------------------------------------------------------

    def _with_state(self, method: str, *values: object, fit: bool = False) -> None:
        if self.state is not None:
            getattr(self.state, method)(*values)
            self._show(fit=fit)

    @Slot(object)
    def _take_unit(self, unit: str) -> None:
        self._with_state("set_unit", unit, fit=True)

    @Slot(object, object)
    def _take_role(self, layer: str, role: str) -> None:
        self._with_state("set_role", layer, role)

    @Slot(float)
    def _take_join(self, join_m: float) -> None:
        self._with_state("set_join", join_m)

    @Slot(object)
    def _take_part(self, part: int) -> None:
        self._with_state("set_part", part)

    @Slot(bool)
    def _take_mirror(self, on: bool) -> None:
        self._with_state("set_mirrored", on)

    @Slot(object)
    def _take_share(self, share: float) -> None:
        self._with_state("set_share", share)

    @Slot(object)
    def _take_frame(self, moved: Frame) -> None:
        self._with_state("set_frame", moved)

    @Slot(float)
    def _take_clamp(self, clamp_m: float) -> None:
        if self.state is not None and self.state.choices.frame is not None:
            self._take_frame(replace(self.state.choices.frame, clamp_m=clamp_m))

    @Slot(object)
    def _take_end(self, end_m: float | None) -> None:
        if self.state is not None and self.state.choices.frame is not None:
            self._take_frame(replace(self.state.choices.frame, end_m=end_m))

    @Slot(float)
    def _take_length(self, length_m: float) -> None:
        if self._pasted is not None:
            text = self._pasted
            unit = self.state.choices.unit if self.state else "mm"
            drawing = widths.from_text(text, unit=unit, length_m=length_m)
            self.state = ImportState(self.session.project, drawing)
            self._show(fit=True)

    # -- tracing -----------------------------------------------------------------------------------

    @Slot(float)
    def _take_distance(self, distance_m: float) -> None:
        if self.tracing is not None:
            self._trace(replace(self.tracing, distance_m=distance_m), fit=True)

    @Slot(float, float)
    def _on_click(self, x: float, y: float) -> None:
        """Set a scale point, add a corner, or choose the closed line that was clicked."""
        tracing = self.tracing
        if tracing is None:
            self._choose_at(x, y)
            return
        point = (x / tracing.m_per_px, y / tracing.m_per_px)
        if tracing.step == "scale":
            self._trace(replace(tracing, scale_points=(*tracing.scale_points, point)))
            if self.tracing is not None and len(self.tracing.scale_points) == 2:
                self.form.distance.setFocus()
        elif tracing.step == "trace":
            self._trace(replace(tracing, corners=(*tracing.corners, point)))

    def _choose_at(self, x: float, y: float) -> None:
        from shapely import Point

        if self.state is None:
            return
        inside = [i for i, area in enumerate(self.state.areas) if area.contains(Point(x, y))]
        if inside and inside[-1] != self.state.choices.part:
            self._take_part(inside[-1])

    @Slot(str, int, float, float)
    def _on_point_moved(self, kind: str, index: int, x: float, y: float) -> None:
        tracing = self.tracing
        if tracing is None:
            return
        point = (x / tracing.m_per_px, y / tracing.m_per_px)
        name = "corners" if kind == "corner" else "scale_points"
        points = list(getattr(tracing, name))
        points[index] = point
        self._trace(replace(tracing, **{name: tuple(points)}))

    @Slot()
    def close_tracing(self) -> None:
        if self.tracing is not None and len(self.tracing.corners) >= 3:
            self._trace(replace(self.tracing, closed=True))

    @Slot()
    def take_back(self) -> None:
        """The last traced point, or the closing of the outline, back."""
        tracing = self.tracing
        if tracing is None:
            return
        if tracing.closed:
            self._trace(replace(tracing, closed=False))
        elif tracing.corners:
            self._trace(replace(tracing, corners=tracing.corners[:-1]))
        else:
            self._trace(replace(tracing, scale_points=tracing.scale_points[:-1]))

    def _trace(self, tracing: Tracing, *, fit: bool = False) -> None:
        self.tracing = tracing
        old = self.state.choices if self.state is not None else None
        try:
            drawing = tracing.outline()
        except OutlineError:
            self.state = None
        else:
            self.state = ImportState(self.session.project, drawing)
            if old is not None:
                self.state.choices = replace(self.state.choices, share=old.share, mirrored=old.mirrored)
        self._show(fit=fit)

    # -- showing -----------------------------------------------------------------------------------

    def _show(self, *, fit: bool = False) -> None:
        self.outcome = self.state.outcome() if self.state is not None else Outcome()
        self._show_all(fit=fit)

    def _show_all(self, *, fit: bool = False) -> None:
        self.form.show_state(self.state, self._kind)
        has_file = self.state is not None or self.tracing is not None
        self.form.setVisible(has_file)
        self.sheet.tracing = self.tracing is not None
        self.sheet.show_scene(self._scene(), fit=fit)
        self.hint.setText(self._hint())
        if self.tracing is not None:
            self.form.distance.set_value(self.tracing.distance_m)
        self._tell()
        self.trouble.show_text(self.outcome.error)
        ok = self.outcome.after is not None
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(ok)

    def _hint(self) -> str:
        if self.tracing is not None and not (self.tracing.closed and self.tracing.has_scale):
            return self.tracing.words()
        return (
            HINT
            if self.state is not None
            else "Choose a DXF or SVG drawing, a picture to trace, or paste a table of widths."
        )

    def _tell(self) -> None:
        made, after = self.outcome.shape, self.outcome.after
        if made is None or after is None:
            self.findings.tell("", "", ())
            return
        stations = made.stations
        headline = (
            f"Width error {100 * made.error_share:.2f} % of {_mm(made.curve.widest_m)} "
            f"({1e3 * stations.error_m:.2f} mm at x = {_mm(stations.error_at_m)})"
        )
        lists = (
            ("\N{WARNING SIGN} Mind", self.outcome.remarks),
            ("\N{WARNING SIGN} To mend afterwards", self.outcome.to_mend[:5]),
            ("What will change", self.outcome.changes),
        )
        self.findings.tell(headline, _detail(made), lists)

    def _scene(self) -> Scene:
        tracing = self.tracing
        k = tracing.m_per_px if tracing is not None else 1.0
        base = Scene(
            image=self._image,
            m_per_px=k,
            points=tuple((x * k, y * k) for x, y in tracing.corners) if tracing else (),
            points_closed=bool(tracing and tracing.closed),
            scale_points=tuple((x * k, y * k) for x, y in tracing.scale_points) if tracing else (),
        )
        state = self.state
        if state is None:
            return base
        factor = UNITS[state.choices.unit][0]
        used = state.choices.layers(OUTLINE)
        shown = state.areas[state.choices.part : state.choices.part + 1] if state.areas else ()
        faint = tuple(
            np.concatenate([t.points, t.points[:1]]) * factor if t.closed else t.points * factor
            for t in state.drawing.traces
            if t.layer not in used or not shown or len(state.areas) > 1 or not t.closed
        )
        areas = tuple(
            tuple(np.asarray(ring.coords)[:, :2] for ring in (area.exterior, *area.interiors))
            for area in shown
        )
        scene = replace(base, faint=faint if tracing is None else (), areas=areas)
        frame = state.choices.frame
        if frame is None:
            return scene
        made = self.outcome.shape
        length = float(np.hypot(frame.tip[0] - frame.root[0], frame.tip[1] - frame.root[1]))
        if made is None:
            end = length if frame.end_m is None else frame.end_m
            return replace(scene, frame=frame, span_end_m=end, half_width_m=0.1 * length)
        return replace(
            scene,
            frame=frame,
            span_end_m=frame.clamp_m + made.span_m,
            half_width_m=made.curve.widest_m,
            model=frame.to_drawing(model_outline(made.stations)),
            cut_outs=tuple(frame.to_drawing(_ring(cut)) for cut in made.cut_outs),
            zones=tuple(frame.to_drawing(np.array(z.polygon_m)) for z in self.outcome.zones if z.polygon_m),
        )

    # -- ending ------------------------------------------------------------------------------------

    def accept(self) -> None:
        """Take the outline as one undo step; without one, stay open."""
        commit_typing()
        if self.outcome.after is None:
            return
        self.session.apply(TITLE, self.outcome.after)
        super().accept()

    def done(self, result: int) -> None:
        self._job.close()
        super().done(result)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter commits a field; it does not close the window."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()
            return
        super().keyPressEvent(event)


def _read(path: Path, _stop: object) -> OutlineDrawing | str:
    """The drawing, or why there is none, in words."""
    try:
        return read_drawing(path)
    except OutlineError as error:
        return str(error)


def _detail(made) -> str:
    stations = len(made.stations.x_m)
    text = f"{stations} stations over {_mm(made.span_m)}"
    if made.cut_outs:
        text += f"; {len(made.cut_outs)} hole{'s' if len(made.cut_outs) > 1 else ''} as cut-out{'s' if len(made.cut_outs) > 1 else ''}"
    if made.n_in_width:
        text += f"; {made.n_in_width} opening{'s' if made.n_in_width > 1 else ''} counted into the width"
    return text + "."


def _ring(cut: CutOut) -> np.ndarray:
    if cut.kind == "hole":
        angle = np.linspace(0, 2 * np.pi, 33)
        r = 0.5 * cut.diameter_m
        return np.column_stack([cut.x_m + r * np.cos(angle), cut.y_m + r * np.sin(angle)])
    u, v = 0.5 * cut.length_m, 0.5 * cut.width_m
    return np.array([[cut.x_m + a * u, cut.y_m + b * v] for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))])


def _mm(value_m: float) -> str:
    return f"{units.show(value_m, 'mm', 1)} mm"
