"""The project: everything a `.quietspan` file holds.

Its parts stand in files of their own beside this one. Nothing here computes: validation is in
`problems.py`, reading and writing in `store.py`, editing in `edit.py`.
"""

from __future__ import annotations

from typing import Literal

from core.project.bonded import BondedPart
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.measurement import Measurement
from core.project.patch import Package, Patch
from core.project.record import Record, Status
from core.project.service import Service
from core.project.sheet import Sheet
from core.project.structure import Structure
from core.project.use import Drive, Sense, Use

FORMAT_VERSION = 3


class View(Record, frozen=True):
    """What is shown; it changes no model, only which results are asked for."""

    modes_shown: int = 5
    before: Literal["patch shorted", "bare structure"] = "patch shorted"
    output_x_m: float | None = None
    output: Literal["receptance", "mobility", "accelerance", "strain", "voltage", "current"] = "receptance"
    """Motion at the output point, or strain of a patch's ceramic, or voltage or current of its leads."""
    output_patch: str | None = None
    """The patch for strain, voltage and current; None (or one that is gone): the first."""
    use: Use = "damp"
    """Which of its three uses the results and the strip under the drawing are about."""

    def looked_at(self, candidate: Candidate) -> Patch | None:
        """The patch whose strain, voltage or current is looked at; None where the output is a motion."""
        if self.output not in ("strain", "voltage", "current") or not candidate.patches:
            return None
        named = [patch for patch in candidate.patches if patch.id == self.output_patch]
        return (named or candidate.patches)[0]


class Released(Record, frozen=True):
    """A frozen copy of what a released revision was made from.

    Enough to make its documents again: the whole input that placement and circuit follow from.
    `fingerprint` is the one printed on the sheet.
    """

    index: str
    date: str
    reason: str
    fingerprint: str
    structure: Structure
    materials: tuple[Material, ...]
    packages: tuple[Package, ...]
    candidate: Candidate
    service: Service
    sheet: Sheet


class Origin(Record, frozen=True):
    """Where an input is from. Keyed in `Project.origins` by its path ("structure.width_m")."""

    status: Status
    source: str = ""
    tolerance: float | None = None


class Tolerance(Record, frozen=True):
    """How far an input may be off, keyed in `Project.tolerances` by its path.

    `plus_minus` is relative to the value (for places, `..._m` of a patch, in metres); 0 takes the
    input as exact. `unknown` is the range in SI of an input nobody knows: any value in it is as
    likely as any other, and `plus_minus` is then not used.
    """

    plus_minus: float = 0.0
    unknown: tuple[float, float] | None = None


class Project(Record, frozen=True):
    """Everything a `.quietspan` file holds."""

    name: str
    structure: Structure
    materials: tuple[Material, ...]
    packages: tuple[Package, ...]
    candidates: tuple[Candidate, ...]
    active: str
    service: Service
    view: View = View()
    sheet: Sheet = Sheet()
    origins: dict[str, Origin] = {}
    notes: str = ""
    format_version: int = FORMAT_VERSION
    tolerances: dict[str, Tolerance] = {}
    """What a person said of an input's tolerance; where nothing stands, the constant's own counts."""
    releases: tuple[Released, ...] = ()
    """Released revisions, oldest first."""
    measurements: tuple[Measurement, ...] = ()
    """What was measured, one a candidate."""
    bonded: tuple[BondedPart, ...] = ()
    """What the bench read of bonded parts."""
    sense: Sense = Sense()
    drive: Drive = Drive()

    def candidate(self, id: str | None = None) -> Candidate:
        """The candidate of that id, or the active one; KeyError if there is none."""
        wanted = self.active if id is None else id
        for candidate in self.candidates:
            if candidate.id == wanted:
                return candidate
        raise KeyError(wanted)

    def at_c(self, temperature_c: float | None = None) -> float:
        """The temperature a result is for: the one given, else the reference temperature of the service."""
        return self.service.reference_c if temperature_c is None else temperature_c

    def material(self, name: str) -> Material:
        for material in self.materials:
            if material.name == name:
                return material
        raise KeyError(name)

    def package(self, name: str) -> Package:
        for package in self.packages:
            if package.name == name:
                return package
        raise KeyError(name)
