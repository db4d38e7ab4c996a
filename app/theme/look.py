"""Every colour, line width, dash and font of the program, light and dark, in one place.

Colours are named by meaning. Modes use the colour-blind safe set of Okabe and Ito (2008),
darkened or lightened for contrast, and always come with a number and a dash as well.
`current()` is what a widget paints with; connect to `look_changed` to repaint.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPainter, QPalette, QPen
from PySide6.QtWidgets import QWidget

SMALLEST_TEXT_PX = 11

ON_SCALE, AROUND_INK = QColor("#101A22"), QColor("#FFFFFF")
"""Ink on the bright end of the scale of a map, and the rim that parts it from the dark end; light look or dark."""
ON_CERAMIC = QColor("#1B2733")
"""Letters on a ceramic of a schematic; light look or dark."""

_MODES_LIGHT = ("#0072B2", "#C85600", "#008562", "#B4568C", "#8A6A00", "#2B7FA8", "#7A4B2A", "#4B5563")
_MODES_DARK = ("#5AB4F0", "#F2894A", "#35C99C", "#E79CC8", "#E0C040", "#8FD3F5", "#D3A27F", "#C3CAD4")
_CANDIDATES_LIGHT = ("#1D6F8F", "#B4461F", "#4B7A1E", "#7A4FA3", "#8A6A00", "#5B6470")
_CANDIDATES_DARK = ("#6CC3E0", "#F0906A", "#A3CF6B", "#BFA0E6", "#E0C040", "#B4BCC8")

_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (8.0, 3.0),
    (3.0, 2.5),
    (9.0, 3.0, 2.0, 3.0),
    (14.0, 3.0),
    (6.0, 2.5, 1.5, 2.5, 1.5, 2.5),
    (1.5, 2.5),
    (14.0, 3.0, 4.0, 3.0),
)


@dataclass(frozen=True)
class Look:
    """Colours by meaning. `mode` and `candidate` cycle when there are more than their set."""

    name: str
    window: QColor
    panel: QColor
    field: QColor
    line: QColor
    strong_line: QColor
    text: QColor
    faint_text: QColor
    accent: QColor
    accent_text: QColor
    danger: QColor
    caution: QColor
    good: QColor
    ceramic: QColor
    ceramic_line: QColor
    package: QColor
    structure_fill: QColor
    structure_line: QColor
    layer_fills: tuple[QColor, ...]
    keep_out: QColor
    before: QColor
    after: QColor
    band: QColor
    modes: tuple[QColor, ...]
    candidates: tuple[QColor, ...]

    @property
    def is_dark(self) -> bool:
        return self.window.lightnessF() < 0.5

    def mode(self, number: int) -> QColor:
        """Colour of mode `number`, counted from 1."""
        return self.modes[(number - 1) % len(self.modes)]

    def mode_dash(self, number: int) -> tuple[float, ...]:
        """Dash pattern of mode `number` in pen widths; empty is solid."""
        return _DASHES[(number - 1) % len(_DASHES)]

    def candidate(self, letter: str) -> QColor:
        """Colour of the candidate of that letter ("A" first)."""
        return self.candidates[_letter_index(letter) % len(self.candidates)]

    def candidate_dash(self, letter: str) -> tuple[float, ...]:
        """Dash pattern of the candidate of that letter; empty is solid."""
        return _DASHES[_letter_index(letter) % len(_DASHES)]


def _letter_index(letter: str) -> int:
    return max(ord(letter[0].upper()) - ord("A"), 0) if letter else 0


def _colours(names: Sequence[str]) -> tuple[QColor, ...]:
    return tuple(QColor(name) for name in names)


def light() -> Look:
    """The look on a white page."""
    return Look(
        name="light",
        window=QColor("#FBFCFD"),
        panel=QColor("#FFFFFF"),
        field=QColor("#FFFFFF"),
        line=QColor("#D9DFE6"),
        strong_line=QColor("#7B8794"),
        text=QColor("#1B2733"),
        faint_text=QColor("#5A6773"),
        accent=QColor("#0B5C8A"),
        accent_text=QColor("#FFFFFF"),
        danger=QColor("#B3261E"),
        caution=QColor("#8A5A00"),
        good=QColor("#1E6B3A"),
        ceramic=QColor("#E7C886"),
        ceramic_line=QColor("#7A5A12"),
        package=QColor("#F4E7C8"),
        structure_fill=QColor("#E6ECF0"),
        structure_line=QColor("#4A5763"),
        layer_fills=_colours(("#D5DCE3", "#E8E0D2", "#C9D8D4", "#DDD6E6", "#E3E3DA")),
        keep_out=QColor("#8A4B2A"),
        before=QColor("#7F8C99"),
        after=QColor("#B4461F"),
        band=QColor(180, 70, 31, 26),
        modes=_colours(_MODES_LIGHT),
        candidates=_colours(_CANDIDATES_LIGHT),
    )


def dark() -> Look:
    """The look on a dark page."""
    return Look(
        name="dark",
        window=QColor("#171C22"),
        panel=QColor("#1E252D"),
        field=QColor("#29333D"),
        line=QColor("#36414D"),
        strong_line=QColor("#8592A0"),
        text=QColor("#E8EDF2"),
        faint_text=QColor("#A3B0BD"),
        accent=QColor("#6CC3F5"),
        accent_text=QColor("#0E1720"),
        danger=QColor("#FF8A80"),
        caution=QColor("#F0C060"),
        good=QColor("#7FD69B"),
        ceramic=QColor("#C79A45"),
        ceramic_line=QColor("#F3D492"),
        package=QColor("#5C4C2B"),
        structure_fill=QColor("#2C3742"),
        structure_line=QColor("#A9B6C2"),
        layer_fills=_colours(("#3A4754", "#4B4438", "#35494A", "#443E52", "#46473C")),
        keep_out=QColor("#E3A27F"),
        before=QColor("#8593A1"),
        after=QColor("#F2936B"),
        band=QColor(242, 147, 107, 34),
        modes=_colours(_MODES_DARK),
        candidates=_colours(_CANDIDATES_DARK),
    )


class _Holder(QObject):
    """Carries the signal that the look was changed."""

    look_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.look = light()


_holder = _Holder()
look_changed = _holder.look_changed


def current() -> Look:
    """The look in use."""
    return _holder.look


def set_look(look: Look) -> None:
    """Paint everything with `look` from now on; sets the application's palette as well."""
    _holder.look = look
    app = QGuiApplication.instance()
    if isinstance(app, QGuiApplication):
        app.setPalette(palette(look))
        # Qt would tell the widgets in a later turn, and a picture taken in this one would be of both looks
        QCoreApplication.sendPostedEvents(None, QEvent.Type.ApplicationPaletteChange)
    _holder.look_changed.emit()


def system_look() -> Look:
    """Dark when the system says so, else light."""
    hints = QGuiApplication.styleHints()
    return dark() if hints.colorScheme() == Qt.ColorScheme.Dark else light()


def palette(look: Look) -> QPalette:
    """The widgets' palette that goes with `look` (for the Fusion style)."""
    made = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, look.window),
        (role.WindowText, look.text),
        (role.Base, look.field),
        (role.AlternateBase, look.panel),
        (role.Text, look.text),
        (role.PlaceholderText, look.faint_text),
        (role.Button, look.panel),
        (role.ButtonText, look.text),
        (role.ToolTipBase, look.panel),
        (role.ToolTipText, look.text),
        (role.Highlight, look.accent),
        (role.HighlightedText, look.accent_text),
        (role.Link, look.accent),
        (role.BrightText, look.danger),
        (role.Mid, look.line),
        (role.Dark, look.strong_line),
    ):
        made.setColor(which, colour)
    for which in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, which, look.faint_text)
    return made


def set_background(widget: QWidget, color: QColor) -> None:
    """Fill a widget with `color` before it paints itself."""
    made = QPalette(widget.palette())
    made.setColor(widget.backgroundRole(), color)
    widget.setPalette(made)
    widget.setAutoFillBackground(True)


def pen(color: QColor, width: float = 1.0, widget: QWidget | None = None, dash: Sequence[float] = ()) -> QPen:
    """A round-joined pen; on a widget cosmetic, in whole device pixels (the raster's fast path).

    Without a widget (PNG at any size, SVG, PDF) the width is real, in the painter's units.
    """
    return pen_at(color, width, None if widget is None else widget.devicePixelRatioF(), dash)


def pen_at(color: QColor, width: float, ratio: float | None, dash: Sequence[float] = ()) -> QPen:
    """As `pen`, for a known device pixel ratio (None: a real width)."""
    return _made_pen(color.rgba(), width, ratio, tuple(dash))


@lru_cache(maxsize=512)
def _made_pen(rgba: int, width: float, ratio: float | None, dash: tuple[float, ...]) -> QPen:
    made = QPen(QColor.fromRgba(rgba))
    if ratio is None:
        made.setWidthF(width)
    else:
        made.setWidthF(max(1.0, floor(width * ratio + 0.01)) if width <= 1.0 else width * ratio)
        made.setCosmetic(True)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash:
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        made.setDashPattern(list(dash))
    return made


def paint_focus(p: QPainter, widget: QWidget) -> None:
    """The dotted ring of a widget that has the keyboard, at its edge."""
    p.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    p.setBrush(Qt.BrushStyle.NoBrush)
    p.setPen(pen(current().accent, 1.0, widget, (2.0, 2.0)))
    p.drawRect(widget.rect().adjusted(1, 1, -2, -2))


def font(size_px: int = 12, *, bold: bool = False) -> QFont:
    """The program's font at `size_px` (never below the smallest legible size); copy it to change it."""
    return _made_font(QGuiApplication.font().family(), size_px, bold)


@lru_cache(maxsize=64)
def _made_font(_family: str, size_px: int, bold: bool) -> QFont:
    # One object each: Qt looks the glyphs of a font up once per object, not once per use.
    made = QFont(QGuiApplication.font())
    made.setPixelSize(max(size_px, SMALLEST_TEXT_PX))
    made.setBold(bold)
    return made


def faded(color: QColor, alpha: float) -> QColor:
    """`color` with opacity `alpha` from 0 to 1."""
    return _made_faded(color.rgba(), alpha)


@lru_cache(maxsize=256)
def _made_faded(rgba: int, alpha: float) -> QColor:
    made = QColor.fromRgba(rgba)
    made.setAlphaF(alpha)
    return made
