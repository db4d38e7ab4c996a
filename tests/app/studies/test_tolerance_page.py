"""The tolerance page in the real window: form, bands, causes, cancel, bands in the results, the sheet."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QPushButton

from app.fields import QuantityField
from app.shell import workers
from core.project.edit import with_candidate, with_structure
from core.project.model import Tolerance
from core.units import words

BOND = "candidates[A].patches[P1].bond.thickness_m"
CLAMP = "structure.root.kind"


@pytest.fixture(autouse=True)
def threads(monkeypatch):
    """Threads in place of the worker processes, which take a second to start; one test uses those."""
    with ThreadPoolExecutor(2) as pool:
        monkeypatch.setattr(workers, "pool", lambda: pool)
        yield


@pytest.fixture
def page(window, qtbot):
    window.pages.show_tolerance()
    found = window.pages.studies.tolerance
    found.form.samples.set_value(300)
    qtbot.waitUntil(lambda: window.session.tolerance is not None, timeout=20_000)
    return found


def _enter(qtbot, field: QuantityField, text: str) -> None:
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def _fresh(page, qtbot) -> None:
    """Wait for the study of the project as it is now."""
    qtbot.waitUntil(lambda: not page.progress.bar.isHidden(), timeout=5_000)
    qtbot.waitUntil(lambda: page.progress.bar.isHidden(), timeout=20_000)


def test_it_runs_by_itself_and_says_what_came(page, window):
    assert page.progress.words.text().startswith("300 samples of ")
    assert page.verdict.text().startswith("Nine in ten parts have at least 0.4")
    assert len(page.bands.sentences()) == window.session.project.view.modes_shown
    assert any("Permittivity" in text for text in page.causes.sentences())


def test_its_table_is_copied_before_and_after_a_study(page, window, qtbot):
    window.copy_table()
    lines = QGuiApplication.clipboard().text().split("\n")
    modes = window.session.tolerance.modes
    assert lines[0].startswith("Quantity\tP10")
    assert f"Mode 1, damping ratio\t{words.percent(modes[0].zeta.p10)}" in lines[1]
    for m in modes:
        shares = [line.split("\t")[1] for line in lines if line.startswith(f"Mode {m.number}, share of the damping's scatter")]
        assert sum(int(share.removesuffix(" %")) for share in shares) == 100


def test_without_a_study_an_empty_table_is_copied(window):
    window.pages.show_tolerance()
    QGuiApplication.clipboard().setText("before")
    window.copy_table()
    assert QGuiApplication.clipboard().text() == ""


def test_escape_in_a_field_leaves_the_field_and_only_then_the_study(page, window, qtbot):
    field = page.form.samples
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert page.isVisible() and not field.hasFocus()
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Escape)
    assert not page.isVisible()


def test_a_tolerance_is_one_undo_step_and_counts(page, window, qtbot):
    before = window.session.tolerance.modes[0].zeta
    row = page.form.rows["packages[Type II, 50 x 25 x 0.25].ceramic.eps33t_relative"]
    _enter(qtbot, row.plus_minus, "0")
    _fresh(page, qtbot)
    project = window.session.project
    assert project.tolerances[row._item.path] == Tolerance(0.0)
    after = window.session.tolerance.modes[0].zeta
    assert after.p90 - after.p10 < 0.9 * (before.p90 - before.p10)
    window.session.undo_stack.undo()
    assert window.session.project.tolerances == {}


def test_not_known_is_a_range(page, window, qtbot):
    page.form.rows[BOND].unknown.click()
    _fresh(page, qtbot)
    row = page.form.rows[BOND]
    assert row.low.isVisible() and not row.plus_minus.isVisible()
    _enter(qtbot, row.high, "0.1 mm")
    assert window.session.project.tolerances[BOND].unknown == pytest.approx((25e-6, 100e-6))
    _enter(qtbot, row.low, "200")
    assert "less than" in row.value.text()
    assert window.session.project.tolerances[BOND].unknown == pytest.approx((25e-6, 100e-6))


def test_a_clamp_nobody_knows(page, window, qtbot):
    page.form.rows[CLAMP].unknown.click()
    _fresh(page, qtbot)
    result = window.session.tolerance
    root = next(i for i in result.inputs if i.path == CLAMP)
    assert root.kind == "clamp" and root.high == pytest.approx(1 / 50)
    assert result.modes[0].f_short_hz.p90 < window.session.prediction.modes[0].f_short_hz * 1.02


def test_cancel_stops_and_another_wish_starts_again(page, qtbot):
    page.form.samples.set_value(10_000)
    page.form.asked.emit()
    qtbot.waitUntil(lambda: not page.progress.bar.isHidden(), timeout=5_000)
    page.progress.cancel.click()
    assert page.progress.words.text().startswith("Cancelled")
    page.form.samples.set_value(300)
    page.form.asked.emit()
    qtbot.waitUntil(lambda: page.progress.words.text().startswith("300 samples"), timeout=20_000)


def test_bands_stay_with_the_layout_they_belong_to(page, window):
    session, panel = window.session, window.results
    assert len(panel.bars._bands) == session.project.view.modes_shown
    assert panel.response.has_band
    patch = session.project.candidate().patches[0]
    from core.project import edit

    session.apply("Move P1", edit.with_patch(session.project, "A", _moved(patch)))
    assert session.tolerance is None and panel.bars._bands == ()
    assert not panel.response.has_band
    session.undo_stack.undo()
    assert session.tolerance is not None and panel.bars._bands


def _moved(patch):
    from msgspec.structs import replace

    return replace(patch, x_start_m=patch.x_start_m + 2e-3)


def test_the_allowed_misplacement_goes_on_the_sheet(page, window, qtbot):
    button = page.misplacement.findChild(QPushButton, "useTolerance")
    qtbot.waitUntil(button.isVisible, timeout=10_000)
    assert "a twentieth of mode 1's damping is lost" in page.misplacement.words.text()
    button.click()
    value = page.misplacement.found.tolerances_x_m
    room = page.misplacement.found.room
    assert 0.0 < value[0] <= room.tip.room_m and value[1] <= room.root.room_m
    assert window.session.project.sheet.tolerances_x_m == value
    assert not button.isEnabled()
    window.session.undo_stack.undo()
    assert window.session.project.sheet.tolerances_x_m != value


def test_another_mode_shows_its_own_causes(page, qtbot):
    page.bands.setFocus()
    first = page._causes_head.text()
    qtbot.keyClick(page.bands, Qt.Key.Key_Down)
    assert page._causes_head.text() != first and "mode 2" in page._causes_head.text()


def test_without_a_patch_it_says_so(window, qtbot):
    window.delete_patch()
    window.pages.show_tolerance()
    page = window.pages.studies.tolerance
    qtbot.waitUntil(lambda: "no patch" in page.verdict.text(), timeout=10_000)


@pytest.mark.slow
def test_worker_processes_give_the_same_numbers(page, window, qtbot, monkeypatch):
    first = window.session.tolerance.modes
    monkeypatch.undo()
    page._key = None
    page.form.asked.emit()
    _fresh(page, qtbot)
    assert window.session.tolerance.modes == first
    workers.close()


def test_it_says_how_the_samples_of_a_level_are_worked(page, window, qtbot):
    session = window.session
    for level, told in (("section", False), ("shear", True)):
        session.apply("Change sections", with_structure(session.project, level=level))
        qtbot.waitUntil(lambda told=told: page.how.isVisible() == told, timeout=20_000)
    assert page.how.text().startswith("Samples are worked with sections free across and carried over")


def test_it_opens_on_the_mode_that_the_layout_serves(window, qtbot):
    project = window.session.project
    candidate = project.candidate()
    group = candidate.groups[0]
    tuned = replace(group.circuit, tuning=replace(group.circuit.tuning, mode=2))
    changed = replace(candidate, groups=(replace(group, circuit=tuned), *candidate.groups[1:]))
    window.session.apply("Tune", with_candidate(project, changed))
    window.pages.show_tolerance()
    page = window.pages.studies.tolerance
    page.form.samples.set_value(300)
    qtbot.waitUntil(lambda: window.session.tolerance is not None, timeout=20_000)
    assert page.bands.mode == 2
    assert page._causes_head.text() == "Where the spread of mode 2's damping comes from"
    assert "in mode 2" in page.verdict.text()


@pytest.mark.parametrize("height", range(700, 1101, 50))
def test_names_of_inputs_keep_their_feet_at_every_height(window, page, height):
    """Where the rows nearly fitted they were squeezed, and a g or a y had no foot."""
    window.resize(1440, height)
    QApplication.processEvents()
    for row in page.form.rows.values():
        assert row.label.height() >= row.label.fontMetrics().height(), row.label.text()
