"""The project's materials with every constant, its tolerance, coefficient, status and source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QWidget

from app.fields import quantity_for
from app.panels import library_edits
from app.panels.library_dialog import LibraryDialog, high_of, low_of, with_high, with_low
from core.project import library
from core.project.material import Material
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session


class MaterialsDialog(LibraryDialog):
    """List and form of materials."""

    title = "Change materials"
    places = ("materials",)
    what = "materials"
    word = "material"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setWindowTitle("Materials")

    def build_form(self) -> None:
        self.heading("Constants at the reference temperature")
        self.constants_heading()
        self.constant("youngs_modulus_pa")
        self.constant("density_kg_m3")
        self.constant("loss_factor")
        self.constant("poisson_ratio")
        self.optional_constant("youngs_modulus_across_pa")
        self.optional_constant("shear_modulus_pa", otherwise="of E and ν")
        self.optional_constant("shear_modulus_through_pa", otherwise="as in plane")
        self.heading("Temperature")
        self.value("Reference temperature", quantity_for("reference_temperature_c"),
                   "reference_temperature_c")
        self.value("Constants hold from", quantity_for("temperature_range_c", "Constants hold from"), "temperature_range_c",
                   read=low_of, write=with_low)
        self.value("Constants hold up to", quantity_for("temperature_range_c", "Constants hold up to"),
                   "temperature_range_c", read=high_of, write=with_high)

    def offered(self) -> tuple[Material, ...]:
        return library.materials()

    def added(self, project: Project, entry: Any) -> tuple[Project, str]:
        return library_edits.with_material_added(project, entry)

    def renamed(self, project: Project, old: str, new: str) -> Project:
        return library_edits.with_material_renamed(project, old, new)

    def used_in(self, project: Project, name: str) -> list[str]:
        return library_edits.material_users(project, name)
