"""The map with its form: worked out in the background, drawn as it comes, a click moves the patch."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.shell.concern import predicted_from
from app.studies.edits import at_cell
from app.studies.live_study import LiveStudy
from app.studies.map_form import MapForm
from app.studies.map_view import MapView
from app.studies.progress import ProgressLine
from app.studies.words import NOT_PREDICTED, band_text, cell_text, failed, map_table, mm
from app.theme import look
from core.project import edit
from core.project.model import Project
from core.study.placement.map_values import AXES, OVER, present_place

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.study.placement.map_values import MapRequest
    from core.study.placement.maps import PlacementMap

ABOUT = (
    "Framed and hatched: within 5 % of the best. Grey: not allowed. A click moves the selected patch there; arrow keys walk over "
    "the cells and Enter moves it. Circuits follow their tuning; all other patches stay."
)
CARRIED = (
    " The best cells are worked in full at the level of the project (Structure, Sections), the others carried over to it, to "
    "0.5 % of the largest value."
)
PARTIAL_S = 0.12
"""Partial maps are drawn no oftener than this."""
FORM_WIDTH = 270


class MapPage(LiveStudy):
    """One map at a time; while another is worked out the last one stays."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "mapPage", parent)
        self._asked: MapRequest | None = None
        self.form = MapForm(self)
        self.view = MapView(self)
        self.band = _sentence("mapBand", self)
        self.readout = _sentence("mapReadout", self)
        self._follow(ProgressLine("mapProgress", self))
        self.empty = _sentence("mapEmpty", self)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._lay_out()
        self._pause.timeout.connect(self.refresh)
        self.form.changed.connect(self.refresh)
        self.view.picked.connect(self.move_patch)
        self.view.pointed.connect(self._on_pointed)
        self.view.left.connect(self._on_left)
        self._partial.connect(self._on_partial)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)

    def _lay_out(self) -> None:
        side = QWidget(self)
        column = QVBoxLayout(side)
        column.setContentsMargins(14, 10, 10, 10)
        column.addWidget(self.form)
        self.about = PlainLabel(ABOUT, side)
        self.about.setObjectName("mapAbout")
        self.about.setWordWrap(True)
        self.about.setFont(look.font(11))
        self.about.setForegroundRole(side.foregroundRole())
        column.addSpacing(8)
        column.addWidget(self.about)
        column.addStretch(1)
        scroll = scroll_of(side, "mapFormScroll", self)
        scroll.setFixedWidth(FORM_WIDTH + 24)
        right = QVBoxLayout()
        right.setContentsMargins(4, 10, 14, 10)
        right.addWidget(self.band)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self.view)
        self._stack.addWidget(self.empty)
        right.addWidget(self._stack, 1)
        right.addWidget(self.readout)
        right.addWidget(self.progress)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(scroll)
        row.addLayout(right, 1)

    # ---- asking --------------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        """Ask for the map the form describes unless it is the one shown."""
        if not self.isVisible():
            return
        from core.study.placement.map_nodes import carries  # with the engine, not with the window

        session, patch_id = self._session, self._session.selected_patch
        if session.stale:
            self._show_empty(NOT_PREDICTED)
            return
        if patch_id is None:
            self._show_empty(
                "This candidate has no patch. Add one (Ctrl+Shift+N), or let \N{LEFT SINGLE QUOTATION MARK}Find the "
                "best\N{RIGHT SINGLE QUOTATION MARK} place it."
            )
            return
        project = session.project
        self.form.fit(project, patch_id)
        self.about.setText(ABOUT + (CARRIED if carries(project.structure, self.form.quantity.key()) else ""))
        self._show_present(project, patch_id)
        try:
            request = self.form.request(project, patch_id)
        except ValueError as error:
            self._show_empty(str(error))
            return
        key = (request, _fixed(project, patch_id, request.over, request.axis))
        if key == self._key:
            return
        self._key, self._asked = key, request
        self._stack.setCurrentWidget(self.view)
        self.progress.begin("Working out the map")
        self._job.request(partial(_work, project, request, self._partial.emit))

    def _show_empty(self, text: str) -> None:
        self._job.cancel()
        self._key = None
        self.empty.setText(text)
        self._stack.setCurrentWidget(self.empty)
        self.band.setText("")
        self.readout.setText("")
        self.progress.say("")

    def _show_present(self, project: Project, patch_id: str) -> None:
        patch = project.candidate().patch(patch_id)
        self.view.show_present(*present_place(project, patch, *self.form.axes()))

    # ---- what comes back -----------------------------------------------------------------

    @Slot(object)
    def _on_partial(self, found: PlacementMap) -> None:
        if found.request is self._asked and self._key is not None:
            self.view.show_map(found)
            self.progress.tell(found.done, "Working out the map")

    @Slot(int, object)
    def _on_finished(self, _revision: int, found: PlacementMap | None) -> None:
        if found is None:
            return
        self.view.show_map(found)
        self.band.setText(band_text(found))
        allowed = int((found.reason < 0).sum())
        self.progress.say(f"{allowed} of {found.values.size} layouts are allowed.")

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._show_empty(failed("The map", error))

    @Slot(int, int)
    def _on_pointed(self, i: int, j: int) -> None:
        if self.view.shown is not None:
            self.readout.setText(cell_text(self.view.shown, i, j))

    @Slot()
    def _on_left(self) -> None:
        self.readout.setText("")

    def table(self) -> list[list[str]]:
        """Starts down, sizes across, in display units; a cell that is not allowed is empty."""
        found = self.view.shown
        return [[]] if found is None else map_table(found)

    # ---- moving --------------------------------------------------------------------------

    @Slot(int, int)
    def move_patch(self, i: int, j: int) -> None:
        """The mapped patch to a cell, as one undo step; a cell that is not allowed is told instead."""
        found = self.view.shown
        if found is None or found.request.candidate != self._session.project.active:
            return
        reason = found.reason_at(i, j)
        if reason:
            self.readout.setText(f"Not moved: there it {_verb(reason)}.")
            return
        across, size = float(found.across_m[i]), float(found.size_m[j])
        request = found.request
        moved = at_cell(self._session.project, request.patch, request.axis, across, size, request.over)
        title = f"Move {request.patch} to {OVER[request.over]} {mm(across)}, {AXES[request.axis]} {mm(size)}"
        self._session.apply(title, moved)


def _verb(reason: str) -> str:
    """A reason as the end of a sentence: "lies over the keep-out ..."."""
    return f"has {reason}" if reason.startswith("static") else f"lies {reason}"


def _sentence(name: str, parent: QWidget) -> QLabel:
    label = PlainLabel("", parent)
    label.setObjectName(name)
    label.setWordWrap(True)
    label.setMinimumHeight(2 * label.fontMetrics().lineSpacing() + 4)
    label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


def _fixed(project: Project, patch_id: str, over: str, axis: str) -> object:
    """What the map depends on: everything but where the patch is on the two axes."""
    candidate = project.candidate()
    free = {"length_m" if over == "length" else "x_start_m": 0.0} | ({f"{axis}_m": 0.0} if axis != "thickness" else {"package": ""})
    patches = tuple(replace(p, **free) if p.id == patch_id else p for p in candidate.patches)
    project = edit.with_candidate(project, replace(candidate, patches=patches, name="", note=""))
    if axis == "thickness":
        own = replace(project.package(candidate.patch(patch_id).package), name="", ceramic_thickness_m=1.0)
        others = {p.package for p in candidate.patches if p.id != patch_id}
        project = replace(project, packages=(own, *(p for p in project.packages if p.name in others)))
    return patch_id, predicted_from(project)


def _work(
    project: Project, request: MapRequest, tell: Callable[[object], None], stop: threading.Event
) -> PlacementMap | None:
    from core.study.placement.maps import placement_map

    last = time.perf_counter()

    def on_partial(found: PlacementMap) -> None:
        nonlocal last
        if time.perf_counter() - last >= PARTIAL_S:
            last = time.perf_counter()
            tell(found)

    return placement_map(project, request, on_partial=on_partial, cancelled=stop.is_set)
