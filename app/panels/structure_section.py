"""The customer's part: supports, span, width, lay-up, damping, and what scale and weights said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from app.fields import ChoiceField, NumberListField, QuantityField, SwitchField, TextField
from app.panels import edits, words
from app.panels.bound import BoundRow, EditorRow, ReadOut
from app.panels.section import Section, set_shown
from core import units
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session


def _span(project: Project, _path: str) -> float:
    return project.structure.span_m


def _with_span(project: Project, _path: str, span_m: float) -> Project:
    """The tip station moved; the stations before it stay."""
    structure = project.structure
    moved = msgspec.structs.replace(structure, stations_m=(*structure.stations_m[:-1], span_m))
    return msgspec.structs.replace(project, structure=moved)


def _width(project: Project, _path: str) -> float:
    return words.ends_of(project.structure.width_m)[1]


def _thickness(project: Project, _path: str) -> float | None:
    layers = project.structure.layers
    return words.ends_of(layers[0].thickness_m)[1] if layers else None


class StructureSection(Section):
    """Fields of the structure; the roomy editors are asked for through `editor_wanted`."""

    editor_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Structure", parent)
        self._drawn: object = None
        self._row("&Name", TextField("Name"), "structure.name")
        self.root = self._support("Root", "structure.root")
        self.tip = self._support("Tip", "structure.tip")
        self._row("Span", QuantityField("mm", "Span", above=0.0, high=100.0), "structure.stations_m",
                  origin=True, read=_span, write=_with_span)
        self.width = self._row("&Width", QuantityField("mm", "Width", above=0.0, high=100.0),
                               "structure.width_m", origin=True, read=_width)
        self.varying_width = self.add(ReadOut("Width", path="structure.width_m"))
        self.thickness = self._row("Thickness", QuantityField("mm", "Thickness", above=0.0, high=10.0),
                                   "structure.layers[0].thickness_m", origin=True, read=_thickness)
        self.lay_up = self._editor("&Lay-up", "stations", "Stations and lay-up", "structure.layers")
        self.materials = self._editor("&Materials", "materials", "Materials", "materials")
        self.attached = self._editor("Attached, c&ut", "attachments", "Masses, springs, cut-outs")
        self.zones = self._editor("&Keep-outs", "zones", "Keep-outs and datums", "structure.keep_outs")
        self._row("Wide strip", SwitchField("Wide strip", "stiffer across"), "structure.wide_strip")
        self._build_damping()
        self._build_checks()

    # -- building ------------------------------------------------------------------------------

    def _row(self, label: str, field: QWidget, path: str, **options: Any) -> BoundRow:
        row = BoundRow(self.session, label, field, path, parent=self.body, **options)
        self.add(row)
        return row

    def _editor(self, label: str, editor: str, called: str, path: str = "") -> EditorRow:
        row = EditorRow(label, editor, called, path=path, parent=self.body)
        row.wanted.connect(self.editor_wanted)
        self.add(row)
        return row

    def _support(self, which: str, path: str) -> tuple[BoundRow, BoundRow, BoundRow]:
        kind = self._row(f"{which} support", ChoiceField(f"{which} support", words.SUPPORTS), f"{path}.kind",
                         origin=True, write=edits.with_support_kind)
        k_t = self._row(f"{which} k_t", QuantityField("kN/m", f"{which} k_t", low=0.0), f"{path}.k_t_n_m",
                        origin=True)
        k_r = self._row(f"{which} k_r", QuantityField("N m/rad", f"{which} k_r", low=0.0),
                        f"{path}.k_r_nm_rad", origin=True)
        k_t.caption.setToolTip(f"Stiffness of the {which.lower()} against sideways motion")
        k_r.caption.setToolTip(f"Stiffness of the {which.lower()} against turning")
        return kind, k_t, k_r

    def _build_damping(self) -> None:
        options = ((False, "given per mode"), (True, "from loss factors"))
        self._row("Inherent damping", ChoiceField("Inherent damping", options),
                  "structure.damping.from_loss_factors")
        field = NumberListField("%", "Damping ratios", low=0.0, high=0.5)
        field.setToolTip("Damping ratio of mode 1; mode 2; ... The last one serves all higher modes.")
        self.ratios = self._row("Damping ratios", field, "structure.damping.ratios", origin=True)

    def _build_checks(self) -> None:
        self.mass = self.add(ReadOut("Total mass"))
        self.weighed = self._row("Weighed", QuantityField("g", "Weighed", above=0.0,
                                 optional=True, hint="on the scale"), "structure.weighed_mass_kg")
        self.stiffness = self.add(ReadOut("Tip stiffness"))
        self.dead_weight = self._row(
            "Dead-weight test",
            QuantityField("N/m", "Dead-weight test", above=0.0, optional=True,
                          hint="force/sag"),
            "structure.dead_weight_stiffness_n_m",
        )

    # -- showing -------------------------------------------------------------------------------

    def refresh(self) -> None:
        project = self.session.shown
        drawn = (project.structure, project.origins, project.materials)
        if self._drawn is None or any(now is not then for now, then in zip(drawn, self._drawn, strict=True)):
            self._drawn = drawn
            super().refresh()
        self.refresh_checks()

    def show_rows(self, project: Project) -> None:
        structure = project.structure
        for (_, k_t, k_r), support in ((self.root, structure.root), (self.tip, structure.tip)):
            set_shown(k_t, support.kind == "elastic")
            set_shown(k_r, support.kind == "elastic")
        even = words.is_even(structure.width_m)
        set_shown(self.width, even)
        set_shown(self.varying_width, not even)
        plain = len(structure.layers) == 1 and words.is_even(structure.layers[0].thickness_m)
        set_shown(self.thickness, plain)
        set_shown(self.ratios, not structure.damping.from_loss_factors)

    def update_rows(self, project: Project) -> None:
        structure = project.structure
        self.varying_width.tell(words.range_text(*words.ends_of(structure.width_m), "mm"))
        self.lay_up.tell(words.lay_up_text(structure))
        self.materials.tell(words.count_text(len(project.materials), "material"))
        self.attached.tell(words.counts_text(
            (len(structure.masses), "mass"), (len(structure.springs), "spring"),
            (len(structure.cut_outs), "cut-out"),
        ))
        zones = (len(structure.keep_outs), "zone"), (len(structure.datums), "datum")
        self.zones.tell(words.counts_text(*zones))
        self.remark.setText(f"{words.count_text(len(structure.stations_m), 'station')}")

    def refresh_checks(self) -> None:
        """Mass and tip stiffness of the model beside what scale and weights said."""
        prediction = self.session.prediction
        structure = self.session.shown.structure
        if prediction is None:
            self.mass.tell("not predicted yet")
            self.stiffness.tell("not predicted yet")
            return
        self.mass.tell(_beside(prediction.bare_mass_kg, structure.weighed_mass_kg, "g"))
        stiffness = prediction.tip_stiffness_n_m
        if stiffness is None:
            self.stiffness.tell("the tip cannot move, or nothing holds the part")
        else:
            self.stiffness.tell(_beside(stiffness, structure.dead_weight_stiffness_n_m, "N/m"))


def _beside(model: float, measured: float | None, unit: str) -> str:
    shown = units.show_with_unit(model, unit, significant=4)
    return shown if not measured else f"{shown} ({words.difference_text(model, measured)})"
