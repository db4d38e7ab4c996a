"""One drag step by the general-purpose route, for the ratio of speeds.

The same quantities as the engine's drag step on the same saved project: section functions of the
moved patch, modes at short and open circuit, coupling, a resistor tuned by the closed form, the
poles and damping of every mode, 400-point responses before and after; by scikit-fem's cubic Hermite elements
(100 of them), `scipy.sparse.linalg.eigsh` and dense numpy, without anything of the core but the
saved values.
"""

from __future__ import annotations

from core.project.candidate import Candidate
from core.project.model import Project
from tests.reference import plain_route
from tests.reference.hermite_route import HermiteResult, solve
from tests.reference.lamination import Lamination


def reference_step(project: Project, candidate: Candidate, *, elements: int = 100) -> HermiteResult:
    """Everything a drag step needs: 8 modes, 400 points, inherent damping of the first mode."""
    beam = Lamination(project, candidate).as_beam()
    return solve(beam, elements=elements, modes=8, zeta=project.structure.damping.ratios[0], points=400)


def plain_step(project: Project, candidate: Candidate) -> HermiteResult:
    """The same by forty lines of plain numpy with dense matrices."""
    beam = Lamination(project, candidate).as_beam()
    return plain_route.solve(beam, modes=8, zeta=project.structure.damping.ratios[0], points=400)
