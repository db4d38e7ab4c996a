"""Keep-out zones on either face, and the features the shop measures from, typed as tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QWidget

from app.fields import Column, column_for
from app.panels import words
from app.panels.table_dialog import Records, TableDialog
from core.project.structure import DatumFeature, KeepOut

if TYPE_CHECKING:
    from app.shell.session import Session


@dataclass(frozen=True)
class KeepOuts(Records):
    """Zones whose corners are typed as "x; y; x; y; ..." (empty: the full width)."""

    def to_row(self, record: KeepOut) -> dict[str, Any]:
        row = super().to_row(record)
        if record.polygon_m is not None:
            row["polygon_m"] = tuple(number for corner in record.polygon_m for number in corner)
        return row

    def to_record(self, row: dict[str, Any]) -> KeepOut:
        flat = row["polygon_m"]
        if flat is None:
            return KeepOut(**row)
        flat = flat if isinstance(flat, tuple) else (flat,)
        corners = tuple(zip(flat[0::2], flat[1::2], strict=False))
        return KeepOut(**{**row, "polygon_m": corners})


KEEP_OUTS = KeepOuts(
    "structure.keep_outs", "Keep-outs",
    "where no part of a package may lie; corners as x; y; x; y; ... or empty for the full width", KeepOut,
    (
        Column("name", "Name", "text", default="keep clear"),
        Column("face", "Face", "choice", choices=words.ONE_OR_BOTH_FACES, default="top"),
        column_for("keep_outs.x_start_m", "From", default=0.0),
        column_for("keep_outs.x_end_m", "To", default=0.01),
        column_for("keep_outs.polygon_m", kind="list", optional=True, hint="full width", multiple=2),
    ),
    "keep-out",
)  # fmt: skip
DATUMS = Records(
    "structure.datums", "Datums", "features from which positions are measured; those at an end go with it, a hole is drawn", DatumFeature,
    (
        Column("name", "Name", "text", default="edge"),
        column_for("datums.x_m", "From root", default=0.0),
        Column("touchable", "Can be touched", "switch", default=True),
        column_for("datums.diameter_m", optional=True, hint="no hole"),
        column_for("datums.y_m", "Off centreline", default=0.0),
    ),
    "datum",
)  # fmt: skip


class ZonesDialog(TableDialog):
    """Keep-outs and datums."""

    title = "Change keep-outs and datums"
    tables = (KEEP_OUTS, DATUMS)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("zones editor")
        self.setWindowTitle("Keep-outs and datums")
