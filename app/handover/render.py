"""Drawings on screen, in PDF and in PNG by one draw function.

No window is needed: `ensure_gui_app` starts Qt without a display for the command line.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QPointF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QGuiApplication,
    QImage,
    QImageWriter,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QPen,
    QPolygonF,
)

from core.handover.drawing.items import LINE_WIDTH_MM, Circle, Drawing, Text
from core.handover.drawing.lettering import FAMILY, text_width_mm
from core.handover.drawing.strokes import Fill, Primitive, Stroke, strokes

PDF_DPI = 1200
PNG_DPI = 300
MM_PER_INCH = 25.4
FONT_PIXELS = 100
"""Text is set at this size and scaled, so that small type keeps its true advance widths."""

_kept: list[QGuiApplication] = []
"""Qt ends the application when the last reference to it goes."""


def ensure_gui_app() -> QGuiApplication:
    """The running Qt application, or a new one that needs no display."""
    running = QGuiApplication.instance()
    if isinstance(running, QGuiApplication):
        return running
    _kept.append(QGuiApplication(["quietspan", "-platform", "offscreen"]))
    return _kept[0]


@lru_cache(maxsize=1)
def sheet_family() -> str:
    """The shipped typeface, registered with Qt on first use."""
    for style in ("regular", "bold"):
        data = (files("resources") / "fonts" / f"quietspan-sheet-{style}.ttf").read_bytes()
        QFontDatabase.addApplicationFontFromData(QByteArray(data))
    return FAMILY


# ---- drawing ---------------------------------------------------------------------------------


def draw(painter: QPainter, drawing: Drawing) -> None:
    """The drawing with a painter whose unit is 1 mm and whose origin is the paper's corner."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    for item in drawing.items:
        for primitive in strokes(item):
            _draw_primitive(painter, primitive)


def _draw_primitive(painter: QPainter, primitive: Primitive) -> None:
    match primitive:
        case Stroke(points, closed, width, dash):
            painter.setPen(_pen(width, dash))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            polygon = QPolygonF([QPointF(x, y) for x, y in points])
            if closed:
                painter.drawPolygon(polygon)
            else:
                painter.drawPolyline(polygon)
        case Fill(points, white):
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor("white" if white else "black"))
            painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in points]))
        case Circle((x, y), radius, _, weight, filled):
            painter.setPen(Qt.PenStyle.NoPen if filled else _pen(LINE_WIDTH_MM[weight], ()))
            painter.setBrush(QColor("black") if filled else Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(x, y), radius, radius)
        case Text():
            _draw_text(painter, primitive)


def _pen(width_mm: float, dash_mm: tuple[float, ...]) -> QPen:
    pen = QPen(QColor("black"), width_mm)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash_mm:
        pen.setDashPattern([length / width_mm for length in dash_mm])
    return pen


def _draw_text(painter: QPainter, item: Text) -> None:
    font = QFont(sheet_family())
    font.setPixelSize(FONT_PIXELS)
    font.setBold(item.bold)
    font.setKerning(False)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    back = {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
    painter.save()
    painter.translate(*item.at)
    painter.rotate(-item.angle_deg)
    painter.translate(-back * text_width_mm(item.text, item.size_mm, item.bold), 0.0)
    painter.scale(item.size_mm / FONT_PIXELS, item.size_mm / FONT_PIXELS)
    painter.setFont(font)
    painter.setPen(QColor("black"))
    painter.drawText(QPointF(0.0, 0.0), item.text)
    painter.restore()


# ---- media -----------------------------------------------------------------------------------


def drawing_image(drawing: Drawing, dpi: float = PNG_DPI) -> QImage:
    """The sheet as an opaque picture at that resolution."""
    ensure_gui_app()
    per_mm = dpi / MM_PER_INCH
    image = QImage(
        round(drawing.width_mm * per_mm), round(drawing.height_mm * per_mm), QImage.Format.Format_RGB32
    )
    image.setDotsPerMeterX(round(1000 * per_mm))
    image.setDotsPerMeterY(round(1000 * per_mm))
    image.fill(QColor("white"))
    with QPainter(image) as painter:
        painter.scale(per_mm, per_mm)
        draw(painter, drawing)
    return image


def drawings_pdf(drawings: Sequence[Drawing]) -> bytes:
    """A PDF with one page a drawing, each of its paper's true size; lines and text stay such."""
    ensure_gui_app()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setCreator("Quietspan")
    writer.setTitle(drawings[0].document or drawings[0].title)
    writer.setPdfVersion(QPagedPaintDevice.PdfVersion.PdfVersion_A1b)
    writer.setResolution(PDF_DPI)
    _set_page(writer, drawings[0])
    with QPainter(writer) as painter:
        for n, drawing in enumerate(drawings):
            if n:
                _set_page(writer, drawing)
                writer.newPage()
            painter.save()
            painter.scale(PDF_DPI / MM_PER_INCH, PDF_DPI / MM_PER_INCH)
            draw(painter, drawing)
            painter.restore()
    return bytes(buffer.data().data())


def _set_page(writer: QPdfWriter, drawing: Drawing) -> None:
    size = QPageSize(
        QSizeF(drawing.width_mm, drawing.height_mm),
        QPageSize.Unit.Millimeter,
        drawing.paper,
        QPageSize.SizeMatchPolicy.ExactMatch,
    )
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))


def drawing_png(drawing: Drawing) -> bytes:
    """One sheet as a PNG file."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, b"png").write(drawing_image(drawing))
    return bytes(buffer.data().data())
