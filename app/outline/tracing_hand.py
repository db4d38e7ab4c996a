"""The hand that traces a picture: clicks and drags on the sheet to a `Tracing`."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtGui import QImage

from app.outline.tracing import Tracing


class TracingHand(QObject):
    """The picture being traced, if any. `changed` tells whether all should be brought into view."""

    changed = Signal(bool)
    distance_wanted = Signal()
    """Both points of the scale are set: their distance is to be typed."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.tracing: Tracing | None = None
        self.image: QImage | None = None

    def begin(self, name: str, image: QImage) -> None:
        """Begin on a picture."""
        self.image = image
        self._set(Tracing(name), fit=True)

    def forget(self) -> None:
        self.tracing, self.image = None, None

    def click(self, x: float, y: float) -> None:
        """Set a point of the scale, or add a corner, at a place of the sheet in metres."""
        tracing = self.tracing
        if tracing is None:
            return
        point = (x / tracing.m_per_px, y / tracing.m_per_px)
        if tracing.step == "scale":
            points = (*tracing.scale_points, point)
            self._set(replace(tracing, scale_points=points))
            if len(points) == 2:
                self.distance_wanted.emit()
        elif tracing.step == "trace":
            self._set(replace(tracing, corners=(*tracing.corners, point)))

    @Slot(str, int, float, float)
    def move_point(self, kind: str, index: int, x: float, y: float) -> None:
        """A corner or a point of the scale to another place."""
        tracing = self.tracing
        if tracing is None:
            return
        points = list(tracing.corners if kind == "corner" else tracing.scale_points)
        points[index] = (x / tracing.m_per_px, y / tracing.m_per_px)
        if kind == "corner":
            self._set(replace(tracing, corners=tuple(points)))
        else:
            self._set(replace(tracing, scale_points=tuple(points)))

    @Slot(float)
    def set_distance(self, distance_m: float) -> None:
        if self.tracing is not None:
            self._set(replace(self.tracing, distance_m=distance_m), fit=True)

    @Slot()
    def close(self) -> None:
        """Close the outline once it has three corners."""
        if self.tracing is not None and len(self.tracing.corners) >= 3:
            self._set(replace(self.tracing, closed=True))

    @Slot()
    def take_back(self) -> None:
        """The last traced point, or the closing of the outline, back."""
        tracing = self.tracing
        if tracing is None:
            return
        if tracing.closed:
            self._set(replace(tracing, closed=False))
        elif tracing.corners:
            self._set(replace(tracing, corners=tracing.corners[:-1]))
        else:
            self._set(replace(tracing, scale_points=tracing.scale_points[:-1]))

    def _set(self, tracing: Tracing, *, fit: bool = False) -> None:
        self.tracing = tracing
        self.changed.emit(fit)
