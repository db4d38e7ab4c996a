"""The one clock of the show: picture, trace and sound all follow it."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QObject, Qt, QTimer, Signal, Slot

from core.handover.show.programme import Programme

FRAME_MS = 16


class ShowClock(QObject):
    """Place in the programme, in the part's time. `moved` at each picture, `ended` when it came to its end."""

    moved = Signal()
    started = Signal()
    stopped = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._programme: Programme | None = None
        self._at_s = 0.0
        self._from_s = 0.0
        self._since = QElapsedTimer()
        self._tick = QTimer(self, interval=FRAME_MS, timerType=Qt.TimerType.PreciseTimer)
        self._tick.timeout.connect(self._on_tick)

    @property
    def at_s(self) -> float:
        return self._at_s

    @property
    def playing(self) -> bool:
        return self._tick.isActive()

    def set_programme(self, programme: Programme | None) -> None:
        """Another programme; it starts where the old one stood, as far as it goes."""
        playing = self.playing
        self.stop()
        self._programme = programme
        self.go_to(self._at_s)
        if playing:
            self.play()

    @Slot()
    def toggle(self) -> None:
        if self.playing:
            self.stop()
        else:
            self.play()

    @Slot()
    def play(self) -> None:
        """Go on from here; from the beginning where it had come to its end."""
        if self._programme is None:
            return
        if self._at_s >= self._programme.whole_s:
            self._at_s = 0.0
        self._from_s = self._at_s
        self._since.start()
        self._tick.start()
        self.started.emit()

    @Slot()
    def stop(self) -> None:
        if self.playing:
            self._tick.stop()
            self.stopped.emit()

    def go_to(self, at_s: float) -> None:
        """Another place in the programme, playing or not."""
        whole = 0.0 if self._programme is None else self._programme.whole_s
        playing = self.playing
        self.stop()
        self._at_s = min(max(at_s, 0.0), whole)
        self.moved.emit()
        if playing and self._at_s < whole:
            self.play()

    @Slot()
    def _on_tick(self) -> None:
        if self._programme is None:
            return
        self._at_s = self._from_s + self._since.nsecsElapsed() * 1e-9 / self._programme.slow
        if self._at_s >= self._programme.whole_s:
            self._at_s = self._programme.whole_s
            self.stop()
        self.moved.emit()
