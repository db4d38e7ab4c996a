"""What a person types into a quantity field, and what the field makes of it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.fields import ChoiceField, QuantityField
from core.project.ranges import Range


@pytest.fixture
def field(qtbot):
    made = QuantityField(Range("mm", 0.0, 5.0, above=True), "Span")
    qtbot.addWidget(made)
    made.set_value(0.3)
    return made


def type_into(field, text):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)
    QTest.keyClick(field, Qt.Key.Key_Return)


@pytest.mark.parametrize(
    ("text", "value"),
    [("37.5", 0.0375), ("37,5", 0.0375), ("1.5 in", 0.0381), ("0.5in", 0.0127), ("12 cm", 0.12)],
)
def test_any_unit_and_a_decimal_comma(qtbot, field, text, value):
    with qtbot.waitSignal(field.committed) as caught:
        type_into(field, text)
    assert caught.args[0] == pytest.approx(value, rel=1e-12)
    assert field.value() == pytest.approx(value, rel=1e-12)
    assert field.error() == ""


def test_a_bad_text_stays_and_says_why(qtbot, field):
    said = []
    field.error_changed.connect(said.append)
    type_into(field, "abc")
    assert field.text() == "abc"
    assert field.value() == 0.3
    assert "abc" in field.error() and said[-1] == field.error()
    field.set_value(0.3)
    assert field.text() == "abc", "a refresh with the same value must not wipe what was typed"
    type_into(field, "310")
    assert field.error() == "" and field.value() == pytest.approx(0.31)


def test_out_of_range_names_value_and_bound(field):
    type_into(field, "-5")
    assert "−5 mm" in field.error() and "0 mm" in field.error()
    type_into(field, "6 m")
    assert "6000 mm" in field.error() and "5000 mm" in field.error()
    assert field.value() == 0.3


def test_escape_restores(field):
    type_into(field, "abc")
    QTest.keyClick(field, Qt.Key.Key_Escape)
    assert field.text() == "300"
    assert field.error() == ""


def test_untouched_field_never_commits_its_rounded_text(qtbot, field):
    field.set_value(0.1 + 1e-9)
    with qtbot.assertNotEmitted(field.committed):
        field.setFocus()
        QTest.keyClick(field, Qt.Key.Key_Return)
        field.clearFocus()
    assert field.value() == 0.1 + 1e-9


def test_focus_out_commits(qtbot, field):
    with qtbot.waitActive(field):
        field.show()
        field.activateWindow()
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "250")
    field.clearFocus()
    assert field.value() == pytest.approx(0.25)


def test_arrow_steps_preview_and_become_one_commit(qtbot, field):
    seen, committed = [], []
    field.previewed.connect(seen.append)
    field.committed.connect(committed.append)
    field.set_value(0.0375)
    for _ in range(3):
        QTest.keyClick(field, Qt.Key.Key_Up)
    QTest.keyClick(field, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    field.set_value(seen[-1])  # the echo of the preview
    assert seen == pytest.approx([0.0385, 0.0395, 0.0405, 0.0404])
    assert committed == []
    qtbot.waitUntil(lambda: committed == [pytest.approx(0.0404)], timeout=3000)


def test_optional_field_can_be_emptied(qtbot):
    field = QuantityField(Range("g", 0.0), "Weighed", optional=True)
    qtbot.addWidget(field)
    field.set_value(0.0482)
    with qtbot.waitSignal(field.cleared):
        field.setFocus()
        field.clear()
        field.setModified(True)
        QTest.keyClick(field, Qt.Key.Key_Return)
    assert field.value() is None


def test_told_error_is_shown_until_taken_back(field):
    field.show_error("Patch P1 ends past the tip.")
    assert field.error() == "Patch P1 ends past the tip."
    assert field.accessibleDescription() == field.error()
    field.show_error("")
    assert field.error() == ""


def test_accessible_name_has_label_and_unit(field):
    assert field.accessibleName() == "Span, mm"


def test_a_list_too_narrow_for_its_choice_ends_it_with_dots(qtbot):
    """"vortex lock-in nea" ended in half a word, as if that were its name."""
    field = ChoiceField("Under", [("a", "vortex lock-in near mode 2"), ("b", "tip force")])
    field.set_value("a")
    qtbot.addWidget(field)
    field.resize(110, 26)
    assert field.shown_text().endswith("…") and field.shown_text() != field.currentText()
    as_long = ChoiceField("Under", [("a", field.shown_text())])
    as_long.set_value("a")
    qtbot.addWidget(as_long)
    as_long.resize(110, 26)
    assert field.grab().toImage() == as_long.grab().toImage()
    field.resize(400, 26)
    assert field.shown_text() == "vortex lock-in near mode 2"


def test_a_list_in_which_nothing_is_chosen_says_what_it_is_for(qtbot):
    field = ChoiceField("Kind of new load", [("a", "tip force")])
    field.setPlaceholderText("Add a load case...")
    qtbot.addWidget(field)
    field.resize(200, 26)
    assert field.shown_text() == "Add a load case..."
    told = field.grab().toImage()
    field.setPlaceholderText("")
    assert field.grab().toImage() != told
