"""Sheets written to files and read back with independent readers."""

from __future__ import annotations

import os
import subprocess
import sys
from xml.etree import ElementTree

import pypdfium2
import pytest
from msgspec.structs import replace
from pypdf import PdfReader
from PySide6.QtGui import QFont, QFontInfo, QFontMetricsF, QImage

from app.handover.render import FONT_PIXELS, drawing_image, drawings_pdf, sheet_family
from app.handover.sheet_files import write_sheet
from core.handover.drawing.items import Dimension, Drawing, Line, SheetError
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.diagram import placement_diagrams
from core.handover.sheet.layout import PAPERS_MM
from core.project import library

POINT_MM = 25.4 / 72


def example(key: str = "lab-beam", paper: str = "A4") -> tuple[Drawing, ...]:
    project = library.example(key)
    return placement_diagrams(replace(project, sheet=replace(project.sheet, paper=paper)))


def page_text(page) -> str:
    """The text of a PDF page with single spaces."""
    return " ".join(page.extract_text().split())


def dark_share(image: QImage) -> float:
    """Share of dark pixels of a coarse copy."""
    small = image.scaled(200, 140)
    dark = sum(small.pixelColor(x, y).lightness() < 200 for x in range(200) for y in range(140))
    return dark / (200 * 140)


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_pdf_page_has_the_size_of_the_paper(qapp, tmp_path, paper):
    (path,) = write_sheet(example(paper=paper), tmp_path / "sheet.pdf")
    box = PdfReader(path).pages[0].mediabox
    width, height = PAPERS_MM[paper]
    assert float(box.width) * POINT_MM == pytest.approx(width, abs=0.2)
    assert float(box.height) * POINT_MM == pytest.approx(height, abs=0.2)


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_pdf_text_holds_every_dimension(qapp, tmp_path, key):
    drawings = example(key)
    (path,) = write_sheet(drawings, tmp_path / "sheet.pdf")
    pages = PdfReader(path).pages
    assert len(pages) == len(drawings)
    for page, drawing in zip(pages, drawings, strict=True):
        assert "\t" not in page.extract_text()
        text = page_text(page)
        for item in drawing.items:
            if isinstance(item, Dimension):
                assert " ".join(item.label.split()) in text


def test_pdf_is_vector_with_embedded_lettering(qapp, tmp_path):
    (path,) = write_sheet(example(), tmp_path / "sheet.pdf")
    page = PdfReader(path).pages[0]
    assert not list(page.images)
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    names = {str(font["/BaseFont"]) for font in fonts}
    assert any("QuietspanSheet" in name for name in names), names


def test_a_length_on_the_pdf_page_is_true(qapp, tmp_path):
    bar = Drawing("A4", 297.0, 210.0, (Line((50.0, 100.0), (250.0, 100.0), "part", "wide"),), "bar")
    (path,) = write_sheet(bar, tmp_path / "bar.pdf")
    page = pypdfium2.PdfDocument(path)[0]
    scale = 1000 / 25.4 / 2 * POINT_MM  # pixels per point at 500 dpi
    image = page.render(scale=scale).to_numpy()
    columns = (image.min(axis=2) < 128).any(axis=0).nonzero()[0]
    per_mm = scale / POINT_MM
    assert (columns[-1] + 1 - columns[0]) / per_mm == pytest.approx(200.0, abs=0.1)
    assert columns[0] / per_mm == pytest.approx(50.0, abs=0.1)


def test_pdf_page_renders_to_something(qapp, tmp_path):
    (path,) = write_sheet(example("touring-ski"), tmp_path / "sheet.pdf")
    picture = pypdfium2.PdfDocument(path)[0].render(scale=1.0).to_numpy()
    assert 0.01 < (picture < 160).mean() < 0.3


def test_each_face_is_a_page_of_the_pdf_and_a_file_of_its_own_otherwise(qapp, tmp_path):
    drawings = example("gantry-bracket")
    (pdf,) = write_sheet(drawings, tmp_path / "bracket.pdf")
    assert len([d for d in drawings if d.views]) == 2  # and sheets of notes
    assert len(PdfReader(pdf).pages) == len(drawings)
    for suffix in ("svg", "png"):
        names = [p.name for p in write_sheet(drawings, tmp_path / f"bracket.{suffix}")]
        assert names == [f"bracket-{n}.{suffix}" for n in range(1, len(drawings) + 1)]


def test_a_pdf_is_named_after_its_document_made_for_archives_and_brings_its_lettering(qapp, tmp_path):
    drawings = example("gantry-bracket")
    reader = PdfReader(write_sheet(drawings, tmp_path / "bracket.pdf")[0])
    assert reader.metadata.title.endswith(": placement diagram") and "face" not in reader.metadata.title
    metadata = reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()
    assert "pdfaid:part" in metadata and "/OutputIntents" in reader.trailer["/Root"]  # ISO 19005-1
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            whole = font.get_object()
            inner = whole["/DescendantFonts"][0].get_object() if "/DescendantFonts" in whole else whole
            embedded = inner["/FontDescriptor"].get_object()["/FontFile2"].get_object().get_data()
            assert 1000 < len(embedded) < 40_000  # of 72 kB: only the characters used


def test_svg_file_is_in_millimetres(qapp, tmp_path):
    (path,) = write_sheet(example("louvre-blade", "A3")[0], tmp_path / "sheet.svg")
    root = ElementTree.parse(path).getroot()
    assert (root.get("width"), root.get("height")) == ("420mm", "297mm")
    assert root.get("viewBox") == "0 0 420 297"


def test_png_has_300_dots_per_inch(qapp, tmp_path):
    (path,) = write_sheet(example(paper="Letter")[0], tmp_path / "sheet.png")
    image = QImage(str(path))
    assert (image.width(), image.height()) == (3300, 2550)
    assert image.dotsPerMeterX() == pytest.approx(300 / 0.0254, abs=1)
    assert dark_share(image) > 0.01


def test_drawn_letters_are_as_wide_as_the_layout_took_them(qapp):
    for bold in (False, True):
        font = QFont(sheet_family())
        font.setPixelSize(FONT_PIXELS)
        font.setBold(bold)
        font.setKerning(False)
        font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
        assert QFontInfo(font).family() == sheet_family()
        for words in ("A to P1 241.0 ± 1.0", "MΩ °C µm Ø 1:2.5", "Äußere Kante – прав."):
            drawn = QFontMetricsF(font).horizontalAdvance(words)
            assert drawn == pytest.approx(text_width_mm(words, FONT_PIXELS, bold), rel=0.01)


# ---- trouble with files ----------------------------------------------------------------------


def test_an_unknown_suffix_is_told(qapp, tmp_path):
    with pytest.raises(SheetError, match=r"'sheet.docx' does not end in .*\.pdf, \.svg, \.png or \.dxf"):
        write_sheet(example(), tmp_path / "sheet.docx")
    with pytest.raises(SheetError, match="does not end in"):
        write_sheet(example(), tmp_path / "sheet")


def test_a_folder_is_told(qapp, tmp_path):
    (tmp_path / "there.pdf").mkdir()
    with pytest.raises(SheetError, match=r"is a folder\. Name a file in it"):
        write_sheet(example(), tmp_path / "there.pdf")


def test_a_missing_folder_is_told(qapp, tmp_path):
    with pytest.raises(SheetError, match=r"is not there\. Make it"):
        write_sheet(example(), tmp_path / "nowhere" / "sheet.pdf")


def test_a_failed_write_keeps_the_old_file_and_leaves_nothing(qapp, tmp_path, monkeypatch):
    target = tmp_path / "sheet.svg"
    target.write_text("old")

    def full(old, new):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(SheetError, match="could not be written: no space left on device"):
        write_sheet(example(), target)
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.svg"]


def test_no_sheet_is_no_file(qapp, tmp_path):
    with pytest.raises(SheetError, match="no sheet"):
        write_sheet((), tmp_path / "sheet.pdf")


# ---- without a display -----------------------------------------------------------------------


def test_a_sheet_is_written_without_display_or_installed_font(tmp_path):
    """A bare machine: no display, no font but the shipped one."""
    empty = tmp_path / "fonts.conf"
    empty.write_text('<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig></fontconfig>')
    code = (
        "import sys; from core.project import library; from core.handover.sheet.diagram import placement_diagrams;"
        "from app.handover.sheet_files import write_sheet;"
        "write_sheet(placement_diagrams(library.example('lab-beam')), sys.argv[1])"
    )
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "QT_QPA_PLATFORM")}
    environment |= {"FONTCONFIG_FILE": str(empty), "PYTHONPATH": os.pathsep.join(sys.path)}
    path = tmp_path / "sheet.pdf"
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert "A to P1 241.0 ± 1.0" in page_text(PdfReader(path).pages[0])


def test_picture_and_pdf_come_from_the_same_drawing(qapp):
    drawing = example()[0]
    picture = drawing_image(drawing, 72)
    page = pypdfium2.PdfDocument(drawings_pdf((drawing,)))[0].render(scale=1.0).to_numpy()
    assert abs(page.shape[1] - picture.width()) <= 1
    assert (page < 160).mean() == pytest.approx(dark_share(picture), abs=0.08)
