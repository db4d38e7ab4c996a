"""The open project: what is committed, what a drag shows, what is predicted for it.

The session is the single truth of the window. Views draw from it and hold no second copy;
they listen to `project_changed` (a command was done, undone or redone, or another project was
opened) and to `preview_changed` (a drag moved, or was cancelled): after either, `shown` is
what to draw. Both are emitted AFTER the prediction of what they announce has been made, so a
slot may read `prediction` at once.

When the numbers come: `apply`, `commit_preview`, undo, redo and `replace` predict before they
return. `preview` collapses: however many mouse moves arrive in one turn of the event loop,
there is one prediction and one `preview_changed`, for the newest. Dragging and releasing call
the same function on the same values, so releasing shows the identical numbers. Of a preview only those
parts of the prediction are worked out that a view asks for; of what is committed all, before it is told. What the
loads do, and so `limits`, follows a moving hand a few times a second only; where it rests it is that of the place.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, SignalInstance, Slot
from PySide6.QtGui import QUndoCommand, QUndoStack

from app.shell.concern import predicted_from, usable
from app.shell.predicting import solved, worked_out
from app.shell.strip_keeper import StripKeeper
from core.predict.remarks.problems import Problem
from core.project.model import Project

if TYPE_CHECKING:
    from core.predict.prediction import Limit, Prediction
    from core.study.placement.position import PositionStrip
    from core.study.tolerance.tolerance import ToleranceResult

REST_MS = 150
"""A hand that has not moved for so long rests."""
LIMITS_EVERY_S, LIMITS_EVERY = 1 / 15, 3
"""While a hand moves, what the loads do to the patches is worked out no more often, and in no more than one frame of so
many: it is a third of all that a frame could tell, and nobody reads numbers that fly by faster."""
STEPS_KEPT = 1000
"""Steps that can be undone; a window open for days would else keep every one, some 15 kB each."""


class _Replace(QUndoCommand):
    """Old project, new project: cannot be wrong, and knows no widget."""

    def __init__(self, title: str, session: Session, old: Project, new: Project) -> None:
        super().__init__(title)
        self._session, self._old, self._new = session, old, new

    def redo(self) -> None:
        self._session._set_committed(self._new)

    def undo(self) -> None:
        self._session._set_committed(self._old)


class Session(QObject):
    """One open project with its undo stack, its preview and its prediction."""

    project_changed = Signal()
    preview_changed = Signal()
    prediction_changed = Signal()
    hand_rests = Signal()
    """During a drag, once the hand has rested: what its frames left out may be shown."""
    problems_changed = Signal()
    selection_changed = Signal()
    strip_changed = Signal()
    strip_aged = Signal()
    path_changed = Signal()
    replaced = Signal()
    """Another project is opened: what is known of the one before concerns nobody."""
    tolerance_changed = Signal()
    said = Signal(str)
    """A short word for the status bar."""
    closing = Signal()
    """Background work that hangs on the session must end now."""

    def __init__(
        self,
        project: Project,
        path: Path | None = None,
        parent: QObject | None = None,
        *,
        file_hash: str | None = None,
    ) -> None:
        super().__init__(parent)
        self.undo_stack = QUndoStack(self)
        self.undo_stack.setUndoLimit(STEPS_KEPT)
        self._project = usable(project)
        self._preview: Project | None = None
        self._path, self._file_hash = path, file_hash
        self._selected: str | None = None
        self._selected_absorber: str | None = None
        self._prediction: Prediction | None = None
        self._predicted_for: Project | None = None
        self._problems: tuple[Problem, ...] = ()
        self._stale = False
        self._predict_seconds = 0.0
        self._limits: tuple[Limit, ...] = ()
        self._limited: Prediction | None = None
        self._limited_at, self._frames_since = 0.0, 0
        self._strips = StripKeeper(self)
        self._strips.changed.connect(self.strip_changed)
        self._strips.aged.connect(self.strip_aged)
        self._tolerance: tuple[Project | None, ToleranceResult | None] = (None, None)
        self._turn = QTimer(self, singleShot=True, interval=0)
        self._turn.timeout.connect(self._take_turn)
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._on_rest)
        self._mend_selection()
        self._recompute()
        self._strips.follow(self.shown, None if self._stale else self._selected, at_once=False)

    # ---- what there is -------------------------------------------------------------------

    @property
    def project(self) -> Project:
        """The committed project: what undo goes back to and what a save writes."""
        return self._project

    @property
    def shown(self) -> Project:
        """What to draw: the preview during a drag, otherwise the committed project."""
        return self._project if self._preview is None else self._preview

    @property
    def previewing(self) -> bool:
        return self._preview is not None

    @property
    def prediction(self) -> Prediction | None:
        """The last good prediction; `stale` tells whether it belongs to what is shown."""
        return self._prediction

    @property
    def predicted_for(self) -> Project | None:
        """The project `prediction` was made for."""
        return self._predicted_for

    @property
    def stale(self) -> bool:
        """True while what is shown has problems: `prediction` is then an earlier one."""
        return self._stale

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit of the prediction, worst first; while a hand moves those of a moment ago, see `tells_loads`."""
        return self._limits

    @property
    def tells_loads(self) -> bool:
        """Whether what the loads do (limits, volts at the leads, strokes) may be asked of `prediction`: not in every
        frame of a drag. Views leave what they show of it alone in the others."""
        return self._limited is not None and self._limited is self._prediction

    @property
    def problems(self) -> tuple[Problem, ...]:
        return self._problems

    @property
    def predict_seconds(self) -> float:
        """How long the last prediction took."""
        return self._predict_seconds

    @property
    def selected_patch(self) -> str | None:
        return self._selected

    @property
    def selected_absorber(self) -> str | None:
        """The tuned mass picked after any patch: what keys move. None otherwise."""
        return self._selected_absorber

    @property
    def strip(self) -> PositionStrip | None:
        """Damping against position for the selected patch; None until the first is computed."""
        return self._strips.strip

    @property
    def strip_is_old(self) -> bool:
        """Whether the strip held is of a layout of before: the one of now is in work."""
        return self._strips.is_old

    @property
    def strip_is_late(self) -> bool:
        """Whether it has been so for long enough to be shown as such."""
        return self._strips.is_late

    @property
    def strip_wanted(self) -> bool:
        """Whether damping against position is computed at all."""
        return self._strips.wanted

    @property
    def tolerance(self) -> ToleranceResult | None:
        """The last tolerance study, while it belongs to what is shown; its bands go with the prediction."""
        project, result = self._tolerance
        now = self._predicted_for
        if project is None or now is None or self._stale:
            return None
        return result if project is now or predicted_from(project) == predicted_from(now) else None

    def set_tolerance(self, project: Project, result: ToleranceResult) -> None:
        """Keep a study of `project` to show with its prediction."""
        self._tolerance = (project, result)
        self.tolerance_changed.emit()

    @property
    def path(self) -> Path | None:
        """Where the project is saved, None before its first save."""
        return self._path

    @property
    def file_hash(self) -> str | None:
        """Hash of that file's content as it was last read or written here; None where there was none."""
        return self._file_hash

    # ---- changing it ---------------------------------------------------------------------

    def apply(self, title: str, project: Project) -> None:
        """Make `project` the committed one with one undo step named `title`; nothing if equal."""
        had_preview, self._preview = self._preview is not None, None
        if project != self._project:
            self.undo_stack.push(_Replace(title, self, self._project, project))
        elif had_preview:
            self._after_change(self.preview_changed)

    def preview(self, project: Project) -> None:
        """Show `project` without an undo step; predicted once in the next turn of the event loop."""
        self._preview = project
        if not self._turn.isActive():
            self._turn.start()

    def commit_preview(self, title: str) -> None:
        """Make what is previewed the committed project, as one undo step."""
        if self._preview is not None:
            self.apply(title, self._preview)

    def cancel_preview(self) -> None:
        """Go back to the committed project."""
        if self._preview is not None:
            self._preview = None
            self._after_change(self.preview_changed)

    def select_patch(self, patch_id: str | None) -> None:
        other = patch_id != self._selected
        if other or self._selected_absorber is not None:
            self._selected, self._selected_absorber = patch_id, None
            self.selection_changed.emit()
        if other:
            self._follow_strip()

    def select_absorber(self, absorber_id: str | None) -> None:
        """Pick a tuned mass; the patch stays the one whose circuit and strip are shown."""
        if absorber_id != self._selected_absorber:
            self._selected_absorber = absorber_id
            self.selection_changed.emit()

    def replace(
        self, project: Project, path: Path | None, *, unsaved: bool = False, file_hash: str | None = None
    ) -> None:
        """Open another project: the undo stack is emptied. `unsaved` marks it edited from the start."""
        self._preview = None
        self._strips.forget()
        self.undo_stack.clear()
        if unsaved:
            self.undo_stack.resetClean()
        self._path, self._file_hash = path, file_hash
        self._selected = None
        self._prediction, self._predicted_for = None, None
        self._take_limits(None)
        self.replaced.emit()
        self._set_committed(usable(project))
        self.path_changed.emit()
        self.strip_changed.emit()

    def mark_saved(self, path: Path, file_hash: str, project: Project) -> None:
        """`project` is now the content of `path`; it is edited where the committed one has gone on since."""
        self._path, self._file_hash = path, file_hash
        if project == self._project:
            self.undo_stack.setClean()
        else:
            self.undo_stack.resetClean()
        self.path_changed.emit()

    def want_strip(self, wanted: bool) -> None:
        """Whether to compute damping against position at all (a view may be switched off)."""
        self._strips.want(wanted)
        if wanted:
            self._follow_strip()

    def see_strip(self, seen: bool) -> None:
        """Whether the page is in sight that shows damping against position; hidden it is worked out when it comes back."""
        self._strips.see(seen)

    def need_strip(self) -> None:
        """Damping against position is wanted although it is out of sight."""
        self._strips.need()

    def close(self) -> None:
        """End background work and timers; nothing is told any more, also not while Qt tears down."""
        self.closing.emit()
        self.undo_stack.blockSignals(True)
        self.blockSignals(True)
        self._turn.stop()
        self._rest.stop()
        self._strips.close()

    # ---- prediction ----------------------------------------------------------------------

    def _set_committed(self, project: Project) -> None:
        self._project, self._preview = project, None
        self._after_change(self.project_changed)

    @Slot()
    def _take_turn(self) -> None:
        if self._preview is not None:
            self._after_change(self.preview_changed)

    @Slot()
    def _on_rest(self) -> None:
        if self.previewing:
            if self._prediction is not None and not self.tells_loads:
                prediction, trouble = worked_out(self._prediction, whole=False)
                self._problems += trouble
                self._take_limits(prediction)
            self.hand_rests.emit()

    def _after_change(self, what: SignalInstance) -> None:
        self._turn.stop()
        selected = self._selected
        self._mend_selection()
        problems = self._problems
        self._recompute()
        if self._selected != selected:
            self.selection_changed.emit()
        what.emit()
        if problems != self._problems:
            self.problems_changed.emit()
        self.prediction_changed.emit()
        if self.previewing:
            self._rest.start()
        else:
            self._rest.stop()
        self._follow_strip()

    def _recompute(self) -> None:
        """Predict for what is shown, or keep the last good prediction and say why."""
        shown, start = self.shown, time.perf_counter()
        is_new = shown is not self._predicted_for or self._stale
        prediction: Prediction | None = self._prediction
        if is_new:
            prediction, self._problems = solved(shown, shown.active)
        self._frames_since += 1
        with_limits = not self.previewing or (start - self._limited_at >= LIMITS_EVERY_S and self._frames_since >= LIMITS_EVERY)
        if prediction is not None:
            prediction, trouble = worked_out(prediction, whole=not self.previewing, with_limits=with_limits)
            self._problems += trouble
        self._stale = prediction is None
        if prediction is not None:
            taken = time.perf_counter() - start
            self._predict_seconds = taken if is_new else self._predict_seconds + taken
            self._prediction, self._predicted_for = prediction, shown
            if with_limits:
                self._take_limits(prediction)
                # the first frame of a drag tells them whenever it comes
                self._limited_at, self._frames_since = (start, 0) if self.previewing else (0.0, LIMITS_EVERY)

    def _take_limits(self, prediction: Prediction | None) -> None:
        self._limited, self._limits = prediction, () if prediction is None else prediction.limits

    def predict_candidate(self, candidate_id: str) -> tuple[Prediction | None, str]:
        """The prediction of any candidate of the committed project, or None and why not, in words."""
        if candidate_id == self._project.active and self._predicted_for is self._project and not self._stale:
            return self._prediction, ""
        prediction, problems = solved(self._project, candidate_id)
        if prediction is not None:
            prediction, problems = worked_out(prediction, whole=True)
        return prediction, "" if prediction is not None else " ".join(p.message for p in problems)

    def _mend_selection(self) -> None:
        """Keep the selected patch if it is still there, else take the first of the candidate."""
        ids = [patch.id for patch in self.shown.candidate().patches]
        if self._selected not in ids:
            self._selected = ids[0] if ids else None
        if self._selected_absorber not in [one.id for one in self.shown.candidate().absorbers]:
            self._selected_absorber = None

    def _follow_strip(self) -> None:
        """Damping against position goes with a command at once, with a drag in turn with its frames, or when the hand rests."""
        self._strips.follow(self.shown, None if self._stale else self._selected, at_once=not self.previewing)
