"""Documents written by the commands and read back: page sizes, check bars in points, text."""

from __future__ import annotations

import pypdfium2
import pytest
from pypdf import PdfReader
from pypdfium2 import raw

from app.cli.commands import run
from core.project import store
from tests.levels import beam_example

POINT_MM = 25.4 / 72


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "lab.quietspan"
    store.save(beam_example("lab-beam"), path)
    return path


def command(*words: object) -> int:
    return run([str(word) for word in words])


def text(path, page: int = 0) -> str:
    return " ".join(PdfReader(path).pages[page].extract_text().split())


@pytest.mark.parametrize(("paper", "across"), [("A4", 100.0), ("A3", 200.0), ("Letter", 100.0)])
def test_check_bars_measure_true_in_the_file(qapp, file, tmp_path, capsys, paper, across):
    out = tmp_path / "t.pdf"
    assert command("template", file, "--out", out, "--paper", paper) == 0
    assert f"{out} written" in capsys.readouterr().out
    page = pypdfium2.PdfDocument(out)[0]
    ticks = _bar_ends(page, horizontal=True)
    assert any(abs(b - a - 200.0) < 0.1 for a in ticks for b in ticks)
    ticks = _bar_ends(page, horizontal=False)
    assert any(abs(b - a - across) < 0.1 for a in ticks for b in ticks)


def _bar_ends(page, *, horizontal: bool) -> list[float]:
    """Where lines of 6 mm stand across: the ends of the check bars, mm. The bounds of a stroke reach a
    line width past it on every side."""
    found = []
    for shape in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = (v * POINT_MM for v in shape.get_bounds())
        along, across = (top - bottom, right - left) if horizontal else (right - left, top - bottom)
        if 6.2 < along < 6.8 and 0.4 < across < 0.6:
            found.append((left + right) / 2 if horizontal else (bottom + top) / 2)
    return found


def test_a_corrected_reprint_from_the_command_line(qapp, file, tmp_path):
    out = tmp_path / "again.pdf"
    assert command("template", file, "--out", out, "--bar-along", "199,2", "--bar-across", "99.7 mm") == 0
    ends = _bar_ends(pypdfium2.PdfDocument(out)[0], horizontal=True)
    assert any(abs((b - a) * 199.2 / 200 - 200.0) < 0.1 for a in ends for b in ends)
    assert "corrected x 1.0040" in text(out) and "corrected x 1.0030" in text(out)


@pytest.mark.parametrize("which", ["process", "purchasing", "circuit", "test", "bonding"])
def test_each_card_is_written_upright_and_as_text(qapp, file, tmp_path, which):
    out = tmp_path / "card.pdf"
    assert command("card", file, "--which", which, "--out", out) == 0
    box = PdfReader(out).pages[0].mediabox
    assert (float(box.width) * POINT_MM, float(box.height) * POINT_MM) == pytest.approx((210, 297), abs=0.2)
    head = {"process": "PROCESS CARD", "purchasing": "PURCHASING AND COMPLIANCE", "circuit": "CIRCUIT CARD", "test": "TEST CARD", "bonding": "BONDING RECORD"}
    assert head[which] in text(out)
    assert command("card", file, "--which", which, "--out", tmp_path / "card.md") == 0
    assert (tmp_path / "card.md").read_text(encoding="utf-8").startswith("# Lab beam: A at the clamp")


def test_the_record_has_two_pages_with_lines_for_plots(qapp, file, tmp_path):
    out = tmp_path / "record.pdf"
    assert command("record", file, "--out", out, "--candidate", "pair, resonant", "--paper", "Letter") == 0
    pages = PdfReader(out).pages
    assert len(pages) == 2 and float(pages[0].mediabox.width) * POINT_MM == pytest.approx(215.9, abs=0.2)
    assert "C pair, resonant (chosen)" in text(out)
    assert not any(list(page.images) for page in pages)
    picture = pypdfium2.PdfDocument(out)[0].render(scale=1.0).to_numpy()
    assert 0.02 < (picture < 160).mean() < 0.3


def test_a_record_asked_for_on_a3_is_on_a3(qapp, file, tmp_path):
    for paper, wide in (("A3", 297.0), ("A4", 210.0)):
        assert command("record", file, "--out", tmp_path / "record.pdf", "--paper", paper) == 0
        box = PdfReader(tmp_path / "record.pdf").pages[0].mediabox
        assert float(box.width) * POINT_MM == pytest.approx(wide, abs=0.2)


def test_trouble_is_told_in_one_sentence(qapp, file, tmp_path, capsys):
    assert command("template", file, "--out", tmp_path / "t.md") == 2
    assert "End the name in one of: .pdf, .svg, .dxf." in capsys.readouterr().err
    assert command("template", file, "--out", tmp_path / "t.pdf", "--bar-along", "97") == 1
    assert "outside 190 to 210 mm" in capsys.readouterr().err
    with pytest.raises(SystemExit) as told:
        command("template", file, "--out", tmp_path / "t.pdf", "--bar-along", "short")
    assert told.value.code == 2
    assert "short" in capsys.readouterr().err
    assert command("record", file, "--out", tmp_path / "r.dxf") == 2
    assert "End the name in one of: .pdf, .md" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [file]


def test_readings_of_a_table_stand_on_the_bonding_record(qapp, file, tmp_path, capsys):
    table = tmp_path / "readings.csv"
    table.write_text("serial number;C before [nF];C after [nF];press test\n7;75,2;41;right\n", encoding="utf-8")
    out = tmp_path / "record.md"
    assert command("card", file, "--which", "bonding", "--readings", table, "--out", out) == 0
    assert "- 7, not a good part: C after 41.00 nF (46.73 to 71.19 nF)" in out.read_text(encoding="utf-8")
    table.write_text("serial number;C before [nF]\n7;much\n", encoding="utf-8")
    assert command("card", file, "--which", "bonding", "--readings", table, "--out", out) != 0
    assert 'Line 2, column "C before [nF]" of 7 is "much"' in capsys.readouterr().err
