"""The row above the drawing: what the mouse does, and the keys in a line."""

from __future__ import annotations

from PySide6.QtCore import QSize, Signal
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from app.theme import look as looks

HEIGHT = 28
_TOOLS = (
    ("select", "top", "Move", "Drag a patch to move it (with Shift across as well), its ends to resize it"),
    ("keep-out", "top", "Keep-out, top", "Drag on the plan where no package may lie on the top face"),
    (
        "keep-out",
        "underside",
        "Keep-out, underside",
        "Drag on the plan where no package may lie on the underside",
    ),
)
_KEYS = "Shift: across   Ctrl: no snapping   Right-click: menu"


class ToolRow(QWidget):
    """One checked button; `picked` carries tool and face."""

    picked = Signal(str, str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("canvas_tools")
        row = QHBoxLayout(self)
        row.setContentsMargins(6, 2, 10, 2)
        row.setSpacing(4)
        self._group = QButtonGroup(self)
        for tool, face, text, tip in _TOOLS:
            row.addWidget(self._button(tool, face, text, tip))
        row.addStretch(1)
        self._keys = QLabel(_KEYS, self)
        self._keys.setObjectName("canvas_keys")
        self._keys.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        row.addWidget(self._keys, 100)
        self._group.buttonClicked.connect(self._on_clicked)
        self.show_tool("select", "top")
        self.restyle()

    def _button(self, tool: str, face: str, text: str, tip: str) -> QToolButton:
        button = QToolButton(self)
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(f"{text}: {tip}")
        button.setObjectName(f"tool_{tool}_{face}")
        button.setCheckable(True)
        button.setAutoRaise(True)
        button.setFont(looks.font(11))
        button.setProperty("tool", tool)
        button.setProperty("face", face)
        self._group.addButton(button)
        return button

    def sizeHint(self) -> QSize:
        return QSize(420, HEIGHT)

    def restyle(self) -> None:
        """Colours and font of the look in use."""
        self._keys.setFont(looks.font(11))
        palette = self._keys.palette()
        palette.setColor(self._keys.foregroundRole(), looks.current().faint_text)
        self._keys.setPalette(palette)

    def show_tool(self, tool: str, face: str) -> None:
        """Check the button of the tool in use."""
        for button in self._group.buttons():
            if button.property("tool") == tool and button.property("face") in (face, "top"):
                button.setChecked(True)
                if button.property("face") == face:
                    return

    def _on_clicked(self, button: QAbstractButton) -> None:
        self.picked.emit(button.property("tool"), button.property("face"))
