"""The show: the ring-down of the active load before and after, played slowly as a moving side view and as sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent, QPixmap, QShowEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from app.fields.link import Link
from app.fields.plain import PlainLabel
from app.handover.sheet_files import write_bytes
from app.results.answer_lines import circuit_text
from app.results.clipboard import copy_table
from app.shell.away_page import AwayPage
from app.shell.settings import Settings
from app.show.clock import ShowClock
from app.show.controls import Controls
from app.show.player import Player, make_player
from app.show.stage import Scene, Stage
from app.show.trace import Trace
from app.theme import look
from core.handover.drawing.items import SheetError
from core.handover.show.animation import Plate, animation
from core.handover.show.captions import Caption, caption, heard_words, settles, slow_words
from core.handover.show.programme import SLOW, Order, Programme, programme
from core.handover.show.sound import heard, wave_file
from core.predict.parts import Parts
from core.predict.swing import Swing, swing
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.prediction import Prediction

SOUND_HZ = 24_000
"""Of what is played beside the picture: no ring-down that is put up reaches half of it."""
NOTHING = "Nothing rings down: the layout cannot be predicted yet."


class ShowPage(AwayPage):
    """Follows the session while it is seen."""

    said = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("showPage")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._session = session
        self._shown_for: Prediction | None = None
        self._swing: Swing | None = None
        self._order: Order = "in turn"
        self._slow: float | None = None
        self.programme: Programme | None = None
        self.player: Player | None = None
        self._no_sound = ""
        self._loudness = 0.6
        self.clock = ShowClock(self)
        self.title, self.about = PlainLabel("", self), PlainLabel("", self)
        self.title.setObjectName("showTitle")
        self.title.setFont(look.font(16, bold=True))
        self.about.setWordWrap(True)
        self.back = Link("Esc  back to the drawing", self)
        self.back.setObjectName("showBack")
        self.before = Stage("showBefore", after=False, parent=self)
        self.after = Stage("showAfter", after=True, parent=self)
        self.trace_about = PlainLabel("", self)
        self.trace = Trace(self)
        self.controls = Controls(self)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.back)
        stages = QHBoxLayout()
        stages.setSpacing(14)
        stages.addWidget(self.before)
        stages.addWidget(self.after)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 12, 22, 12)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.about)
        column.addLayout(stages, 5)
        column.addWidget(self.trace_about)
        column.addWidget(self.trace, 3)
        column.addWidget(self.controls)

    def _connect(self) -> None:
        self.back.clicked.connect(self._back)
        self.clock.moved.connect(self._on_moved)
        self.clock.started.connect(self._on_started)
        self.clock.stopped.connect(self._on_stopped)
        self.trace.wanted.connect(self._go_to)
        self.controls.play_wanted.connect(self.clock.toggle)
        self.controls.slow_wanted.connect(self.set_slow)
        self.controls.sound_wanted.connect(self._on_sound)
        self.controls.loudness_wanted.connect(self._on_loudness)
        self.controls.order_wanted.connect(self.set_order)
        self.controls.wave_wanted.connect(self.ask_for_wave)
        self.controls.animation_wanted.connect(self.ask_for_animation)
        self._session.prediction_changed.connect(self._on_prediction)
        self._session.closing.connect(self.clock.stop)

    # ---- what is shown -----------------------------------------------------------------------

    @Slot()
    def _on_prediction(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Show the prediction of now."""
        found = self._session.prediction
        if found is self._shown_for and found is not None:
            return
        self._shown_for = found
        self._swing, why = _swing_of(found)
        if found is None or self._swing is None:
            self.title.setText("Ring-down")
            self.about.setText(why)
            for stage in (self.before, self.after):
                stage.show_scene(None)
            self._set_programme()
            return
        ring, plates = self._swing.ring, _plates(found)
        clamped = self._session.shown.structure.root.kind in ("clamped", "elastic")
        mode = min(found.modes, key=lambda m: abs(m.f_short_hz - self._f_hz), default=None)
        damped = ("", "") if mode is None else (
            f" · {words.damping(mode.zeta_before)} of critical", f" · {words.damping(mode.zeta)} of critical")  # fmt: skip
        self.before.show_scene(Scene(
            self._swing, self._swing.before, plates if "bare" not in found.before_label else (), "Before",
            found.before_label + damped[0], ring.settle_before_s, clamped))  # fmt: skip
        self.after.show_scene(Scene(
            self._swing, self._swing.after, plates, "After", circuit_text(found) + damped[1], ring.settle_after_s, clamped))  # fmt: skip
        self._set_programme()
        told = self._caption(found, self._swing)
        self.title.setText(told.title)
        self.about.setText(told.about)
        self.trace_about.setText(
            f"Output over time: thin before, thick after; after {settles(ring.settle_to, ring.settle_after_s)}. Drag the time: what is drawn above is this moment."
        )

    @property
    def _f_hz(self) -> float:
        return 0.0 if self._swing is None else self._swing.f_hz

    def _caption(self, found: Prediction, moved: Swing) -> Caption:
        service = self._session.shown.service
        return caption(
            moved, found.candidate, circuit_text(found), found.before_label, service.reference_c, self.after.drawn_times
        )

    def _set_programme(self) -> None:
        if self._swing is None:
            self.programme = None
        else:
            self.programme = programme(self._swing, self._order, self._slow)
        self.clock.set_programme(self.programme)
        self.trace.show_programme(self.programme)
        self.controls.set_possible(self.programme is not None)
        if self.programme is not None:
            self.controls.show_slow(self.programme.slow, slow_words(self.programme))
        self._tell_sound()

    def _tell_sound(self) -> None:
        told = self._no_sound
        if self._swing is not None and not told:
            told = f"{heard_words(self._swing)}; the decay follows the picture, the WAV keeps true pitch and time"
        self.controls.show_sound(told, possible=not self._no_sound and self._swing is not None)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.player is None and not self._no_sound:
            self.player, self._no_sound = make_player()
        self.refresh()
        QTimer.singleShot(0, self, self._tell_size)

    @Slot()
    def _tell_size(self) -> None:
        """How large the motion is drawn is known once the page is laid out."""
        if self._shown_for is not None and self._swing is not None:
            self.about.setText(self._caption(self._shown_for, self._swing).about)

    def hideEvent(self, event: QHideEvent) -> None:
        self.clock.stop()
        super().hideEvent(event)

    # ---- playing -----------------------------------------------------------------------------

    @Slot(float)
    def set_slow(self, slow: float) -> None:
        """Another slow-down, from the same moment on."""
        self._slow = slow
        self._set_programme()

    @Slot(str)
    def set_order(self, order: Order) -> None:
        """One after the other, or both at once."""
        self._order = order
        self._set_programme()

    @Slot()
    def _on_moved(self) -> None:
        if self.programme is None:
            return
        before, after = self.programme.times(self.clock.at_s)
        self.before.at(before)
        self.after.at(after)
        self.trace.at(after if before is None else before)

    @Slot(float)
    def _go_to(self, time_s: float) -> None:
        """A time since let go, of the one that is played now."""
        if self.programme is not None:
            before, _ = self.programme.times(self.clock.at_s)
            self.clock.go_to(time_s + (self.programme.length_s if before is None else 0.0))

    @Slot()
    def _on_started(self) -> None:
        self.controls.show_playing(True)
        if self.player is None or self.programme is None or not self.controls.sound.isChecked():
            return
        sound = heard(self.programme, SOUND_HZ)
        first = int(self.clock.at_s * self.programme.slow * SOUND_HZ)
        self.player.play((sound[first:] * self._loudness).astype(np.float32), SOUND_HZ)

    @Slot()
    def _on_stopped(self) -> None:
        self.controls.show_playing(False)
        if self.player is not None:
            self.player.stop()

    @Slot(bool)
    def _on_sound(self, _on: bool) -> None:
        self._start_again()

    @Slot(float)
    def _on_loudness(self, loudness: float) -> None:
        self._loudness = loudness
        if self.controls.sound.isChecked():
            self._start_again()

    def _start_again(self) -> None:
        if self.clock.playing:
            self.clock.stop()
            self.clock.play()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        swing_s = 1.0 / self._f_hz if self._f_hz > 0.0 else 0.0
        if key == Qt.Key.Key_Space:
            self.clock.toggle()
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.clock.go_to(self.clock.at_s + (swing_s if key == Qt.Key.Key_Right else -swing_s))
        elif Qt.Key.Key_1 <= key < Qt.Key.Key_1 + len(SLOW) and self.programme is not None:
            self.set_slow(float(SLOW[key - Qt.Key.Key_1]))
        elif key == Qt.Key.Key_M and self.controls.sound.isEnabled():
            self.controls.sound.toggle()
        else:
            super().keyPressEvent(event)

    # ---- taking along ------------------------------------------------------------------------

    @Slot()
    def ask_for_wave(self) -> None:
        self._ask("Sound of the ring-down", "wav", "Sound (*.wav)", self.write_wave)

    @Slot()
    def ask_for_animation(self) -> None:
        self._ask("Animation of the ring-down", "html", "Page for a browser (*.html)", self.write_animation)

    def _ask(self, title: str, suffix: str, kind: str, write: object) -> None:
        dialog = QFileDialog(self, title, str(Settings().sheet_folder / f"ring-down.{suffix}"))
        dialog.setObjectName(f"export-{suffix}")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(suffix)
        dialog.setNameFilters([kind])
        dialog.fileSelected.connect(write)
        dialog.open()

    @Slot(str)
    def write_wave(self, name: str) -> None:
        if self.programme is not None:
            self._write(name, wave_file(self.programme))

    @Slot(str)
    def write_animation(self, name: str) -> None:
        found = self._shown_for
        if self.programme is not None and self._swing is not None and found is not None:
            told = self._caption(found, self._swing)
            self._write(name, animation(self.programme, _plates(found), told).encode("utf-8"))

    def _write(self, name: str, content: bytes) -> None:
        try:
            written = write_bytes(Path(name), content)
        except SheetError as error:
            self.said.emit(str(error))
            return
        self.said.emit(f"{written.name} written")

    def picture(self) -> QPixmap:
        """For the clipboard."""
        return self.grab()

    def copy_table(self) -> None:
        """Output over time, before and after."""
        found = self._shown_for
        if found is None:
            return
        ring = found.ring_down
        rows = [[words.plain(t), words.plain(a), words.plain(b)] for t, a, b in zip(ring.time_s.tolist(), ring.before.tolist(), ring.after.tolist(), strict=True)]
        copy_table([["time, s", f"before, {ring.unit}", f"after, {ring.unit}"], *rows])


def _swing_of(found: Prediction | None) -> tuple[Swing | None, str]:
    if not isinstance(found, Parts):
        return None, NOTHING
    try:
        return swing(found.solved, found.ring_down), ""
    except ValueError as error:
        return None, str(error)


def _plates(found: Prediction) -> tuple[Plate, ...]:
    return tuple(Plate(p.x_a_m, p.x_b_m, p.on_top) for p in found.solved.beam.plates) if isinstance(found, Parts) else ()
