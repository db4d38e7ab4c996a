"""What a layout's modes and charges follow from besides its temperature: all of a project but what hangs on the leads, loads and
views.

It is what solved layouts are remembered by, for a hand at a circuit, a loop or a waveform moves no patch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from core.project.candidate import Absorber, Candidate, Group, Member
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.service import Service
from core.project.structure import Structure


@dataclass(frozen=True)
class WithoutCircuits:
    """`wired` a group's name, members and wiring, `masses` a tuned mass's name, place and mass."""

    structure: Structure
    materials: tuple[Material, ...]
    packages: tuple[Package, ...]
    id: str
    patches: tuple[Patch, ...]
    wired: tuple[tuple[str, tuple[Member, ...], Literal["parallel", "series"]], ...]
    masses: tuple[tuple[str, float, float], ...]

    @classmethod
    def of(cls, project: Project, candidate: Candidate) -> WithoutCircuits:
        return cls(
            project.structure,
            project.materials,
            project.packages,
            candidate.id,
            candidate.patches,
            tuple((group.id, group.members, group.wiring) for group in candidate.groups),
            tuple((one.id, one.x_m, one.mass_kg) for one in candidate.absorbers),
        )

    def project(self) -> Project:
        return alone(self.structure, self.materials, self.packages)

    def candidate(self) -> Candidate:
        """With circuits nobody should ask for."""
        groups = tuple(Group(name, members, wiring) for name, members, wiring in self.wired)
        absorbers = tuple(Absorber(name, x_m, mass_kg, 1.0) for name, x_m, mass_kg in self.masses)
        return Candidate(self.id, "", self.patches, groups, absorbers=absorbers)


def alone(structure: Structure, materials: tuple[Material, ...], packages: tuple[Package, ...]) -> Project:
    """A project of what a layout is solved on, without all that hangs on it."""
    return Project(
        name="",
        structure=structure,
        materials=materials,
        packages=packages,
        candidates=(),
        active="",
        service=Service(loads=()),
    )
