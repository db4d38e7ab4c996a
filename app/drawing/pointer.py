"""The mouse on the drawing: finds what is under it and runs one gesture at a time."""

from __future__ import annotations

from math import floor, log10

from PySide6.QtCore import QPointF, Qt

from app.drawing.gestures import (
    DrawKeepOut,
    Gesture,
    Hand,
    MoveAbsorber,
    MoveKeepOut,
    MovePatch,
    ResizeKeepOut,
    ResizePatch,
)
from app.drawing.hits import Hit, find_hit
from app.drawing.plan import y_scale
from app.drawing.side import z_scale
from app.drawing.snapping import FREE, Feature, Snapper, snapper
from app.drawing.surface import Surface
from app.shell.session import Session
from core.project.record import Face

START_PX = 3.0
"""A press that moves less than this is a click."""
COARSEST_STEP_M = 1e-4


class Pointer:
    """Turns presses, moves and releases at a point of the surface into gestures on the session."""

    def __init__(self, session: Session, surface: Surface) -> None:
        self._session = session
        self._surface = surface
        self._gesture: Gesture | None = None
        self._snapper: Snapper = FREE
        self._pressed: tuple[QPointF, Hit | None] | None = None
        self.tool = "select"
        self.face: Face = "top"

    @property
    def busy(self) -> bool:
        return self._gesture is not None

    @property
    def snapped(self) -> Feature | None:
        return self._gesture.snapped if self._gesture else None

    def hit(self, point: QPointF) -> Hit | None:
        return find_hit(self._surface.view, self._surface.page(), point)

    def press(self, point: QPointF) -> None:
        """Select what is there and be ready to drag it."""
        hit = None if self.tool == "keep-out" else self.hit(point)
        self._pressed = (point, hit)
        self._surface.marked_keep_out = hit.keep_out if hit and hit.kind == "keep-out" else None
        if hit is not None and hit.kind == "patch":
            self._session.select_patch(hit.patch)
        elif hit is not None and hit.kind == "tuned mass":
            self._session.select_absorber(hit.absorber)

    def move(self, point: QPointF, *, snap: bool, across: bool = False) -> None:
        """Begin the gesture once the hand has really moved, then follow it (`across`: a patch in y too)."""
        if self._pressed is None:
            return
        if self._gesture is None:
            start, hit = self._pressed
            if (point - start).manhattanLength() < START_PX:
                return
            self._gesture = self._begin(start, hit)
            if self._gesture is None:
                self._pressed = None
                return
        self._gesture.move(self._hand(point, snap=snap, across=across))

    def release(self) -> bool:
        """Commit; True when there was a gesture."""
        gesture, self._gesture, self._pressed = self._gesture, None, None
        if gesture is not None:
            gesture.commit()
        return gesture is not None

    def cancel(self) -> bool:
        """Go back to how it was; True when there was a gesture."""
        gesture, self._gesture, self._pressed = self._gesture, None, None
        if gesture is not None:
            gesture.cancel()
        return gesture is not None

    def drop(self) -> None:
        """Forget the gesture: the project was changed under the hand (an undo during a drag)."""
        self._gesture = self._pressed = None

    def cursor(self, point: QPointF) -> Qt.CursorShape:
        """The cursor that tells what dragging would do here."""
        if self.tool == "keep-out":
            return Qt.CursorShape.CrossCursor
        hit = self.hit(point)
        if hit is None:
            return Qt.CursorShape.ArrowCursor
        return Qt.CursorShape.OpenHandCursor if hit.part == "body" else Qt.CursorShape.SizeHorCursor

    def _begin(self, start: QPointF, hit: Hit | None) -> Gesture | None:
        """The gesture for what was pressed, None on empty ground."""
        hand = self._hand(start, snap=False)
        session = self._session
        if self.tool == "keep-out":
            face, half = self._drawn_on(start)
            self._snapper = self._snapper_for((face,))
            return DrawKeepOut(session, hand, face, half)
        if hit is None:
            return None
        if hit.kind == "patch":
            patch = next(p for p in self._surface.view.patches if p.id == hit.patch)
            self._snapper = self._snapper_for(patch.faces)
            if hit.part == "body":
                return MovePatch(session, hand, hit.patch)
            return ResizePatch(session, hand, hit.patch, root_side=hit.part == "root end")
        if hit.kind == "tuned mass":
            self._snapper = self._snapper_for(("top",))
            return MoveAbsorber(session, hand, hit.absorber)
        zone = session.project.structure.keep_outs[hit.keep_out]
        faces = ("top", "underside") if zone.face == "both" else (zone.face,)
        self._snapper = self._snapper_for(faces, hit.keep_out)
        if hit.part == "body":
            return MoveKeepOut(session, hand, hit.keep_out)
        return ResizeKeepOut(session, hand, hit.keep_out, root_side=hit.part == "root end")

    def _snapper_for(self, faces: tuple[str, ...], skip_zone: int | None = None) -> Snapper:
        per_px = 1.0 / self._surface.page().scale.px_per_m
        return snapper(self._session.project.structure, faces, per_px, skip_zone)

    def _drawn_on(self, point: QPointF) -> tuple[Face, float | None]:
        """Face a keep-out begun at `point` lies on, and half the plan width there (None in the side view)."""
        view, page = self._surface.view, self._surface.page()
        if page.side.contains(point):
            zs = z_scale(page.side, view.structure, view.patches, page.scale)
            middle = 0.5 * float(view.structure.top_at(page.scale.x(point.x())))
            return ("top" if zs.z(point.y()) >= middle else "underside"), None
        return self.face, float(view.structure.half_width_at(page.scale.x(point.x())))

    def _hand(self, point: QPointF, *, snap: bool, across: bool = False) -> Hand:
        view, page = self._surface.view, self._surface.page()
        ys = y_scale(page.plan, view.structure.widest_m, page.scale)
        finest = 10.0 ** floor(log10(1.0 / page.scale.px_per_m))
        return Hand(
            page.scale.x(point.x()),
            ys.y(point.y()),
            self._snapper if snap else FREE,
            min(finest, COARSEST_STEP_M),
            across and self._pressed is not None and page.plan.adjusted(0, -8, 0, 8).contains(self._pressed[0]),
        )
