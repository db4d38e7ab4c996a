"""What keeps a project from being predicted, in words a person can act on.

`find_problems` runs on every mouse move of a drag: checks of parts that stayed the same object
(structure, materials, packages, other candidates) are remembered.
"""

from __future__ import annotations

from dataclasses import replace

from core.project.absorber_checks import absorber_problems
from core.project.bonded_checks import bonded_problems
from core.project.build_checks import build_problems
from core.project.candidate import Candidate
from core.project.ceilings import over_ceilings
from core.project.checking import Found, Problem, by_identity, tell, unique
from core.project.loop_checks import loop_problems
from core.project.material import Material
from core.project.material_checks import material_problems, package_problems
from core.project.measurement_checks import measurement_problems
from core.project.model import Project
from core.project.patch import Package
from core.project.patch_checks import patch_problems, placement_cautions
from core.project.service import Service
from core.project.service_checks import service_problems, sheet_problems, view_problems
from core.project.structure import Structure
from core.project.structure_checks import structure_problems
from core.project.tolerance_checks import tolerance_problems
from core.project.use_checks import use_problems
from core.project.wiring_checks import wiring_problems

__all__ = ["Problem", "find_cautions", "find_problems"]


def find_problems(project: Project) -> tuple[Problem, ...]:
    """Every problem of the project, by the path of the value it hangs on; empty if it can be predicted."""
    structure = project.structure
    found: Found = [Problem(*over) for over in over_ceilings(project)]
    found += structure_problems(structure, project.materials)
    found += material_problems(project.materials)
    found += package_problems(project.packages, project.materials)
    span_m = None if any(p.path.startswith("structure.stations_m") for p in found) else structure.span_m
    _candidates(found, project)
    for candidate in project.candidates:
        found += _candidate_problems(
            candidate, structure, project.materials, project.packages, span_m is not None
        )
    found += _service_problems(project.service, span_m)
    view_problems(found, project.view, span_m, bare=bool(structure.layers))
    use_problems(found, project.sense, project.drive)
    sheet_problems(found, project.sheet, structure)
    tolerance_problems(found, project.tolerances)
    measurement_problems(found, project.measurements)
    bonded_problems(found, project.bonded)
    return tuple(found)


def find_cautions(project: Project, candidate_id: str | None = None) -> tuple[Problem, ...]:
    """What of a candidate's placement can be predicted and should not stay, by the path it hangs on:
    margins past an edge, an end or over a hole, and leads without room. KeyError for an unknown one."""
    return _cautions(project.candidate(candidate_id), project.structure, project.packages)


@by_identity
def _cautions(
    candidate: Candidate, structure: Structure, packages: tuple[Package, ...]
) -> tuple[Problem, ...]:
    found: Found = []
    placement_cautions(found, candidate, structure, packages)
    return tuple(replace(problem, caution=True) for problem in found)


@by_identity
def _service_problems(service: Service, span_m: float | None) -> tuple[Problem, ...]:
    found: Found = []
    service_problems(found, service, span_m)
    return tuple(found)


def _candidates(found: Found, project: Project) -> None:
    unique(found, "candidates", "candidate", (c.id for c in project.candidates))
    if not project.candidates:
        tell(found, "candidates", "The project has no candidate. Add one.")
    elif project.active not in {c.id for c in project.candidates}:
        tell(found, "active", f'The active candidate "{project.active}" does not exist. Choose another.')


@by_identity
def _candidate_problems(
    candidate: Candidate,
    structure: Structure,
    materials: tuple[Material, ...],
    packages: tuple[Package, ...],
    stations_fine: bool,
) -> tuple[Problem, ...]:
    found: Found = []
    patch_problems(found, candidate, structure, materials, packages, stations_fine)
    absorber_problems(found, candidate, structure, stations_fine)
    build_problems(found, candidate)
    wiring_problems(found, candidate)
    loop_problems(found, candidate)
    return tuple(found)
