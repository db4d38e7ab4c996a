"""The patches of a group: polarity of each, and taking one out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QToolButton, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.panels import edits
from core.project import edit
from core.project.candidate import Group, Member

if TYPE_CHECKING:
    from app.shell.session import Session


class MemberLine(QWidget):
    """One patch: its name, a button that turns its polarity, a button that splits it off."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.patch, self.group_id = "", ""
        self.name = PlainLabel("", self)
        self.turn = QToolButton(self)
        self.turn.setToolTip("Exchange this patch's two leads")
        self.turn.clicked.connect(self._turn)
        self.split = QToolButton(self)
        self.split.setText("Split off")
        self.split.clicked.connect(self._split)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(6)
        line.addWidget(self.name, 1)
        line.addWidget(self.turn)
        line.addWidget(self.split)

    def show_member(self, group: Group, member: Member) -> None:
        """Tell this member of the group."""
        self.patch, self.group_id = member.patch, group.id
        sign = "+" if member.polarity > 0 else "\N{MINUS SIGN}"
        self.name.setText(f"Patch {member.patch}")
        self.turn.setText(f"dot to {sign}")
        self.turn.setObjectName(f"polarity {member.patch}")
        self.turn.setAccessibleName(f"Polarity of patch {member.patch}: dot to {sign}")
        self.split.setObjectName(f"split off {member.patch}")
        self.split.setAccessibleName(f"Split patch {member.patch} off into a group of its own")
        self.split.setVisible(len(group.members) > 1)

    @Slot()
    def _turn(self) -> None:
        project = edits.with_polarity_turned(self._session.project, self.group_id, self.patch)
        self._session.apply(f"Turn polarity of {self.patch}", project)

    @Slot()
    def _split(self) -> None:
        project = self._session.project
        self._session.apply("Split group", edit.move_to_group(project, project.active, self.patch, None))


class MemberList(QWidget):
    """A line per member."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._shown: Group | None = None
        self.lines: list[MemberLine] = []
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(3)

    def refresh(self, group: Group | None) -> None:
        """Show the group's members."""
        members = group.members if group else ()
        while len(self.lines) < len(members):
            line = MemberLine(self._session, self)
            before = self.lines[-1].split if self.lines else _reached_before(self)
            QWidget.setTabOrder(before, line.turn)
            QWidget.setTabOrder(line.turn, line.split)
            self.lines.append(line)
            self._layout.addWidget(line)
        for number, line in enumerate(self.lines):
            line.setVisible(number < len(members))
            if group is not None and number < len(members):
                line.show_member(group, members[number])


def _reached_before(widget: QWidget) -> QWidget:
    """What the Tab key reaches before a widget's place; the widget itself where there is nothing."""
    before = widget.previousInFocusChain()
    while before is not None and before is not widget and not before.focusPolicy() & Qt.FocusPolicy.TabFocus:
        before = before.previousInFocusChain()
    return before or widget
