"""The page of the prototype in the real window: drop, read, verdict, say otherwise, correct, undo."""

from __future__ import annotations

import time

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton, QToolButton

from core.handover.text.decision_record import decision_record
from core.handover.text.markdown import document_markdown
from core.handover.text.pages import document_pages
from core.measured.evaluate import evaluate
from core.measured.kept import measurement_of, read_capacitances
from core.measured.root import with_root
from core.measured.thinned import thinned
from core.predict.predict import predict
from core.project import edit
from core.project.bonded import BondedPart
from core.project.measurement import MeasuredFile
from core.project.model import Origin
from core.project.structure import Support
from tests.core.measured.bench import lab, record, struck

READ_MS = 60_000


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A shorted and an open record of the lab beam on a soft root."""
    made = tmp_path_factory.mktemp("page")
    part = with_root(lab(), Support("elastic", 5e8, 200.0))
    for name, is_open in (("pluck shorted.csv", False), ("pluck open.csv", True)):
        block = record(part, is_open=is_open, seed=int(is_open), length_s=6.0)
        table = np.stack([block.axis, 1e3 * block.channels[0].values], axis=1)
        np.savetxt(made / name, table, fmt="%.6f", delimiter=";", header="Time (s);tip (mm)", comments="")
    return made


@pytest.fixture(scope="module")
def known():
    return {}


@pytest.fixture(autouse=True)
def judged_once(monkeypatch, known):
    """What the same records say of the same project is worked out once for all tests here."""

    def judged(entries, project, candidate_id, **given):
        files = [(e.name, e.recording.sha256, e.recording.understood, e.leads, e.window_s, e.exponential_window_s) for e in entries]
        asked = repr((project, candidate_id, files, [e.resistance_ohm for e in entries], sorted(given.items())))
        if asked not in known:
            known[asked] = evaluate(entries, project, candidate_id, **given)
        return known[asked]

    monkeypatch.setattr("app.measured.work.evaluate", judged)


def drop(window, *paths):
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(p)) for p in paths])
    window.dropEvent(
        QDropEvent(QPointF(400, 300), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
    )


def wait_for(qtbot, page):
    qtbot.waitUntil(lambda: not page._job.busy and page.outcome is not None, timeout=READ_MS)


@pytest.fixture
def measured(window, qtbot, folder):
    """The page with both records read."""
    drop(window, folder / "pluck shorted.csv", folder / "pluck open.csv")
    page = window.pages.measured
    wait_for(qtbot, page)
    return page


def test_two_files_dropped_at_once_give_the_verdict(window, measured):
    assert window.pages.currentWidget() is measured
    assert measured.findings.verdict.title.text() == "The bond is good. The root is softer than drawn."
    assert "k_r L/EI" in measured.findings.verdict.text.text()
    (first, second) = measurement_of(window.session.project).files
    assert (first.leads, second.leads) == ("shorted", "open")
    assert window.session.undo_stack.undoText() == "Add measured 2 files"
    assert any(s.startswith("frequency, shorted, mode 1: 18.7") for s in measured.findings.ratios.sentences())
    assert [row.mode for row in measured.findings.modes.rows()] == [1, 2, 3]
    assert measured.findings.overlay_about.text() == "solid line measured scaled to its peak, dashed predicted, leads shorted"
    x, y = measured.findings.envelope.curve_data("envelope")
    assert len(x) > 20 and y[0] > y[-1]


def test_the_correction_is_one_step_and_marks_the_root_as_measured(window, qtbot, measured):
    correct = measured.correction
    before = window.session.project
    (drawn_for,) = (v.value for v in window.session.prediction.groups[0].values)
    assert correct.switches["structure.root.k_r_nm_rad"].value()
    QTest.mouseClick(correct.work, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: correct.correction is not None, timeout=READ_MS)
    assert correct.take.isVisible() and "rigid → " in correct.told["structure.root.k_r_nm_rad"].text()
    assert any(s.startswith("f1: −5.") and "→ 0" in s for s in correct.left.sentences())
    QTest.mouseClick(correct.take, Qt.MouseButton.LeftButton)
    project = window.session.project
    assert project.structure.root.k_r_nm_rad == pytest.approx(200.0, rel=0.03)
    assert project.origins["structure.root.k_r_nm_rad"].source == "pluck shorted.csv, pluck open.csv"
    # the resistor is tuned to mode 1, which the soft root has brought down by 5 %: R omega C stays what it was
    qtbot.waitUntil(lambda: window.session.prediction.modes[0].f_short_hz < 19.0, timeout=READ_MS)
    (tuned_anew,) = (v.value for v in window.session.prediction.groups[0].values)
    was, now = predict(before).modes[0].f_short_hz, window.session.prediction.modes[0].f_short_hz
    assert tuned_anew / drawn_for == pytest.approx(was / now, rel=0.01) and was / now > 1.04
    wait_for(qtbot, measured)
    assert measured.findings.verdict.title.text() == "The bond is good."
    window.session.undo_stack.undo()
    assert window.session.project == before


def test_taking_the_correction_keeps_what_was_done_since_it_was_worked_out(window, qtbot, measured):
    """It put the whole project back to what had been measured: notes, names and what was kept of the verdict were lost."""
    correct, session = measured.correction, window.session
    QTest.mouseClick(correct.work, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: correct.correction is not None, timeout=READ_MS)
    QTest.mouseClick(measured.findings.keep, Qt.MouseButton.LeftButton)
    session.apply("Note", replace(session.project, notes="second plate", origins={**session.project.origins, "structure.width_m": Origin("measured", "calliper")}))
    before = session.project
    assert measurement_of(before).kept is not None and correct.take.isVisible()
    QTest.mouseClick(correct.take, Qt.MouseButton.LeftButton)
    project = session.project
    assert project.structure.root.k_r_nm_rad == pytest.approx(200.0, rel=0.03)
    assert project.notes == "second plate" and measurement_of(project).kept == measurement_of(before).kept
    assert project.origins["structure.width_m"].source == "calliper" and project.origins["structure.root.k_r_nm_rad"].status == "measured"


def test_a_correction_of_what_has_changed_since_is_none_to_take(window, qtbot, measured):
    correct, session = measured.correction, window.session
    QTest.mouseClick(correct.work, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: correct.correction is not None, timeout=READ_MS)
    session.apply("Move", edit.with_structure(session.project, name="another"))
    assert not correct.take.isVisible() and correct.correction is None
    wait_for(qtbot, measured)
    assert correct.work.isEnabled()


def test_a_file_taken_away_and_undone_is_back(window, qtbot, measured):
    button = measured.findChild(QToolButton, "remove pluck open.csv")
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert [f.name for f in measurement_of(window.session.project).files] == ["pluck shorted.csv"]
    wait_for(qtbot, measured)
    assert "judged" in measured.findings.verdict.title.text()
    window.session.undo_stack.undo()
    wait_for(qtbot, measured)
    assert measured.findings.verdict.title.text().startswith("The bond is good")


def test_a_missing_file_is_said_and_the_rest_goes_on(window, qtbot, folder, tmp_path):
    gone = tmp_path / "second open.csv"
    gone.write_bytes((folder / "pluck open.csv").read_bytes())
    drop(window, folder / "pluck shorted.csv", gone)
    gone.unlink()
    page = window.pages.measured
    wait_for(qtbot, page)
    page._reader._known.clear()
    page._asked_for = ()
    page.refresh()
    wait_for(qtbot, page)
    qtbot.waitUntil(lambda: "second open.csv" in page.troubles.text(), timeout=READ_MS)
    assert "any more" in page.troubles.text() and page.findings.modes.rows()


def test_a_name_that_tells_no_state_asks_for_it_on_its_card(window, qtbot, folder, tmp_path, pick_on):
    plain = tmp_path / "a.csv"
    plain.write_bytes((folder / "pluck shorted.csv").read_bytes())
    drop(window, plain)
    page = window.pages.measured
    wait_for(qtbot, page)
    assert "say what hung on the leads" in page.troubles.text()
    pick_on(page.files.cards[0].leads, "shorted")
    wait_for(qtbot, page)
    qtbot.waitUntil(lambda: bool(page.findings.modes.rows()), timeout=READ_MS)
    assert measurement_of(window.session.project).files[0].leads == "shorted"


@pytest.fixture
def pick_on():
    """Chooses the option of a key, as a person does."""

    def picked(field, key):
        index = [option for option, _ in field._options].index(key)
        field.setCurrentIndex(index)
        field.activated.emit(index)

    return picked


def test_a_guess_is_shown_once_and_can_be_told_otherwise(window, qtbot, folder, tmp_path):
    bare = tmp_path / "bare shorted.txt"
    lines = (folder / "pluck shorted.csv").read_text(encoding="utf-8").splitlines()[1:]
    bare.write_text("\n".join(lines) + "\n", encoding="utf-8")
    drop(window, bare)
    page = window.pages.measured
    wait_for(qtbot, page)
    right = page.findChild(QPushButton, "right bare shorted.txt")
    assert right is not None
    qtbot.waitUntil(right.isVisible, timeout=READ_MS)
    QTest.mouseClick(right, Qt.MouseButton.LeftButton)
    assert measurement_of(window.session.project).files[0].confirmed
    wait_for(qtbot, page)
    qtbot.waitUntil(lambda: not [b for b in page.findChildren(QPushButton, "right bare shorted.txt") if b.isVisible()], timeout=READ_MS)
    f1 = page.outcome.evaluation.shorted[1].f_hz
    dialog = page.say_otherwise("bare shorted.txt")
    dialog.units[0].setText("furlong")
    dialog.accept()
    assert "no unit that is known" in dialog.problem.text() and dialog.isVisible()
    dialog.units[0].setText("mm")
    dialog.accept()
    wait_for(qtbot, page)
    file: MeasuredFile = measurement_of(window.session.project).files[0]
    assert file.told.units == ("", "mm")
    qtbot.waitUntil(lambda: page.outcome.evaluation is not None and page.outcome.measurement.files[0].told.units == ("", "mm"), timeout=READ_MS)
    assert page.outcome.evaluation.shorted[1].f_hz == pytest.approx(f1, rel=1e-6)


def test_what_is_kept_stands_in_the_record_and_on_the_response(window, qtbot, measured):
    assert measured.findings.keep.isEnabled()
    QTest.mouseClick(measured.findings.keep, Qt.MouseButton.LeftButton)
    project = window.session.project
    assert window.session.undo_stack.undoText() == "Keep what was measured"
    assert not measured.findings.keep.isEnabled() and measured.findings.keep.text() == "Kept in the record"
    record = decision_record(project, "A", {"A": window.session.prediction.whole()})
    text = document_markdown(record)
    assert "What the prototype did" in text and "The bond is good. The root is softer than drawn." in text
    assert "frequency, shorted, mode 1" in text and len(document_pages(record, "A4")) == 2
    window.pages.show_drawing()
    qtbot.waitUntil(lambda: "Measured: mode 1 18.7" in window.results.response.accessibleDescription(), timeout=READ_MS)
    window.session.undo_stack.undo()
    qtbot.waitUntil(lambda: window.results.response.accessibleDescription() == "", timeout=READ_MS)


def test_an_end_of_the_part_looked_at_is_dragged(window, qtbot, measured):
    chart = measured.findings.record
    before = chart.window_shown()
    area = chart._area()
    end = area.x_px(np.array(before))[1]
    middle = round(area.box.center().y())
    QTest.mousePress(chart, Qt.MouseButton.LeftButton, pos=QPoint(round(end), middle))
    QTest.mouseMove(chart, QPoint(round(end) - 60, middle))
    QTest.mouseRelease(chart, Qt.MouseButton.LeftButton, pos=QPoint(round(end) - 60, middle))
    file = measurement_of(window.session.project).files[0]
    assert file.window_s[0] == pytest.approx(before[0], abs=1e-3) and 3.0 < file.window_s[1] < before[1] - 0.3
    wait_for(qtbot, measured)
    assert measured.findings.record.window_shown()[1] == pytest.approx(file.window_s[1], abs=1e-3)
    window.session.undo_stack.undo()
    assert measurement_of(window.session.project).files[0].window_s is None


def test_a_bench_field_is_one_step_and_counts(window, qtbot, measured):
    field = measured.files.fields["resistance_ohm"]
    field.setFocus()
    QTest.keyClicks(field, "1")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert measurement_of(window.session.project).bench.instrument.resistance_ohm == pytest.approx(1e6)
    assert window.session.undo_stack.undoText() == "Change what stood on the bench"


def test_a_capacitance_is_typed_once_in_the_bonding_record(window, qtbot, measured):
    def told():
        return [row for row in measured.findings.ratios.sentences() if row.startswith("capacitance")]

    assert not told()
    part = BondedPart("S-017", "A", "G1", before_f=68e-9, after_f=66e-9)
    window.session.apply("Enter readings", replace(window.session.project, bonded=(part,)))
    serial = measured.files.serial
    serial.setFocus()
    QTest.keyClicks(serial, "S-017")
    QTest.keyClick(serial, Qt.Key.Key_Return)
    wait_for(qtbot, measured)
    qtbot.waitUntil(lambda: any("66.00 nF over" in row for row in told()), timeout=READ_MS)
    field = measured.files.fields["capacitance_f"]
    assert field.text() == "" and field.placeholderText() == "from the record" and "66.00 nF in the bonding record" in field.toolTip()
    assert measurement_of(window.session.project).capacitance_f is None
    field.setFocus()  # a value typed here goes before
    QTest.keyClicks(field, "70")
    QTest.keyClick(field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: any("70.00 nF over" in row for row in told()), timeout=READ_MS)
    assert read_capacitances(window.session.project) == pytest.approx((68e-9, 70e-9))


def test_a_short_table_dropped_alone_is_still_an_outline(window, tmp_path, monkeypatch):
    table = tmp_path / "widths.csv"
    table.write_text("x;width\n0;30\n300;30\n", encoding="utf-8")
    opened = []
    monkeypatch.setattr(window, "import_outline", opened.append)
    drop(window, table)
    assert opened == [table] and window.pages.measured is None


def test_ten_million_samples_are_thinned_without_losing_a_peak():
    values = np.zeros(10_000_000)
    values[6_543_210] = 1.0
    begun = time.process_time()
    x, y = thinned(values, 0.0, 1e-5, 0.0, 100.0)
    assert time.process_time() - begun < 0.5
    assert len(x) < 7000 and y.max() == 1.0 and x[np.argmax(y)] == pytest.approx(65.4321, abs=0.1)
    x, y = thinned(values, 0.0, 1e-5, 65.43, 65.435)
    assert len(x) < 600 and x[np.argmax(y)] == pytest.approx(65.4321, abs=1e-4)


def test_coherence_of_two_blows_stands_under_the_response(window, qtbot, tmp_path):
    paths = []
    for n in range(2):
        block = struck(lab(), seed=n, noise=0.05)
        table = np.stack([block.axis, 1e3 * block.responses[0].values, block.force.values], axis=1)
        paths.append(tmp_path / f"blow {n} shorted.csv")
        np.savetxt(paths[-1], table, fmt="%.9g", delimiter=";", header="Time (s);tip (mm);hammer (N)", comments="")
    drop(window, *paths)
    page = window.pages.measured
    wait_for(qtbot, page)
    qtbot.waitUntil(page.findings.coherence.isVisible, timeout=READ_MS)
    assert page.findings.coherence_about.text().startswith("Coherence at the peaks (2 records): mode 1 1.00")
    x, y = page.findings.coherence.curve_data("coherence")
    assert len(x) > 100 and y.min() >= 0.0 and y.max() <= 1.0
    assert page.findings.coherence.shown_range[0] == pytest.approx(page.findings.overlay.shown_range[0], abs=0.05)


def test_a_decay_has_no_coherence_to_show(measured):
    assert not measured.findings.coherence.isVisible() and not measured.findings.coherence_about.isVisible()
