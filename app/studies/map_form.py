"""What to map: quantity, modes, the second axis and its range."""

from __future__ import annotations

import dataclasses

import numpy as np
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.fields import (
    ChoiceField,
    FormRow,
    SwitchField,
    list_for,
    quantity_for,
)
from core.project.model import Project
from core.project.served import served_mode
from core.study.placement.map_values import AXES, OVER, QUANTITIES, Axis, MapRequest, Over
from core.study.placement.maps import default_request

SHAPE = (140, 36)
"""Cells along start and size: drawn smoothly, and worked out in about two seconds."""
WEIGHTED = 0
_LABELS = {
    "damping": "Damping",
    "coupling": "Coupling K²",
    "peak change": "Peak change",
    "strain margin": "Static strain margin",
    "electrode use": "Electrode use",
}


class MapForm(QWidget):
    """Emits `changed` when a person asks for another map."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("mapForm")
        self._fitted: object = None
        self.quantity = ChoiceField("Quantity", [(q, _LABELS[q]) for q in QUANTITIES], parent=self)
        self.mode = ChoiceField[int]("Mode", parent=self)
        self.weights = list_for("tuning.weights", "Weights of modes 1, 2, …", parent=self)
        self.weights.set_value((1.0, 1.0))
        pairs = [(over, axis) for over in OVER for axis in AXES if over != axis]
        self.axis = ChoiceField("Over", [(p, f"{_short(OVER[p[0]])}, {_short(AXES[p[1]])}") for p in pairs], parent=self)
        self.low = quantity_for("patches.length_m", "From", parent=self)
        self.high = quantity_for("patches.length_m", "To", parent=self)
        self.limits = SwitchField(
            "Grey layouts beyond static limits", "Grey what breaks a static limit", parent=self
        )
        self.limits.set_value(True)
        self.quantity.set_value("damping")
        self.axis.set_value(("start", "length"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        self._rows = {}
        for label, field in (
            ("Quantity", self.quantity),
            ("Mode", self.mode),
            ("Weights of modes 1, 2, …", self.weights),
            ("Over", self.axis),
            ("From", self.low),
            ("To", self.high),
        ):
            self._rows[label] = FormRow(label, field, parent=self)
            layout.addWidget(self._rows[label])
        layout.addWidget(self.limits)
        for field in (self.quantity, self.mode, self.axis):
            field.chosen.connect(self._on_choice)
        for field in (self.weights, self.low, self.high):
            field.committed.connect(self._on_value)
        self.limits.switched.connect(self._on_value)
        self._show_rows()

    def fit(self, project: Project, patch_id: str) -> None:
        """Offer the project's modes; sizes about the patch's own when patch, package or axis is another."""
        modes = range(1, project.view.modes_shown + 1)
        self.mode.set_options([*((n, f"mode {n}") for n in modes), (WEIGHTED, "several, weighted")])
        if self.mode.value() is None:
            self.mode.set_value(served_mode(project, project.candidate(), patch_id))
        patch = project.candidate().patch(patch_id)
        key = (project.structure.name, patch_id, self.axis.value(), project.package(patch.package).length_m)
        if key != self._fitted:
            self._fitted = key
            over, axis = self.axes()
            sizes = default_request(project, patch_id, axis=axis, over=over).size_m
            self.low.set_value(float(sizes[0]))
            self.high.set_value(float(sizes[-1]))

    def axes(self) -> tuple[Over, Axis]:
        """What runs along the first and the second axis."""
        return self.axis.key()

    def request(self, project: Project, patch_id: str) -> MapRequest:
        """The map asked for. ValueError in words when the range is empty."""
        low, high = self.low.value(), self.high.value()
        if low is None or high is None or not high > low:
            raise ValueError("The range ends before it starts. Make 'To' larger than 'From'.")
        mode = self.mode.key()
        base = default_request(
            project,
            patch_id,
            quantity=self.quantity.key(),
            mode=mode if mode != WEIGHTED else 1,
            axis=self.axes()[1],
            over=self.axes()[0],
            shape=SHAPE,
        )
        given = (self.weights.value() or ())[: project.view.modes_shown]
        weights = base.weights if mode != WEIGHTED else given
        x = base.x_start_m
        if base.over == "start" and base.axis == "length":
            x = tuple(float(v) for v in np.linspace(0.0, max(project.structure.span_m - low, 0.0), SHAPE[0]))
        sizes = tuple(float(v) for v in np.linspace(low, high, SHAPE[1]))
        return dataclasses.replace(
            base, weights=tuple(weights), x_start_m=x, size_m=sizes, respect_limits=self.limits.value()
        )

    @Slot(object)
    def _on_choice(self, _key: object) -> None:
        self._show_rows()
        self.changed.emit()

    @Slot()
    def _on_value(self) -> None:
        self.changed.emit()

    def _show_rows(self) -> None:
        needs_mode = self.quantity.value() != "strain margin"
        self._rows["Mode"].setVisible(needs_mode)
        self._rows["Weights of modes 1, 2, …"].setVisible(needs_mode and self.mode.value() == WEIGHTED)


def _short(size: str) -> str:
    """A size of the ceramic in the width of the list; what is mapped is the patch anyway."""
    return size.removeprefix("ceramic ")
