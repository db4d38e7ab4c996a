"""The answer first: how much on the modes asked for, does it survive, what is in doubt.

It stands above the results and never scrolls; everything below it explains these lines.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QHelpEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QPushButton, QSizePolicy, QToolTip, QWidget

from app.drawing.ink import fitting, text_width
from app.fields.link import Link
from app.fields.plain import plain
from app.results.answer_lines import AnswerLines, ModeLine, state_sign
from app.theme import look

PAD = 12
TITLE, ABOUT, ROW, RULE = 24, 17, 25, 9
PAIR = 34
"""Height of a headline with its detail."""
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_LEVELS = {"plain": ("✓", "good"), "caution": ("△", "caution"), "danger": ("✕", "danger")}


class AnswerBlock(QWidget):
    """Paints `AnswerLines`; two small buttons lead on to the limits and to the doubt."""

    limits_wanted = Signal()
    doubt_wanted = Signal()
    asked_wanted = Signal()

    def __init__(self, parent: QWidget | None = None, *, asks: bool = True) -> None:
        """`asks`: offers to say what is asked for where nobody has."""
        super().__init__(parent)
        self._asks = asks
        self.setObjectName("answerBlock")
        self.setAccessibleName("Answer")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._lines: AnswerLines | None = None
        self._doubt: tuple[str, tuple[str, ...]] = ("", ())
        self._faded = False
        self._placed: tuple[object, ...] = ()
        self._told: list[tuple[QRectF, str, str]] = []
        """Where what is told short stands, its longest wording, and its shortest where not even that fits."""
        self.more = self._link("limitsLink", "Go to the limits", self.limits_wanted)
        self.settle = self._link("doubtLink", "Go to the input in doubt", self.doubt_wanted)
        self.ask = self._link("askLink", "Say what is asked for", self.asked_wanted)
        self.ask.setText("say what ›")
        look.look_changed.connect(self.update)

    def _link(self, name: str, about: str, signal: object) -> QPushButton:
        made = Link(parent=self, padding=(0, 0), right=True)
        made.setObjectName(name)
        made.setAccessibleName(about)
        made.setCursor(Qt.CursorShape.PointingHandCursor)
        made.setFont(look.font(11))
        made.clicked.connect(signal)
        made.hide()
        return made

    # ---- showing -------------------------------------------------------------------------

    @property
    def lines(self) -> AnswerLines | None:
        return self._lines

    @property
    def doubt(self) -> tuple[str, tuple[str, ...]]:
        """The strongest doubt: a headline and the wordings of its detail."""
        return self._doubt

    @property
    def cut_texts(self) -> list[str]:
        """Texts of the last painting that did not fit in their shortest wording."""
        return [cut for _, _, cut in self._told if cut]

    def show_lines(self, lines: AnswerLines | None, *, faded: bool = False) -> None:
        """Say this; `faded` where it belongs to an earlier state. None says nothing yet."""
        if lines == self._lines and faded == self._faded:
            return
        before = (self._height(), self._rows(), self._faded, _still(self._lines))
        self._lines, self._faded = lines, faded
        if self._height() != before[0]:
            self.updateGeometry()
        self._place_links()
        if (self._height(), self._rows(), faded, _still(lines)) == before:
            self.update(self._moving())
        else:
            self.update()

    def show_doubt(self, headline: str, details: tuple[str, ...], cure: str = "") -> None:
        """The strongest doubt, and what the button to its input says ("" for no button)."""
        if (headline, details) == self._doubt and cure == self.settle.text():
            return
        height = self._height()
        self._doubt = (headline, details)
        self.settle.setText(cure)
        if self._height() != height:
            self.updateGeometry()
        self._place_links()
        self.update()

    def sentences(self) -> list[str]:
        """The block in words."""
        lines = self._lines
        if lines is None:
            return []
        out = [lines.title[0] + (f": {lines.badge}" if lines.badge else ""), lines.about[0]]
        for mode in lines.modes:
            short = f", {mode.short[0]}" if mode.short else ""
            row = f"{mode.frequency}: " if mode.mark else f"Mode {mode.number}: {mode.frequency}, "
            out.append(f"{row}{lines.heads[0]} {mode.damping}, {lines.heads[1]} {mode.peak}{short}")
        out += [text for text in (lines.more_modes, lines.settling) if text]
        if lines.limit is not None:
            out.append(f"{lines.limit.names[0]}: {lines.limit.share} of the allowable, {lines.limit.details[0]}")
        return [*out, *([f"{self._doubt[0]}: {self._doubt[1][0]}"] if self._doubt[0] else [])]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(380, self._height())

    def minimumSizeHint(self) -> QSize:
        return QSize(280, self._height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_links()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            at = QPointF(event.pos())
            text = next((told for box, told, _ in self._told if box.contains(at)), "\n".join(self.sentences()))
            QToolTip.showText(event.globalPos(), plain(text), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        moving = self._moving()
        whole = not moving.contains(event.rect())  # else what is above and below stands as it was painted
        self._told = [] if whole else [one for one in self._told if not QRectF(moving).contains(one[0])]
        lines, now = self._lines, look.current()
        with QPainter(self) as p:
            # past its own edge: at 150 % a pixel of the screen lies half in it
            p.fillRect(self.rect().adjusted(0, 0, 1, 1), now.window if lines is None or self._faded else now.panel)
            if lines is None:
                return
            if self._faded:
                p.setOpacity(0.55)
            p.setPen(look.pen(now.line, 1.0, self))
            p.setBrush(now.panel)
            p.drawRect(QRectF(self.rect()).adjusted(0, 0, -1, -1))
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.fillRect(QRectF(0, 2, 4, self.height() - 4), self._colour(lines.state))
            if whole:
                self._paint_head(p, lines)
            top = float(moving.top())
            self._text(p, QRectF(PAD, top, self._inner(), ABOUT), lines.about, look.font(11), now.faint_text)
            top += ABOUT + 4.0
            for mode in lines.modes:
                self._paint_mode(p, mode, top, lines)
                top += ROW
            if lines.more_modes:
                self._text(p, QRectF(PAD, top, self._inner(), ABOUT), (lines.more_modes,), look.font(11), now.text)
                top += ABOUT
            if lines.settling:
                self._paint_settling(p, lines, top)
                top += ROW
            if not whole:
                return
            top += RULE
            p.setPen(look.pen(now.line, 1.0, self))
            p.drawLine(QPointF(PAD, top - 4), QPointF(self.width() - PAD, top - 4))
            if lines.limit is not None:
                sign, name = _LEVELS[lines.limit.level]
                colour = getattr(now, name)
                name_colour = now.text if lines.limit.level == "plain" else colour
                self._paint_pair(
                    p, top, sign, colour, name_colour, lines.limit.names, lines.limit.share, lines.limit.details, self.more
                )
                top += PAIR
            if self._doubt[0]:
                self._paint_pair(p, top, "?", now.caution, now.caution, (self._doubt[0],), "", self._doubt[1], self.settle)

    # ---- painting ------------------------------------------------------------------------

    def _inner(self) -> float:
        return float(self.width() - 2 * PAD)

    def _colour(self, state: str) -> QColor:
        now = look.current()
        return {"met": now.good, "missed": now.danger, "waits": now.strong_line, "open": now.accent}[state]

    def _paint_head(self, p: QPainter, lines: AnswerLines) -> None:
        now, top = look.current(), float(PAD // 2)
        badge = 0.0
        if lines.badge:
            met = {"met": True, "missed": False}.get(lines.state)
            text = f"{state_sign(met)} {lines.badge}" if lines.state != "waits" else lines.badge
            font = look.font(12, bold=True)
            badge = text_width(font, text) + 14.0
            box = QRectF(self.width() - PAD - badge, top + 1, badge, 21)
            colour = self._colour(lines.state)
            p.setPen(Qt.PenStyle.NoPen)
            p.setBrush(look.faded(colour, 0.12))
            p.drawRoundedRect(box, 3, 3)
            p.setPen(colour)
            p.setFont(font)
            p.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        elif not self.ask.isHidden():
            badge = float(self.ask.width())
        room = QRectF(PAD, top, self._inner() - badge - 8, TITLE)
        self._text(p, room, lines.title, look.font(12, bold=True), now.text)

    def _paint_mode(self, p: QPainter, mode: ModeLine, top: float, lines: AnswerLines) -> None:
        now = look.current()
        disc = QRectF(PAD, top + 3, 18, 18)
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(now.strong_line if mode.mark else now.mode(mode.number))
        p.drawEllipse(disc)
        p.setPen(now.panel)
        p.setFont(look.font(11, bold=True))
        p.drawText(disc, Qt.AlignmentFlag.AlignCenter, mode.mark or str(mode.number))
        bold, plain = look.font(14, bold=True), look.font(12)
        left, right = PAD + 25.0, self.width() - float(PAD)
        wide = right - left
        small = look.font(11)
        damping = text_width(bold, mode.damping) + 2.0
        peak = text_width(bold, mode.peak or "−00 %") + 2.0
        hertz = text_width(plain, mode.frequency) + 2.0
        shorts = mode.short or ("",)
        gap = 8.0
        rest = wide - hertz - damping - peak - 3 * gap
        need = text_width(small, fitting(small, shorts, rest - 2.0)) + 2.0
        spare = max(rest - need, 0.0) / 3.0
        self._text(p, QRectF(left, top, hertz + spare, ROW), (mode.frequency,), plain, now.text)
        x = left + hertz + gap + spare
        colour = now.danger if mode.damping.endswith("unstable") else now.text
        self._text(p, QRectF(x, top, damping + spare, ROW), (mode.damping,), bold, colour)
        x += damping + gap + spare
        self._text(p, QRectF(x, top, peak + spare, ROW), (mode.peak,), bold, now.text)
        x += peak + gap
        short_colour = now.danger if mode.met is False else now.faint_text
        self._text(p, QRectF(x, top, right - x, ROW), (fitting(small, shorts, rest - 2.0),), small, short_colour, right=True)

    def _paint_settling(self, p: QPainter, lines: AnswerLines, top: float) -> None:
        now = look.current()
        font = look.font(11)
        shorts = lines.settling_short or ("",)
        need = text_width(font, shorts[0]) + 4.0
        self._text(p, QRectF(PAD, top, self._inner() - need - 6, ROW), (lines.settling,), look.font(12, bold=True), now.text)
        colour = now.danger if lines.settling_met is False else now.faint_text
        self._text(p, QRectF(self.width() - PAD - need, top, need, ROW), shorts, font, colour, right=True)

    def _paint_pair(
        self,
        p: QPainter,
        top: float,
        sign: str,
        colour: QColor,
        name_colour: QColor,
        names: tuple[str, ...],
        value: str,
        details: tuple[str, ...],
        link: QPushButton,
    ) -> None:
        now = look.current()
        disc = QRectF(PAD, top, 17, 17)
        p.setPen(look.pen(colour, 1.5, self))
        p.setBrush(colour if sign == "✕" else Qt.BrushStyle.NoBrush)
        p.drawEllipse(disc)
        p.setPen(now.panel if sign == "✕" else colour)
        p.setFont(look.font(11, bold=True))
        p.drawText(disc, Qt.AlignmentFlag.AlignCenter, sign)
        left, right = PAD + 25.0, self.width() - float(PAD)
        bold = look.font(12, bold=True)
        need = text_width(bold, value) + 2.0 if value else 0.0
        self._text(p, QRectF(left, top - 1, right - left - need - 6, 18), names, bold, name_colour)
        if value:
            self._text(p, QRectF(right - need, top - 1, need, 18), (value,), bold, name_colour, right=True)
        taken = 0.0 if link.isHidden() else link.width() + 6.0
        self._text(p, QRectF(left, top + 16, right - left - taken, 15), details, look.font(11), now.faint_text)

    def _text(
        self,
        p: QPainter,
        box: QRectF,
        wordings: tuple[str, ...],
        font: QFont,
        colour: QColor,
        *,
        right: bool = False,
    ) -> None:
        """The longest of `wordings` that fits; the whole is told in the tool tip where even the last does not."""
        p.setFont(font)
        p.setPen(colour)
        text = next((w for w in wordings if text_width(font, w) <= box.width() + 0.5), None)
        if text is None:
            self._told.append((box, wordings[0], wordings[-1]))
            text = p.fontMetrics().elidedText(wordings[-1], Qt.TextElideMode.ElideRight, int(box.width()))
        elif text != wordings[0]:
            self._told.append((box, wordings[0], ""))
        p.drawText(box, _RIGHT if right else _LEFT, text)

    # ---- room ----------------------------------------------------------------------------

    def _rows(self) -> int:
        lines = self._lines
        if lines is None:
            return 0
        return len(lines.modes) * ROW + (ABOUT if lines.more_modes else 0) + (ROW if lines.settling else 0)

    def _moving(self) -> QRect:
        """Where what follows a hand stands: circuit and load, the modes asked for, how soon all settles."""
        return QRect(0, PAD // 2 + TITLE - 1, self.width(), ABOUT + 4 + self._rows())

    def _height(self) -> int:
        lines = self._lines
        if lines is None:
            return 0
        pairs = (lines.limit is not None) + bool(self._doubt[0])
        return PAD // 2 + TITLE + ABOUT + 3 + self._rows() + RULE + pairs * PAIR + 6

    def _place_links(self) -> None:
        lines = self._lines
        more = "" if lines is None or lines.limit is None or not lines.limit.more else f"{lines.limit.more} ›"
        doubts, asks = bool(self._doubt[0]), self._asks and lines is not None and not lines.badge
        places = (more, self.settle.text(), lines is None or lines.limit is None, doubts, asks, self._rows(), self.width())
        if places == self._placed:
            return  # nearly every frame of a drag changes only numbers
        self._placed = places
        self.more.setText(more)
        top = PAD // 2 + TITLE + ABOUT + 3 + self._rows() + RULE
        for link, here in ((self.more, lines is not None and lines.limit is not None), (self.settle, doubts)):
            link.setVisible(here and bool(link.text()))
            self._put(link, top + 15)
            top += PAIR if here else 0
        self.ask.setVisible(asks)
        self._put(self.ask, PAD // 2 + 4)

    def _put(self, link: QPushButton, top: int) -> None:
        wide = link.fontMetrics().horizontalAdvance(link.text()) + 6
        link.setGeometry(self.width() - PAD - wide, top, wide, 17)


def _still(lines: AnswerLines | None) -> tuple[object, ...]:
    """What is told outside of what follows a hand."""
    return () if lines is None else (lines.title, lines.state, lines.badge, lines.limit)
