"""A section about one thing whose values may follow a tuning rule: a circuit on its leads, a tuned mass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from app.fields import ChoiceField, FormRow, list_for
from app.fields.plain import PlainLabel
from app.panels import words
from app.panels.paths import value_at
from app.panels.section import InputSection, set_shown
from app.theme import look
from core.project.candidate import Tuning
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session

FOLLOWS = ((False, "fixed"), (True, "follow the model"))


class TunedSection(InputSection):
    """Rows of the rule, and the remarks of the last good prediction under everything else.

    Subclasses say what the rows show (`drawn_from`), write what follows the model (`write_follows`) and tell
    results (`refresh_results`, which the window calls whenever there is another prediction).
    """

    def __init__(self, session: Session, title: str, parent: QWidget | None = None) -> None:
        super().__init__(session, title, parent)
        self._drawn: tuple[object, ...] = ()

    # -- building ------------------------------------------------------------------------------

    def build_rule(self, place: str, tuning: str, tuned: str, *, of: str = "", title: str = "") -> None:
        """Rows for whether the values at the path `place` follow the model, and for the rule at `tuning`.

        tuned : "Tuned on" or as it is called here; of : what the fields are of, for who hears them; title : of the
        undo step that lets them follow or holds them."""
        self.follows = self.row("Values", ChoiceField(f"Values{of}", FOLLOWS), place,
                                read=_read_follows, write=self.write_follows, title=title)  # fmt: skip
        self.mode = self.row(tuned, ChoiceField[int](tuned), f"{tuning}.mode")
        self.rule = self.row("Rule", ChoiceField(f"Rule{of}", words.RULES), f"{tuning}.rule")
        self.goal = self.row("Goal", ChoiceField(f"Goal{of}", words.GOALS), f"{tuning}.goal")
        field = list_for("tuning.weights", f"Weights{of}")
        field.setToolTip("Weight of mode 1; mode 2; ...")
        self.weights = self.row("Weight of mode 1; 2; ...", field, f"{tuning}.weights")

    def build_findings(self, name: str) -> None:
        """The place of the remarks."""
        self.findings = PlainLabel("", self.body)
        self.findings.setObjectName(name)
        self.findings.setWordWrap(True)
        self.add(self.findings)
        look.look_changed.connect(self._paint)
        self._paint()

    # -- showing -------------------------------------------------------------------------------

    def drawn_from(self, project: Project) -> tuple[object, ...]:
        """What the rows depend on besides the prediction."""
        raise NotImplementedError

    def refresh(self) -> None:
        """While a hand drags something else, nothing."""
        drawn = self.drawn_from(self.session.shown)
        if self.session.previewing and drawn == self._drawn:
            return
        self._drawn = drawn
        super().refresh()

    def refresh_results(self) -> None:
        """Tell again what comes from the last good prediction."""
        raise NotImplementedError

    def rule_rows(self, tuning: Tuning | None) -> set[FormRow]:
        """The rows of a rule that count."""
        if tuning is None:
            return set()
        rows: set[FormRow] = {self.mode, self.rule, self.goal}
        return rows | {self.weights} if tuning.goal == "weighted" else rows

    def offer_modes(self, project: Project, tuning: Tuning | None) -> None:
        """The modes shown and the one tuned to."""
        last = max(project.view.modes_shown, tuning.mode if tuning else 1)
        self.mode.field.set_options([(mode, f"mode {mode}") for mode in range(1, last + 1)])

    def show_findings(self, remarks: Sequence[str]) -> None:
        """These remarks, or none."""
        text = "\n".join(f"\N{WARNING SIGN} {remark}" for remark in remarks)
        if text != self.findings.text():
            self.findings.setText(text)
        set_shown(self.findings, bool(text))

    @Slot()
    def _paint(self) -> None:
        palette = self.findings.palette()
        palette.setColor(self.findings.foregroundRole(), look.current().caution)
        self.findings.setPalette(palette)

    # -- changes ---------------------------------------------------------------------------------

    def write_follows(self, project: Project, path: str, follows: bool) -> Project:
        """The project with the values at `path` following the model, or held where they are."""
        raise NotImplementedError


def _read_follows(project: Project, path: str) -> bool:
    return value_at(project, path).tuning is not None
