"""The allowed misplacement of the selected patch, offered as the tolerance on the placement diagram."""

from __future__ import annotations

import threading
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.shell.jobs import NewestJob
from app.theme import look
from core import units
from core.project import edit
from core.project.model import Project
from core.units.words import millimetres

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.placement.room import Room
    from core.study.placement.placement_error import PlacementError, Shift


class Misplacement(QFrame):
    """Words and one button; follows the selected patch."""

    used = Signal(float)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("misplacement")
        self._session = session
        self._found: PlacementError | None = None
        self._key: object = None
        head = QLabel("Allowed misplacement", self)
        head.setFont(look.font(13, bold=True))
        self.words = PlainLabel("", self)
        self.words.setObjectName("misplacementWords")
        self.words.setWordWrap(True)
        self.use = QPushButton(self)
        self.use.setObjectName("useTolerance")
        self.use.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(5)
        layout.addWidget(head)
        layout.addWidget(self.words)
        layout.addWidget(self.use, 0, Qt.AlignmentFlag.AlignLeft)
        self.use.clicked.connect(self._on_use)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)

    @property
    def found(self) -> PlacementError | None:
        return self._found

    def refresh(self) -> None:
        """Ask for the selected patch of the committed project."""
        project, patch = self._session.project, self._session.selected_patch
        if patch is None:
            self._found, self._key = None, None
            self.words.setText("Select a patch to see how far it may be misplaced.")
            self.use.hide()
            return
        key = (project.candidate(), project.structure, project.materials, project.packages, project.view, patch)
        if key == self._key:
            self._show_button()
            return
        self._key = key
        self._job.request(partial(_work, project, patch))

    def close_jobs(self) -> None:
        self._job.close()

    @Slot(int, object)
    def _on_finished(self, _revision: int, found: PlacementError | None) -> None:
        if found is not None:
            self._found = found
            self.words.setText(sentences(found))
            self._show_button()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: object) -> None:
        self._found = None
        self.words.setText(f"The allowed misplacement could not be worked out: {error}")
        self.use.hide()

    def _show_button(self) -> None:
        if self._found is None or max(self._found.tolerances_x_m) <= 0.0:
            self.use.hide()
            return
        value = self._found.tolerances_x_m
        same = self._session.project.sheet.tolerances_x_m == value
        text = "The placement diagram says" if same else "Put on the placement diagram:"
        self.use.setText(f"{text} {tolerance_text(value)} along the span")
        self.use.setEnabled(not same)
        self.use.show()

    @Slot()
    def _on_use(self) -> None:
        if self._found is None:
            return
        (tip, root), project = self._found.tolerances_x_m, self._session.project
        self._session.apply(f"Placement tolerance {tolerance_text((tip, root))}", edit.with_sheet(
            project, tolerance_x_m=tip, tolerance_x_root_m=None if root == tip else root,
            tolerance_source=f"the allowed placement error of {self._found.patch} for mode {self._found.mode}",
        ))  # fmt: skip
        self._show_button()
        self.used.emit(tip)


def tolerance_text(tolerances_x_m: tuple[float, float]) -> str:
    """"±2 mm", or "5 mm towards the tip, 0 mm towards the root"."""
    tip, root = (units.show_with_unit(value, "mm") for value in tolerances_x_m)
    return f"±{tip}" if tip == root else f"{tip} towards the tip, {root} towards the root"


def sentences(found: PlacementError) -> str:
    """What is allowed in each direction, and why."""
    ways = (("the tip", found.toward_tip), ("the root", found.toward_root))
    lost = [_shift(end, shift) for end, shift in ways if shift.is_lost]
    kept = [f"towards {end}" for end, shift in ways if not shift.is_lost]
    what = f"{found.patch}, circuit as built: a twentieth of mode {found.mode}'s damping"
    text = f"{what} is lost {' or '.join(lost)}." if lost else f"{what} is not lost anywhere near."
    if lost and kept:
        text += f" {kept[0].capitalize()} it is not lost."
    if found.obstacles:
        text += f" Nearer than that: {'; '.join(found.obstacles)}."
    if max(found.tolerances_x_m) <= 0.0:
        text += " There is no room either way, so no tolerance can be offered: move it."
    return f"{text} Across and in angle only the room is told: {_around(found.room)}."


def _around(room: Room) -> str:
    """The room across and in angle with what ends it."""
    parts = [
        f"{way} {millimetres(clearance.room_m)} ({clearance.limit})"
        for way, clearance in (("left", room.left), ("right", room.right))
        if np.isfinite(clearance.room_m)
    ]
    if np.isfinite(room.angle.room_m):
        parts.append(f"±{np.rad2deg(room.angle.room_m):.1f}° ({room.angle.limit})")
    return f"there is room for {', '.join(parts)}" if parts else "nothing is near there"


def _shift(end: str, shift: Shift) -> str:
    return f"{units.show_with_unit(shift.loss_m, 'mm', significant=3)} towards {end}"


def _work(project: Project, patch: str, stop: threading.Event) -> PlacementError | None:
    from core.study.placement.placement_error import placement_error

    return None if stop.is_set() else placement_error(project, None, patch)
