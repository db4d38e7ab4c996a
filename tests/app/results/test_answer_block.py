"""The block with the answer paints again only what changed, and ends as if it had been painted whole."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QObject

from app.results.answer_block import AnswerBlock
from app.results.answer_lines import AnswerLines, ModeLine, Stress

LINES = AnswerLines(
    title=("Asked for: peak of mode 1 less by 40 % and of mode 2 by as much", "Asked for: −40 %"),
    state="missed",
    badge="missed",
    about=("resistor 90.5 kΩ · at 20 °C · bump", "resistor 90.5 kΩ"),
    modes=(ModeLine(1, "20.4 Hz", "0.40 → 0.61 %", "−24 %", ("16 points short",), False), ModeLine(2, "90.1 Hz", "0.40 → 0.45 %", "−9 %")),
    more_modes="",
    settling="settles in 5.84 → 4.43 s",
    settling_short=("met",),
    settling_met=True,
    limit=Stress(("Tensile strain", "Strain"), "43 %", ("310 of 720 µε · bump", "310 of 720 µε"), "3 more", "plain"),
)
OTHER_MODE = replace(LINES.modes[0], frequency="21.0 Hz", damping="0.40 → 0.93 %", peak="−43 %", short=("3 to spare",), met=True)


class Painted(QObject):
    """Rectangles of a widget that were painted."""

    def __init__(self, widget) -> None:
        super().__init__(widget)
        self.rects: list = []
        widget.installEventFilter(self)

    def eventFilter(self, widget, event) -> bool:
        if event.type() == QEvent.Type.Paint:
            self.rects.append(event.rect())
        return False


@pytest.fixture
def block(qtbot):
    made = AnswerBlock()
    qtbot.addWidget(made)
    made.show_lines(LINES)
    made.show_doubt("Permittivity", ("assumed; peak of mode 1 may be −28 to −20 %", "−28 %"), "type it ›")
    made.resize(340, made.sizeHint().height())
    with qtbot.waitExposed(made):
        made.show()
    qtbot.wait(20)
    return made


def on_screen(block):
    return block.screen().grabWindow(block.winId()).toImage()


@pytest.mark.parametrize(
    ("lines", "whole"),
    [
        (replace(LINES, modes=(OTHER_MODE, LINES.modes[1])), False),
        (replace(LINES, about=("resistor 88.0 kΩ",), settling="settles in 5.84 → 3.10 s"), False),
        (replace(LINES, badge="met", state="met"), True),
        (replace(LINES, limit=replace(LINES.limit, share="57 %")), True),
        (replace(LINES, modes=LINES.modes[:1]), True),
    ],
)
def test_what_stays_is_not_painted_again(qtbot, block, lines, whole):
    painted, before = Painted(block), on_screen(block)
    block.show_lines(lines)
    qtbot.waitUntil(lambda: bool(painted.rects))
    assert [rect.height() == block.height() for rect in painted.rects] == [whole] * len(painted.rects)
    after = on_screen(block)
    assert after != before
    told, cut = list(block._told), block.cut_texts
    block.update()
    qtbot.wait(20)
    assert on_screen(block) == after
    assert block.cut_texts == cut
    assert sorted((t for _, t, _ in block._told)) == sorted(t for _, t, _ in told)


def test_another_look_or_size_is_painted_whole(qtbot, block):
    painted = Painted(block)
    block.show_lines(LINES, faded=True)
    qtbot.waitUntil(lambda: bool(painted.rects))
    assert painted.rects[-1].height() == block.height()
