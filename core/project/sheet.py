"""Title block, datum and shop data of the placement diagram."""

from __future__ import annotations

from typing import Literal

from core.project.record import Record


class Revision(Record, frozen=True):
    """A line of the sheet's revision table."""

    index: str
    date: str
    reason: str


class Sheet(Record, frozen=True):
    """Title block, datum and shop data of the placement diagram (fields after ISO 7200)."""

    paper: Literal["A4", "A3", "Letter"] = "A4"
    title: str = ""
    number: str = ""
    owner: str = ""
    creator: str = ""
    approver: str = ""
    date: str = ""
    part_drawing: str = ""
    patch_specification: str = ""
    datum: str | None = None
    tolerance_x_m: float = 1e-3
    tolerance_y_m: float = 2e-3
    tolerance_angle_rad: float = 0.017453292519943295
    face_note: str = ""
    surface_preparation: str = "Degrease, abrade P320, degrease, water-break check; bond within 30 min."
    adhesive: str = "Stiff two-part epoxy"
    cure: str = "Press 50-100 kPa through a soft pad; cure 60 \N{DEGREE SIGN}C 2 h, ramp 2 K/min."
    revisions: tuple[Revision, ...] = ()
    underside_note: str = ""
    """What the shop calls the underside; `face_note` says it of the top."""
    tolerance_source: str = ""
    """Where the placement tolerances are from ("allowed placement error, mode 1, 5 % loss")."""
    connector_place: str = ""
    """Where the connector lands; a line to write on where empty."""
    parts: int = 0
    """Parts of the batch, for the purchase; 0 leaves it open."""
    alternates: str = ""
    """Packages that purchasing may take instead."""
    question: str = ""
    """What the customer asked, for the decision record."""
    choice: str = ""
    """Why this candidate was chosen, and which is the reserve."""
    tolerance_x_root_m: float | None = None
    """Placement tolerance towards the root; None: as `tolerance_x_m`, which then goes both ways."""
    mirrored_number: str = ""
    """Identification number of the sheet of the mirrored part; empty: the sheet's own with "-M"."""

    @property
    def tolerances_x_m(self) -> tuple[float, float]:
        """Placement tolerance (towards the tip, towards the root)."""
        root = self.tolerance_x_m if self.tolerance_x_root_m is None else self.tolerance_x_root_m
        return self.tolerance_x_m, root
