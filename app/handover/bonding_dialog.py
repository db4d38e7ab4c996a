"""The bonding record typed: a row a part, judged against the pass bands as it is typed."""

from __future__ import annotations

from typing import Any

import msgspec
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.fields import Column, NumberTable, column_for
from app.fields.plain import PlainLabel
from app.fields.table_model import Value
from app.fields.within_screen import resize_within
from app.panels.draft import DraftDialog
from app.shell.session import Session
from core.measured.bonded import PRESS_WORDS, judge_part, modes_asked
from core.project.bonded import BondedMode, BondedPart, read_of, with_read
from core.project.ceilings import MOST_BONDED
from core.project.ranges import Range
from core.study.tolerance.pass_bands import PassBands
from core.units import words

MOST_NAMED = 5
"""Parts out of band that are named under the table; each says the rest in its own cell."""


def asked_of(session: Session, parts: tuple[BondedPart, ...]) -> tuple[int, ...]:
    """Modes the record asks for, mode 1 where nothing is predicted."""
    prediction = session.prediction
    if prediction is None or session.stale or prediction.candidate != session.project.active:
        return tuple(sorted({1} | {m.number for part in parts for m in part.modes}))
    return modes_asked(prediction, parts)


class BondingDialog(DraftDialog):
    """Parts built as the active candidate. OK is one undo step, Cancel leaves all as it was."""

    title = "Edit bonding record"
    places = ("bonded",)

    def __init__(self, session: Session, bands: PassBands | None, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("bondingDialog")
        self.setWindowTitle("Bonding record")
        self._bands = bands
        self._candidate = session.project.candidate()
        parts = read_of(session.project.bonded, self._candidate.id)
        self._modes = asked_of(session, parts)
        of_parts = (part.group for part in parts)  # also of a group that is no longer there
        self._groups = tuple(dict.fromkeys((*(group.id for group in self._candidate.groups), *of_parts)))
        resize_within(self, 1180, 640)
        self.table = NumberTable("Readings", self._columns(), row_word="part", parent=self.page)
        self.table.model.most_rows = MOST_BONDED
        self.table.model.new_row = self._new_row
        self.table.edited.connect(self._take)
        self.named = PlainLabel("", self.page)
        self.named.setObjectName("bondingNamed")
        self.named.setWordWrap(True)
        layout = QVBoxLayout(self.page)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.named)
        self.refresh_all()

    def set_bands(self, bands: PassBands | None) -> None:
        """Judge with these bands, as soon as they are computed."""
        self._bands = bands
        self._show_verdicts()

    # ---- showing ---------------------------------------------------------------------------

    def refresh(self) -> None:
        if self.table.errors():
            return
        parts = read_of(self.draft.shown.bonded, self._candidate.id)
        if [self._part(row) for row in self.table.rows()] != list(parts):
            self.table.set_rows([self._row(part) for part in parts])
        self._show_verdicts()

    def cells_of(self, path: str) -> tuple[NumberTable, int, str] | None:
        """The cell of `bonded[2].after_f` or `bonded[2].modes[0].f_open_hz`."""
        number, _, rest = path.removeprefix("bonded[").partition("].")
        shown = self.draft.shown.bonded
        if not path.startswith("bonded[") or shown[int(number)].candidate != self._candidate.id:
            return None
        row = sum(part.candidate == self._candidate.id for part in shown[: int(number)])
        if rest.startswith("modes["):
            at, _, name = rest.removeprefix("modes[").partition("].")
            rest = f"{name}{shown[int(number)].modes[int(at)].number}"
        return (self.table, row, rest) if row < self.table.model.rowCount() else None

    def _show_verdicts(self) -> None:
        """K² and verdict of every row, and the parts that are out of band by name."""
        named = []
        for n, row in enumerate(self.table.rows()):
            part = self._part(row)
            judged = judge_part(part, self._bands)
            for mode in self._modes:
                k2 = part.mode(mode).k2
                self.table.model.show_fixed(n, f"k2{mode}", "" if k2 is None else words.unitless(words.coupling(k2)))
            self.table.model.show_fixed(n, "verdict", "" if judged.verdict == "nothing read" else judged.text)
            if judged.out:
                named.append(f"{part.serial or f'row {n + 1}'}: {judged.text}.")
        more = [f"... and {len(named) - MOST_NAMED} more parts."] if len(named) > MOST_NAMED else []
        told = "" if self._bands is not None else "The pass bands are not there yet: only insulation and press test are judged. "
        self.named.setText(told + "\n".join([*named[:MOST_NAMED], *more]))

    # ---- between rows and parts ---------------------------------------------------------------

    def _columns(self) -> tuple[Column, ...]:
        groups = tuple((name, name) for name in self._groups)
        press = (("", ""), *PRESS_WORDS.items())
        modes: list[Column] = []
        for n in self._modes:
            modes += [
                column_for("modes.f_short_hz", f"f{n} shorted", f"f_short_hz{n}", optional=True),
                column_for("modes.f_open_hz", f"f{n} open", f"f_open_hz{n}", optional=True),
                Column(f"k2{n}", f"K² {n}", "fixed", Range("%"), optional=True),
            ]
        return (
            Column("serial", "Serial", "text", default="", optional=True),
            *((Column("group", "Group", "choice", choices=groups, default=groups[0][0]),) if len(groups) > 1 else ()),
            column_for("bonded.before_f", "C before", optional=True),
            column_for("bonded.after_f", "C after", optional=True),
            column_for("bonded.insulation_ohm", optional=True),
            Column("press", "Press test", "choice", choices=press, default=""),
            *modes,
            Column("note", "Note", "text", default="", optional=True),
            Column("verdict", "Verdict", "fixed", optional=True),
        )

    def _new_row(self) -> dict[str, Value]:
        """A row without readings, whatever stands above it."""
        group = self._groups[0] if self._groups else ""
        row: dict[str, Value] = {column.key: None for column in self.table.model.columns}
        return row | {"serial": "", "group": group, "press": "", "note": ""}

    def _row(self, part: BondedPart) -> dict[str, Value]:
        row: dict[str, Value] = {
            "serial": part.serial, "group": part.group, "before_f": part.before_f, "after_f": part.after_f,
            "insulation_ohm": part.insulation_ohm, "press": part.press or "", "note": part.note,
        }  # fmt: skip
        for n in self._modes:
            row |= {f"f_short_hz{n}": part.mode(n).f_short_hz, f"f_open_hz{n}": part.mode(n).f_open_hz}
        return row

    def _part(self, row: dict[str, Any]) -> BondedPart:
        modes = (BondedMode(n, row[f"f_short_hz{n}"], row[f"f_open_hz{n}"]) for n in self._modes)
        return BondedPart(
            row["serial"] or "", self._candidate.id, row.get("group") or (self._groups[0] if self._groups else ""),
            row["before_f"], row["after_f"], row["insulation_ohm"], row["press"] or None,
            tuple(mode for mode in modes if not mode.empty), row["note"] or "",
        )  # fmt: skip

    def _take(self) -> None:
        if self.table.errors():
            self._show_verdicts()
            return
        parts = tuple(self._part(row) for row in self.table.rows())
        project = self.draft.project
        self.draft.apply("", msgspec.structs.replace(project, bonded=with_read(project.bonded, self._candidate.id, parts)))
