"""The project's patch packages: one form for the library's and for one's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QPushButton, QWidget

from app.fields import ChoiceField, QuantityField, SwitchField, TextField
from app.panels import library_edits
from app.panels.edits import with_material_chosen
from app.panels.library_dialog import LibraryDialog, high_of, low_of, with_high, with_low
from core.project import library
from core.project.model import Package, Project

if TYPE_CHECKING:
    from app.shell.session import Session


class PackagesDialog(LibraryDialog):
    """List and form of packages."""

    title = "Change packages"
    places = ("packages",)
    what = "packages"
    word = "package"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setWindowTitle("Patch packages")

    def first_choice(self) -> str:
        project = self.draft.project
        for patch in project.candidate().patches:
            if patch.id == self.session.selected_patch:
                return patch.package
        return super().first_choice()

    def build_form(self) -> None:
        self.material_fields: list[ChoiceField] = []
        self._build_geometry()
        self._build_ceramic()
        self._build_limits()

    def _length(self, label: str, path: str, unit: str = "mm", **options: Any) -> None:
        self.value(label, QuantityField(unit, label, **options), path)

    def _material(self, label: str, path: str) -> None:
        field = ChoiceField(label)
        self.material_fields.append(field)
        self.value(label, field, path, write=with_material_chosen)

    def _build_geometry(self) -> None:
        self.heading("Build-up, from the structure outwards")
        self._material("Bond material", "bond.material")
        self._length("Bond thickness", "bond.thickness_m", "um", low=0.0)
        self._length("Bond shear modulus", "bond.shear_modulus_pa", "GPa", above=0.0)
        self.value("Rigid bond", SwitchField("Rigid bond", "no shear lag"), "bond.rigid")
        self._material("Lower skin", "lower_skin.material")
        self._length("Lower skin thickness", "lower_skin.thickness_m", "um", low=0.0)
        self._length("Ceramic length", "length_m", above=0.0)
        self._length("Ceramic width", "width_m", above=0.0)
        self._length("Ceramic thickness", "ceramic_thickness_m", above=0.0)
        self._material("Upper skin", "upper_skin.material")
        self._length("Upper skin thickness", "upper_skin.thickness_m", "um", low=0.0)
        self._length("Margin at the ends", "margin_m", low=0.0)
        self._length("Margin at the sides", "side_margin_m", low=0.0, optional=True, hint="as at the ends")
        self._length("Lead length", "lead_length_m", low=0.0)
        self._length("Least lead bend", "lead_bend_radius_m", low=0.0)
        self.value("Remark", TextField("Remark"), "note")
        self.renew = QPushButton("Give its patches this size and bond", self.form)
        self.renew.setAutoDefault(False)
        self.renew.setToolTip("Patches keep the size and bond they were given; this sets them again.")
        self.renew.clicked.connect(self._renew_patches)
        self.add(self.renew)

    def _build_ceramic(self) -> None:
        self.heading("Ceramic")
        self.value("Ceramic called", TextField("Ceramic called"), "ceramic.name")
        self.constants_heading()
        self.constant("d31", "pm/V", "ceramic.d31_c_n")
        self.constant("Permittivity, free", "1", "ceramic.eps33t_relative", above=0.0)
        self.constant("Compliance s11E", "1/TPa", "ceramic.s11e_1_pa", above=0.0)
        self.constant("Density", "kg/m3", "ceramic.density_kg_m3", above=0.0)
        self.constant("Dielectric loss", "1", "ceramic.tan_delta", low=0.0)
        self.constant("Poisson's ratio", "1", "ceramic.poisson_ratio", low=-0.99, high=0.499)
        self.constant("Mechanical loss", "1", "ceramic.loss_factor", low=0.0)
        self.value("Curie temperature", QuantityField("degC", "Curie temperature", optional=True,
                   hint="not known"), "ceramic.curie_temperature_c")
        self.value("Reference temperature", QuantityField("degC", "Reference temperature"),
                   "ceramic.reference_temperature_c")
        self._pair("Constants hold", "ceramic.temperature_range_c")

    def _build_limits(self) -> None:
        self.heading("Limits")
        self.constants_heading()
        options = {"above": 0.0, "varies": False}
        self.constant("Tensile strain", "ue", "limits.tensile_strain", **options)
        self.constant("Compressive strain", "ue", "limits.compressive_strain", **options)
        self.constant("Field along poling", "kV/mm", "limits.field_along_v_m", **options)
        self.constant("Field against it", "kV/mm", "limits.field_against_v_m", **options)
        self.constant("Bond shear stress", "MPa", "limits.bond_shear_pa", **options)
        self._pair("Service", "limits.temperature_c")

    def _pair(self, label: str, path: str) -> None:
        for words, read, write in (("from", low_of, with_low), ("up to", high_of, with_high)):
            called = f"{label} {words}"
            self.value(called, QuantityField("degC", called), path, read=read, write=write)

    def refresh(self) -> None:
        materials = library_edits.material_options(self.draft.shown)
        for field in self.material_fields:
            field.set_options(materials)
        super().refresh()
        self.renew.setEnabled(bool(self.used_in(self.draft.shown, self.chosen)))

    @Slot()
    def _renew_patches(self) -> None:
        self.draft.apply("", library_edits.with_package_in_patches(self.draft.project, self.chosen))

    def offered(self) -> tuple[Package, ...]:
        return library.packages()

    def added(self, project: Project, entry: Any) -> tuple[Project, str]:
        return library_edits.with_package_added(project, entry)

    def renamed(self, project: Project, old: str, new: str) -> Project:
        return library_edits.with_package_renamed(project, old, new)

    def used_in(self, project: Project, name: str) -> list[str]:
        return library_edits.package_users(project, name)
