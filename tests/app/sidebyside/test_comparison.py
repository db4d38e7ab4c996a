"""Side by side: rows, differences, the page, the table that leaves it."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from math import nan

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF, QGuiApplication
from PySide6.QtWidgets import QPushButton, QScrollArea

from app.results.clipboard import as_csv
from app.sidebyside import grid
from app.sidebyside.grid import LEAST_COLUMN, ComparisonGrid, bar_width
from app.sidebyside.rows import SAME, comparison_rows
from app.sidebyside.shapes import overlaid
from app.theme import look
from core.predict.parts import Parts
from core.predict.predict import predict
from core.project import edit
from core.project.service import Asked
from tests.levels import beam_example


@pytest.fixture
def window(same_window):
    """One window for the file."""
    return same_window


@pytest.fixture(scope="module")
def predictions():
    project = beam_example("lab-beam")
    return [predict(project, candidate.id) for candidate in project.candidates]


def row(rows, label):
    return next(r for r in rows if r.label == label)


def test_the_highest_damping_is_marked_and_differences_count_from_the_reference(predictions):
    found = row(comparison_rows(predictions, 1), "Damping, mode 1")
    zeta = [p.modes[0].zeta for p in predictions]
    assert [cell.best for cell in found.cells] == [z == max(zeta) for z in zeta]
    assert found.cells[1].difference == ""
    told = float(found.cells[2].difference.split()[0].replace("\N{MINUS SIGN}", "-"))
    assert told == pytest.approx(100 * (zeta[2] - zeta[1]), abs=0.005)


def test_equal_candidates_differ_in_nothing_and_none_is_best(predictions):
    rows = comparison_rows([predictions[0], predictions[0]], 0)
    for found in rows:
        assert found.cells[1].difference in ("", SAME)
        assert not any(cell.best for cell in found.cells)


def told_otherwise(found, **parts):
    """The same prediction with some parts said to be these."""
    other = Parts(found.solved)
    vars(other).update(parts)
    return other


def test_an_unstable_mode_is_a_word_and_never_the_best(predictions):
    spoiled = replace(predictions[0].modes[0], zeta=nan)
    unstable = told_otherwise(predictions[0], modes=(spoiled, *predictions[0].modes[1:]))
    found = row(comparison_rows([unstable, predictions[1]], 1), "Damping, mode 1")
    assert found.cells[0].text == "unstable"
    assert not found.cells[0].best
    assert found.cells[0].difference == ""


def test_a_candidate_that_cannot_be_predicted_leaves_its_cells_empty(predictions):
    rows = comparison_rows([predictions[0], None], 0)
    assert all(found.cells[1].value is None for found in rows)
    assert comparison_rows([None, None], 0) == []


def test_the_page_shows_every_candidate_and_goes_back(window, qtbot):
    qtbot.mouseClick(window.bar.pages.button("compare"), Qt.MouseButton.LeftButton)
    page = window.pages.comparison
    assert page.isVisible()
    assert not window.canvas.isVisible()
    text = page.grid.accessibleDescription()
    for candidate in window.session.project.candidates:
        zeta = predict(window.session.project, candidate.id).modes[0].zeta
        assert f"{candidate.id} {100 * zeta:.2f} %" in text
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert window.canvas.isVisible()


def test_responses_are_those_of_the_engine_with_a_line_style_each(window):
    window.pages.compare()
    chart = window.pages.comparison.chart
    dashes = set()
    for candidate in window.session.project.candidates:
        response = predict(window.session.project, candidate.id).response
        _, y = chart.curve_data(candidate.id)
        assert y == pytest.approx(np.log10(np.abs(response.after)), rel=1e-12)
        dashes.add(chart.curve_dash(candidate.id))
    assert len(dashes) == len(window.session.project.candidates)


def test_the_comparison_follows_undo(window):
    window.bar.rename("B", "renamed")
    window.pages.compare()
    head = window.pages.comparison.table()[0]
    assert any("renamed" in cell for cell in head)
    window.session.undo_stack.undo()
    assert not any("renamed" in cell for cell in window.pages.comparison.table()[0])


def test_copied_and_saved_tables_hold_the_same_cells(window, tmp_path):
    window.pages.compare()
    page = window.pages.comparison
    page.findChild(QPushButton, "copyComparison").click()
    copied = [line.split("\t") for line in QGuiApplication.clipboard().text().splitlines()]
    assert "<td>" in QGuiApplication.clipboard().mimeData().html()
    page.write_csv(str(tmp_path / "candidates.csv"))
    with (tmp_path / "candidates.csv").open(encoding="utf-8-sig", newline="") as text:
        saved = [[cell.replace("\n", "; ") for cell in line] for line in csv.reader(text)]
    assert saved == copied
    labels = [line[0] for line in copied]
    for wanted in ("Damping, mode 1", "Peak, mode 1", "Settles to 5 %", "Added mass", "Circuit"):
        assert any(label.startswith(wanted) for label in labels), wanted
    assert "Input that differs" in labels


def test_a_spoiled_candidate_says_why_and_the_others_stay(window):
    project = window.session.project
    from msgspec.structs import replace as changed

    patch = changed(project.candidate("B").patches[0], x_start_m=0.29)
    window.session.apply("Spoil B", edit.with_patch(project, "B", patch))
    window.pages.compare()
    columns = window.pages.comparison.grid._columns
    assert "tip" in columns[1].trouble
    assert columns[0].trouble == ""


def test_the_differing_inputs_are_listed(window):
    window.pages.compare()
    text = window.pages.comparison.differences._text.text()
    assert "ceramic starts at" in text
    assert "120 mm" in text


def test_underlining_the_better_value_leaves_the_programs_fonts_alone(window, qtbot):
    window.pages.compare()
    qtbot.waitUntil(lambda: not window.grab().isNull())
    assert not any(look.font(size, bold=bold).underline() for size in (11, 12, 13) for bold in (False, True))


def asked(project, **wanted):
    return edit.with_service(project, asked=Asked(**wanted))


def test_what_is_asked_for_is_judged_for_each_candidate_on_top(window):
    window.session.apply(
        "Ask", asked(window.session.project, modes=(1,), quantity="damping", values=(0.004,))
    )
    window.pages.compare()
    page = window.pages.comparison
    first = page._rows[0]
    assert first.label == "Asked for, mode 1"
    for cell, candidate in zip(first.cells, window.session.project.candidates, strict=True):
        zeta = predict(window.session.project, candidate.id).modes[0].zeta
        assert cell.text.startswith("✓" if zeta >= 0.004 else "✕")
        assert ("met" if zeta >= 0.004 else "missed") in cell.text
    assert {cell.text[0] for cell in first.cells} == {"✓", "✕"}


def test_the_limits_come_worst_first_with_their_margin(predictions):
    rows = [r for r in comparison_rows(predictions, 0) if r.note == "value of allowable, margin"]
    least = [min(x.margin for p in predictions for x in p.limits if x.name == r.label) for r in rows]
    assert least == sorted(least) and len(least) > 3
    assert all(
        "margin" in c.text or "limit" in c.text or "spare" in c.text or "loaded" in c.text
        for r in rows
        for c in r.cells
    )


def test_mode_shapes_lie_over_each_other_the_same_way_up(predictions):
    upside_down = replace(predictions[1].shapes, deflection=-predictions[1].shapes.deflection)
    turned = told_otherwise(predictions[1], shapes=upside_down)
    for mode in (1, 2, 3):
        (_, x, first), (letter, other_x, other) = overlaid([predictions[0], turned], mode)
        assert letter == "B"
        assert np.abs(first).max() == pytest.approx(1.0) and np.abs(other).max() == pytest.approx(1.0)
        assert np.interp(x, other_x, other) @ first > 0.0


def colour_in(picture, colour, top, height):
    """Number of pixels of a colour in a band of a picture."""
    image = picture.toImage()
    return sum(
        image.pixelColor(x, y) == colour for y in range(top, top + height) for x in range(0, image.width(), 2)
    )


def test_the_heads_stay_in_sight_while_the_table_scrolls(window, qtbot):
    window.resize(1280, 700)
    window.pages.compare()
    page = window.pages.comparison
    area = page.findChild(QScrollArea, "comparisonScroll")
    area.verticalScrollBar().setValue(400)
    qtbot.wait(20)
    seen = area.viewport().grab()
    for candidate in window.session.project.candidates:
        assert colour_in(seen, look.current().candidate(candidate.id), 0, 50) > 50
    whole = page.picture()
    assert colour_in(whole, look.current().candidate("A"), 400, 54) < 50


def test_the_table_can_be_saved_with_decimal_commas(window, tmp_path):
    window.pages.compare()
    page = window.pages.comparison
    page.write_csv(str(tmp_path / "candidates.csv"), decimal_comma=True)
    text = (tmp_path / "candidates.csv").read_text(encoding="utf-8-sig")
    plain = as_csv(
        [["", "A"], ["f1", "12.38 Hz"], ["of", "1.2.3"], ["band", "0.12 to 0.34 %"]], decimal_comma=True
    )
    assert plain.split("\r\n")[1:4] == ["f1;12,38 Hz", "of;1.2.3", "band;0,12 to 0,34 %"]
    assert ";" in text and re.search(r"\d,\d+ Hz", text) and not re.search(r"\d\.\d+ Hz", text)


def test_the_damping_is_read_in_the_narrowest_column(window, qtbot):
    window.resize(960, 600)
    window.pages.compare()
    table = window.pages.comparison.findChild(ComparisonGrid)
    qtbot.waitUntil(lambda: bool(table._rows))
    box = LEAST_COLUMN - 34.0
    needed = table._texts_beside()
    assert box - bar_width(box, needed) - 10.0 >= needed
    assert bar_width(box, needed) > 20.0
    bold, small = QFontMetricsF(look.font(12, bold=True)), QFontMetricsF(look.font(11))
    for told in (r for r in table._rows if r.mode is not None):
        for cell in told.cells:
            assert bold.horizontalAdvance(cell.text) + small.horizontalAdvance(cell.difference) <= needed


def test_a_limit_is_read_to_its_unit_in_the_narrowest_column(window, qtbot, monkeypatch):
    """"−0.00288 of 0.400 kV/m" was what the difference beside it left."""
    window.resize(960, 600)
    window.pages.compare()
    page = window.pages.comparison
    found = page.findChild(ComparisonGrid)
    qtbot.waitUntil(lambda: bool(found._rows))
    rows = [
        replace(one, cells=tuple(replace(c, text="−0.00288 of 0.400 kV/mm\nmargin 139", difference="−98.2 %", best=True) for c in one.cells))
        for one in found._rows
        if one.note.startswith("value of allowable")
    ]
    assert rows
    found.show_comparison(window.session.project.structure, found._columns, rows)
    found.resize(found.sizeHint())
    cut = []

    def drawn(p, box, where, text):
        if p.fontMetrics().horizontalAdvance(text) > box.width():
            cut.append(text)

    monkeypatch.setattr(grid, "_draw", drawn)
    found.grab()
    assert not any("kV/mm" in text or "margin" in text or "98.2" in text for text in cut), cut
