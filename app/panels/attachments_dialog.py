"""Point masses, springs to ground, holes and slots, typed as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QWidget

from app.fields import Column
from app.panels.table_dialog import Records, TableDialog
from core.project.fields import FIELDS
from core.project.model import Project
from core.project.placement.free_place import free_hole
from core.project.structure import CutOut, GroundSpring, PointMass

if TYPE_CHECKING:
    from app.shell.session import Session

AT = Column("x_m", "From root", unit="mm", low=0.0, default=0.0)



class AtTheTip(Records):
    """A new one sits at the tip, where it does most; at the root it would do nothing."""

    def start(self, project: Project) -> dict[str, Any]:
        return {"x_m": project.structure.span_m}


class FreeOfPackages(Records):
    """A new hole lies where nothing else does."""

    def start(self, project: Project) -> dict[str, Any]:
        hole = free_hole(project)
        return {"x_m": hole.x_m, "y_m": hole.y_m, "diameter_m": hole.diameter_m}


MASSES = AtTheTip(
    "structure.masses", "Masses", "with their rotary inertia about their own centre", PointMass,
    (
        Column("name", "Name", "text", default="mass"), AT,
        Column("mass_kg", "Mass", unit=FIELDS["masses.mass_kg"].unit, low=0.0, default=0.01),
        Column("rotary_inertia_kg_m2", "Rotary inertia", unit=FIELDS["masses.rotary_inertia_kg_m2"].unit, low=0.0, default=0.0),
    ),
    "mass",
)  # fmt: skip
SPRINGS = AtTheTip(
    "structure.springs", "Springs to ground", "against sideways motion and against turning", GroundSpring,
    (
        Column("name", "Name", "text", default="spring"), AT,
        Column("k_t_n_m", "Sideways", unit=FIELDS["k_t_n_m"].unit, low=0.0, default=1e3),
        Column("k_r_nm_rad", "Turning", unit=FIELDS["k_r_nm_rad"].unit, low=0.0, default=0.0),
    ),
    "spring",
)  # fmt: skip
CUT_OUTS = FreeOfPackages(
    "structure.cut_outs", "Cut-outs", "through every layer; a hole has a diameter, a slot length and width",
    CutOut,
    (
        Column("kind", "Kind", "choice", choices=(("hole", "hole"), ("slot", "slot")), default="hole"),
        Column("x_m", "Centre from root", unit="mm", low=0.0, default=0.0),
        Column("y_m", "Off centreline", unit="mm", default=0.0),
        Column("diameter_m", "Diameter", unit="mm", low=0.0, default=0.005),
        Column("length_m", "Slot length", unit="mm", low=0.0, default=0.0),
        Column("width_m", "Slot width", unit="mm", low=0.0, default=0.0),
    ),
    "cut-out",
)  # fmt: skip


class AttachmentsDialog(TableDialog):
    """Masses, springs, cut-outs."""

    title = "Change masses, springs, cut-outs"
    tables = (MASSES, SPRINGS, CUT_OUTS)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("attachments editor")
        self.setWindowTitle("Masses, springs, cut-outs")
