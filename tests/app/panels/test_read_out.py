"""A row that only tells something: whatever it says, the panel around it is not laid out anew."""

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.panels.bound import ReadOut


class Requests(QObject):
    """Counts the layouts that a widget is asked for."""

    def __init__(self, widget) -> None:
        super().__init__(widget)
        self.count = 0
        widget.installEventFilter(self)

    def eventFilter(self, widget, event) -> bool:
        self.count += event.type() == QEvent.Type.LayoutRequest
        return False


def test_other_words_ask_for_no_layout(qtbot):
    panel = QWidget()
    qtbot.addWidget(panel)
    column, row = QVBoxLayout(panel), ReadOut("Capacitance")
    column.addWidget(row)
    row.tell("91.4 nF")
    panel.resize(300, 80)
    with qtbot.waitExposed(panel):
        panel.show()
    qtbot.wait(20)
    asked, place = (Requests(panel), Requests(row)), row.told.geometry()
    row.tell("91.4 nF, free 104 nF, and much more than there is room for in a panel of this width")
    qtbot.wait(20)
    assert [one.count for one in asked] == [0, 0]
    assert row.told.geometry() == place and row.told.isVisible()
    assert row.told.toolTip().startswith("91.4 nF, free")
    panel.resize(500, 80)
    assert row.told.width() > place.width()
