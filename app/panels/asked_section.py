"""What the customer asked for: of which modes, how much, at which temperature, under which load."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec.structs import replace
from PySide6.QtWidgets import QWidget

from app.fields import ChoiceField, list_for, quantity_for
from app.panels import words
from app.panels.asked_fields import ModeListField, PeakChangeField
from app.panels.bound import BoundRow, F
from app.panels.paths import value_at
from app.panels.section import InputSection, set_shown
from core.project import edit
from core.project.model import Project
from core.project.service import Asked

if TYPE_CHECKING:
    from app.shell.session import Session

STARTS = {"peak": (-0.3,), "damping": (0.01,), "settling": (1.0,)}
"""What is wanted when another quantity is chosen, until a person types it."""


def _with_quantity(project: Project, _path: str, quantity: Any) -> Project:
    """Another quantity starts from a value that can be one; the first mode is asked for if none was."""
    asked = project.service.asked
    if quantity == asked.quantity:
        return project
    new = replace(asked, quantity=quantity, values=STARTS[quantity], modes=asked.modes or (1,))
    return edit.with_service(project, asked=new)


def _with_modes(project: Project, _path: str, modes: tuple[int, ...]) -> Project:
    """Other modes; values of modes no longer asked for go with them."""
    asked = project.service.asked
    kept = tuple(asked.value(mode) for mode in modes if mode in asked.modes) or asked.values[:1]
    values = kept if len(set(kept)) > 1 and len(kept) <= len(modes) else kept[:1]
    return edit.with_service(project, asked=replace(asked, modes=modes, values=values))


def _first(project: Project, path: str) -> float:
    return value_at(project, path)[0]


def _with_first(project: Project, _path: str, value: float) -> Project:
    return edit.with_service(project, asked=replace(project.service.asked, values=(value,)))


class AskedSection(InputSection):
    """The target. Without a mode nothing is asked for, and the rest waits."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Asked for", parent)
        self._drawn: object = None
        path = "service.asked"
        self.modes = self.row("Modes", ModeListField("Modes"), f"{path}.modes", write=_with_modes)
        self.row("Wanted", ChoiceField("Wanted", words.ASKED), f"{path}.quantity", write=_with_quantity)
        self.values: dict[str, BoundRow[Any]] = {
            "peak": self.row("Lower by", PeakChangeField("Lower by"), f"{path}.values"),
            "damping": self.row(
                "At least", list_for("asked.values.damping", "At least"), f"{path}.values"
            ),
            "settling": self.row(
                "Settled within",
                quantity_for("asked.values.settling", "Settled within"),
                f"{path}.values",
                read=_first,
                write=_with_first,
            ),
        }
        at = quantity_for("asked.temperature_c", "Held at", step=1.0, optional=True, hint="reference")
        self.row("Held at", at, f"{path}.temperature_c")
        self.under = self.row("Under", ChoiceField[object]("Under"), f"{path}.load")

    def row(self, label: str, field: F, path: str, **options: Any) -> BoundRow[F]:
        return super().row(label, field, path, title="Change what is asked for", **options)

    def refresh(self) -> None:
        service = self.session.shown.service
        if service is not self._drawn:
            self._drawn = service
            super().refresh()

    def show_rows(self, project: Project) -> None:
        asked = project.service.asked
        for quantity, row in self.values.items():
            set_shown(row, quantity == asked.quantity)
        loads: list[tuple[object, str]] = [(None, "the load looked at")]
        loads += [(number, load.name) for number, load in enumerate(project.service.loads)]
        self.under.field.set_options(loads)

    def update_rows(self, project: Project) -> None:
        self.remark.setText("by the customer" if project.service.asked.modes else "nothing yet")


def without_load(asked: Asked, removed: int) -> Asked:
    """What is asked for once a load is removed: those after it move up, its own is the one looked at."""
    if asked.load is None or asked.load < removed:
        return asked
    return replace(asked, load=None if asked.load == removed else asked.load - 1)
