"""Point masses, springs to ground, holes and slots, typed as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QWidget

from app.fields import Column, column_for
from app.panels.table_dialog import Records, TableDialog
from core.project.model import Project
from core.project.placement.free_place import free_hole
from core.project.structure import CutOut, GroundSpring, PointMass

if TYPE_CHECKING:
    from app.shell.session import Session



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
    "structure.masses", "Masses",
    "with their rotary inertia about their own centre; in torsion 0 is that of the mass spread over the width; ahead is how far "
    "the centre lies towards the tip from where it is fixed; off the centreline it twists the part", PointMass,
    (
        Column("name", "Name", "text", default="mass"),
        column_for("masses.x_m", "From root", default=0.0),
        column_for("masses.mass_kg", default=0.01),
        column_for("masses.rotary_inertia_kg_m2", default=0.0),
        column_for("masses.roll_inertia_kg_m2", "In torsion", default=0.0),
        column_for("masses.ahead_m", "Centre ahead", default=0.0),
        column_for("masses.y_m", "Off centreline", default=0.0),
    ),
    "mass",
)  # fmt: skip
SPRINGS = AtTheTip(
    "structure.springs", "Springs to ground", "against sideways motion and against turning", GroundSpring,
    (
        Column("name", "Name", "text", default="spring"),
        column_for("springs.x_m", "From root", default=0.0),
        column_for("k_t_n_m", "Sideways", default=1e3),
        column_for("k_r_nm_rad", "Turning", default=0.0),
    ),
    "spring",
)  # fmt: skip
CUT_OUTS = FreeOfPackages(
    "structure.cut_outs", "Cut-outs", "through every layer; a hole has a diameter, a slot length and width",
    CutOut,
    (
        Column("kind", "Kind", "choice", choices=(("hole", "hole"), ("slot", "slot")), default="hole"),
        column_for("cut_outs.x_m", "Centre from root", default=0.0),
        column_for("cut_outs.y_m", "Off centreline", default=0.0),
        column_for("cut_outs.diameter_m", default=0.005),
        column_for("cut_outs.length_m", "Slot length", default=0.0),
        column_for("cut_outs.width_m", "Slot width", default=0.0),
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
