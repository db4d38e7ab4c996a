"""What comes of the choices in the import preview, in words."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QLabel, QWidget

from app.outline.state import Outcome
from app.theme import look
from core import units
from core.outline.shape import Shape
from core.units.words import millimetres, percent

Told = tuple[str, str, tuple[tuple[str, tuple[str, ...]], ...]]
WARN = "\N{WARNING SIGN}"
MOST_TO_MEND = 5


class Findings(QLabel):
    """What comes of the choices, as rich text with the error of the width first."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("outline findings")
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._parts: Told = ("", "", ())
        look.look_changed.connect(self._write)

    def tell(self, headline: str, detail: str, lists: tuple[tuple[str, tuple[str, ...]], ...]) -> None:
        """A headline, a line of detail, and titled lists (remarks first)."""
        self._parts = (headline, detail, lists)
        self._write()

    @Slot()
    def _write(self) -> None:
        headline, detail, lists = self._parts
        now = look.current()
        html = [f"<p style='margin:0 0 2px 0'><b>{_safe(headline)}</b></p>"] if headline else []
        if detail:
            html.append(f"<p style='margin:0 0 6px 0;color:{now.faint_text.name()}'>{_safe(detail)}</p>")
        for title, items in lists:
            if not items:
                continue
            colour = now.caution.name() if title.startswith(WARN) else now.text.name()
            html.append(f"<p style='margin:6px 0 2px 0;color:{colour}'><b>{_safe(title)}</b></p>")
            html += [f"<p style='margin:0 0 4px 0'>{_safe(item)}</p>" for item in items]
        self.setText("".join(html))


def _safe(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def findings_of(outcome: Outcome) -> Told:
    """Headline, detail and lists of an outcome; all empty where there is no shape."""
    made = outcome.shape
    if made is None:
        return "", "", ()
    headline = (
        f"Width error {percent(made.error_share)} of {_mm(made.curve.widest_m)} "
        f"({millimetres(made.off.width_m, 2)} at x = {_mm(made.off.at_m)}), "
        f"area error {percent(made.off.area_share)}"
    )
    lists = (
        (f"{WARN} Before you take it", outcome.remarks),
        (f"{WARN} To mend afterwards", outcome.to_mend[:MOST_TO_MEND]),
        ("What will change", outcome.changes),
    )
    return headline, _detail(made), lists


def _detail(made: Shape) -> str:
    text = f"{len(made.stations.x_m)} stations over {_mm(made.span_m)}"
    if made.cut_outs:
        holes = len(made.cut_outs)
        text += "; 1 hole as cut-out" if holes == 1 else f"; {holes} holes as cut-outs"
    if made.n_in_width:
        several = "s" if made.n_in_width > 1 else ""
        text += f"; {made.n_in_width} opening{several} counted into the width"
    return text + "."


def _mm(value_m: float) -> str:
    return f"{units.show(value_m, 'mm', 1)} mm"
