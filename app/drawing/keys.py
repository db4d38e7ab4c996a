"""The keyboard on the drawing: nudge, next patch, delete."""

from __future__ import annotations

from PySide6.QtCore import Qt

from app.drawing import edits
from app.drawing.gestures import Nudge, NudgeAbsorber
from app.shell.session import Session
from core.project import edit
from core.project.absorber_edits import find_absorber, without_absorber
from core.project.patch import Patch

STEP_M = 1e-3
COARSE_M = 1e-2
FINE_M = 1e-4

_DIRECTIONS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}


class Keys:
    """Turns arrow keys into one nudge per press-and-hold, and the rest into single commands."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._nudge: Nudge | NudgeAbsorber | None = None
        self._held: set[int] = set()

    def press(self, key: int, modifiers: Qt.KeyboardModifier) -> bool:
        """True when the key meant something here."""
        direction = _DIRECTIONS.get(Qt.Key(key))
        if direction is None:
            return False
        if self._nudge is None:
            self._nudge = self._begin()
            if self._nudge is None:
                return False
        self._held.add(key)
        along, across = direction
        step = _step(modifiers)
        self._nudge.step(along * step, across * step)
        return True

    def _begin(self) -> Nudge | NudgeAbsorber | None:
        """The nudge of what was picked last."""
        session = self._session
        absorber, patch = session.selected_absorber, session.selected_patch
        if absorber is not None and find_absorber(session.project.candidate(), absorber) is not None:
            return NudgeAbsorber(session, absorber)
        if patch is None or edits.find_patch(session.project, patch) is None:
            return None
        return Nudge(session, patch)

    def release(self, key: int) -> bool:
        """Commit when the last held arrow is let go (call it for real releases, not for repeats)."""
        if key not in self._held:
            return False
        self._held.discard(key)
        if not self._held:
            self.finish()
        return True

    def finish(self) -> None:
        """Commit what was nudged so far."""
        nudge, self._nudge = self._nudge, None
        self._held.clear()
        if nudge is not None:
            nudge.commit()

    def cancel(self) -> bool:
        """Take the nudge back; True when there was one."""
        nudge, self._nudge = self._nudge, None
        self._held.clear()
        if nudge is not None:
            nudge.cancel()
        return nudge is not None

    def drop(self) -> None:
        """Forget the nudge: the project was changed meanwhile."""
        self._nudge = None
        self._held.clear()

    def select_next(self, by: int) -> bool:
        """Select the next patch in order along the span; False past the last (the focus then moves on)."""
        patches = sorted(self._session.shown.candidate().patches, key=_start_of)
        ids = [patch.id for patch in patches]
        if self._session.selected_patch not in ids:
            return False
        index = ids.index(self._session.selected_patch) + by
        if not 0 <= index < len(ids):
            return False
        self.finish()
        self._session.select_patch(ids[index])
        return True

    def delete(self, keep_out: int | None) -> None:
        """Remove the keep-out with that number, or else the tuned mass or patch picked last."""
        self.finish()
        session = self._session
        zones = session.project.structure.keep_outs
        if keep_out is not None and keep_out < len(zones):
            session.apply(f"Delete {zones[keep_out].name}", edits.remove_keep_out(session.project, keep_out))
        elif session.selected_absorber is not None:
            absorber_id = session.selected_absorber
            project = without_absorber(session.project, session.project.active, absorber_id)
            session.apply(f"Delete tuned mass {absorber_id}", project)
        elif session.selected_patch is not None:
            patch_id = session.selected_patch
            project = edit.without_patch(session.project, session.project.active, patch_id)
            session.apply(f"Delete patch {patch_id}", project)


def _start_of(patch: Patch) -> float:
    return patch.x_start_m


def _step(modifiers: Qt.KeyboardModifier) -> float:
    if modifiers & Qt.KeyboardModifier.ShiftModifier:
        return COARSE_M
    return FINE_M if modifiers & Qt.KeyboardModifier.AltModifier else STEP_M
