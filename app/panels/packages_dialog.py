"""The project's patch packages: one form for the library's and for one's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QPushButton, QWidget

from app.fields import ChoiceField, SwitchField, TextField, quantity_for
from app.panels import library_edits
from app.panels.edits import with_material_chosen
from app.panels.library_dialog import LibraryDialog, high_of, low_of, with_high, with_low
from core.project import library
from core.project.fields import FIELDS
from core.project.model import Project
from core.project.patch import Package

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

    def _length(self, label: str, path: str, **options: Any) -> None:
        key = f"packages.{path}" if f"packages.{path}" in FIELDS else path
        self.value(label, quantity_for(key, label, **options), path)

    def _material(self, label: str, path: str) -> None:
        field = ChoiceField[str](label)
        self.material_fields.append(field)
        self.value(label, field, path, write=with_material_chosen)

    def _build_geometry(self) -> None:
        self.heading("Build-up, from the structure outwards")
        self._material("Bond material", "bond.material")
        self._length("Bond thickness", "bond.thickness_m")
        self._length("Bond shear modulus", "bond.shear_modulus_pa")
        self.value("Rigid bond", SwitchField("Rigid bond", "no shear lag"), "bond.rigid")
        self._material("Lower skin", "lower_skin.material")
        self._length("Lower skin thickness", "lower_skin.thickness_m")
        self._length("Ceramic length", "length_m")
        self._length("Ceramic width", "width_m")
        self._length("Ceramic thickness", "ceramic_thickness_m")
        self._material("Upper skin", "upper_skin.material")
        self._length("Upper skin thickness", "upper_skin.thickness_m")
        self._length("Margin at the ends", "margin_m")
        self._length("Margin at the sides", "side_margin_m", optional=True, hint="as at the ends")
        self._length("Lead length", "lead_length_m")
        self._length("Least lead bend", "lead_bend_radius_m")
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
        self.constant("d31_c_n", "ceramic.d31_c_n", "d31")
        self.constant("eps33t_relative", "ceramic.eps33t_relative", "Permittivity, free")
        self.constant("s11e_1_pa", "ceramic.s11e_1_pa", "Compliance s11E")
        self.constant("density_kg_m3", "ceramic.density_kg_m3", "Density")
        self.constant("tan_delta", "ceramic.tan_delta", "Dielectric loss")
        self.constant("poisson_ratio", "ceramic.poisson_ratio", "Poisson's ratio")
        self.constant("pyroelectric_c_m2_k", "ceramic.pyroelectric_c_m2_k", "Pyroelectric coefficient")
        self.constant("loss_factor", "ceramic.loss_factor", "Mechanical loss")
        self.optional_constant("d32_c_n", "ceramic.d32_c_n")
        self.optional_constant("s22e_1_pa", "ceramic.s22e_1_pa")
        self.optional_constant("d33_c_n", "ceramic.d33_c_n")
        self.value("Curie temperature", quantity_for("curie_temperature_c", optional=True, hint="not known"), "ceramic.curie_temperature_c")
        self.value("Reference temperature", quantity_for("reference_temperature_c"),
                   "ceramic.reference_temperature_c")
        self._pair("Constants hold", "ceramic.temperature_range_c")

    def _build_limits(self) -> None:
        self.heading("Limits")
        self.constants_heading()
        self.constant("limits.tensile_strain", "limits.tensile_strain", "Tensile strain", varies=False)
        self.constant("limits.compressive_strain", "limits.compressive_strain", "Compressive strain", varies=False)
        self.constant("limits.field_along_v_m", "limits.field_along_v_m", "Field along poling", varies=False)
        self.constant("limits.field_against_v_m", "limits.field_against_v_m", "Field against it", varies=False)
        self.constant("limits.bond_shear_pa", "limits.bond_shear_pa", "Bond shear stress", varies=False)
        self._pair("Service", "limits.temperature_c")

    def _pair(self, label: str, path: str) -> None:
        for words, read, write in (("from", low_of, with_low), ("up to", high_of, with_high)):
            called = f"{label} {words}"
            self.value(called, quantity_for(path.removeprefix("ceramic."), called), path, read=read, write=write)

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
