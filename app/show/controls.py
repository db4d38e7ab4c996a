"""The row under the show: play, how slowly, sound, what is played, and what is taken along."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QSignalBlocker, Qt, Signal, Slot
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from app.fields.plain import PlainLabel
from app.fields.wheel import CalmSlider
from app.theme import look
from core.handover.show.programme import SLOW, Order

ORDERS: tuple[tuple[Order, str], ...] = (("in turn", "before, then after"), ("together", "both at once"))


class Controls(QFrame):
    """Says what a person wants; shows what it is told."""

    play_wanted = Signal()
    slow_wanted = Signal(float)
    sound_wanted = Signal(bool)
    loudness_wanted = Signal(float)
    order_wanted = Signal(str)
    wave_wanted = Signal()
    animation_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("showControls")
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.play = QPushButton("Play", self)
        self.play.setObjectName("playShow")
        self.play.setToolTip("Space")
        self.play.setMinimumSize(96, 40)
        self.play.setFont(look.font(14, bold=True))
        self.play.clicked.connect(self.play_wanted)
        self.slow_text, self.sound_text = PlainLabel("", self), PlainLabel("", self)
        self.slow_text.setObjectName("slowText")
        self.sound_text.setObjectName("soundText")
        for label in (self.slow_text, self.sound_text):
            label.setWordWrap(True)
        self._slows = QButtonGroup(self)
        slow_row = QHBoxLayout()
        slow_row.setSpacing(4)
        for place, times in enumerate(SLOW, 1):
            button = QPushButton("real" if times == 1 else f"{times} ×", self)
            button.setObjectName(f"slow{times}")
            button.setCheckable(True)
            button.setToolTip(f"Key {place}")
            button.setMinimumWidth(44)
            self._slows.addButton(button, times)
            button.clicked.connect(partial(self._want_slow, times))
            slow_row.addWidget(button)
        slow_row.addStretch(1)
        self.sound = QCheckBox("on", self)
        self.sound.setObjectName("soundOn")
        self.sound.setToolTip("Key M")
        self.sound.toggled.connect(self.sound_wanted)
        self.loudness = CalmSlider(Qt.Orientation.Horizontal, self)
        self.loudness.setObjectName("loudness")
        self.loudness.setAccessibleName("Loudness")
        self.loudness.setRange(0, 100)
        self.loudness.setValue(60)
        self.loudness.setMinimumWidth(80)
        self.loudness.valueChanged.connect(self._on_loudness)
        sound_row = QHBoxLayout()
        sound_row.addWidget(self.sound)
        sound_row.addWidget(self.loudness, 1)
        self._orders = QButtonGroup(self)
        order_column = QVBoxLayout()
        order_column.setSpacing(2)
        for key, title in ORDERS:
            choice = QRadioButton(title, self)
            choice.setObjectName(f"order-{key.replace(' ', '-')}")
            choice.toggled.connect(partial(self._on_order, key))
            self._orders.addButton(choice)
            order_column.addWidget(choice)
            if key == "in turn":
                with QSignalBlocker(choice):
                    choice.setChecked(True)
        self.wave, self.animation = QPushButton("Sound, WAV …", self), QPushButton("Animation …", self)
        self.wave.setObjectName("exportWave")
        self.wave.setToolTip("At the part's own pitch and time: it can be measured like a record")
        self.animation.setObjectName("exportAnimation")
        self.animation.setToolTip("A page that any browser plays, without a network")
        self.wave.clicked.connect(self.wave_wanted)
        self.animation.clicked.connect(self.animation_wanted)
        take = QVBoxLayout()
        take.setSpacing(4)
        take.addWidget(self.wave)
        take.addWidget(self.animation)
        grid = QGridLayout(self)
        grid.setContentsMargins(14, 10, 14, 10)
        grid.setHorizontalSpacing(22)
        grid.addWidget(self.play, 0, 0, 3, 1)
        for column, (title, body, below) in enumerate((
            ("Slowed down", slow_row, self.slow_text), ("Sound", sound_row, self.sound_text),
            ("What is played", order_column, None), ("Take it along", take, None),
        ), 1):  # fmt: skip
            head = PlainLabel(title, self)
            head.setFont(look.font(12, bold=True))
            grid.addWidget(head, 0, column)
            grid.addLayout(body, 1, column, 1 if below is not None else 2, 1)
            if below is not None:
                grid.addWidget(below, 2, column)
        grid.setColumnStretch(1, 3)
        grid.setColumnStretch(2, 4)
        self._restyle()
        look.look_changed.connect(self._restyle)

    @Slot()
    def _restyle(self) -> None:
        look.set_background(self, look.current().panel)
        self._mark_slow()

    @Slot()
    def _mark_slow(self) -> None:
        """The slow-down that is on stands out, in the dark too."""
        now, role = look.current(), QPalette.ColorRole
        for button in self._slows.buttons():
            colours = QPalette(self.palette())
            if button.isChecked():
                colours.setColor(role.Button, now.accent)
                colours.setColor(role.ButtonText, now.accent_text)
            button.setPalette(colours)

    def show_playing(self, playing: bool) -> None:
        self.play.setText("Stop" if playing else "Play")

    def show_slow(self, slow: float, told: str) -> None:
        button = self._slows.button(int(slow))
        if button is not None:
            button.setChecked(True)
        self._mark_slow()
        self.slow_text.setText(told)

    def show_sound(self, told: str, *, possible: bool) -> None:
        self.sound.setEnabled(possible)
        self.loudness.setEnabled(possible)
        self.sound_text.setText(told)

    def set_possible(self, possible: bool) -> None:
        """Whether there is anything to play."""
        for button in (self.play, self.wave, self.animation, *self._slows.buttons(), *self._orders.buttons()):
            button.setEnabled(possible)

    @Slot()
    def _want_slow(self, times: int, _checked: bool = False) -> None:
        self.slow_wanted.emit(float(times))

    @Slot(int)
    def _on_loudness(self, value: int) -> None:
        self.loudness_wanted.emit(0.01 * value)

    def _on_order(self, key: Order, checked: bool) -> None:
        if checked:
            self.order_wanted.emit(key)
