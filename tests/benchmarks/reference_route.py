"""One drag step by the general-purpose route, for the ratio of speeds.

The same quantities as the engine's drag step on the same saved project: section functions of the
moved patch, modes at short and open circuit, coupling, a resistor tuned by the closed form, the
poles and damping of every mode, 400-point responses before and after; by scikit-fem's cubic Hermite elements
(100 of them), `scipy.sparse.linalg.eigsh` and dense numpy, without anything of the core but the
saved values.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from functools import partial

from core.project.candidate import Candidate
from core.project.model import Project
from tests.reference import plain_route
from tests.reference.hermite_route import HermiteResult, solve
from tests.reference.lamination import Lamination

GENERAL, PLAIN = "general-purpose route", "plain numpy"


def reference_step(
    project: Project, candidate: Candidate, *, elements: int = 100, modes: int = 8, points: int = 400
) -> HermiteResult:
    """Everything a drag step needs, with the inherent damping of the first mode."""
    beam = Lamination(project, candidate).as_beam()
    return solve(beam, elements=elements, modes=modes, zeta=project.structure.damping.ratios[0], points=points)


def plain_step(
    project: Project, candidate: Candidate, *, elements: int = 22, modes: int = 8, points: int = 400
) -> HermiteResult:
    """The same by forty lines of plain numpy with dense matrices."""
    beam = Lamination(project, candidate).as_beam()
    zeta = project.structure.damping.ratios[0]
    return plain_route.solve(beam, elements=elements, modes=modes, zeta=zeta, points=points)


def rivals(modes: int = 8, points: int = 400) -> dict[str, Callable[[Project], HermiteResult]]:
    """Both routes, of a project's active candidate, divided for so many modes."""
    fine = max(1.0, modes / 8)
    general = partial(reference_step, elements=round(100 * fine), modes=modes, points=points)
    plain = partial(plain_step, elements=round(22 * fine), modes=modes, points=points)
    return {
        GENERAL: lambda project: general(project, project.candidate()),
        PLAIN: lambda project: plain(project, project.candidate()),
    }


def rival_seconds(layouts: Iterable[Project], *, modes: int = 8, points: int = 1) -> dict[str, float]:
    """Seconds per layout of both, with a response of so many frequencies."""
    every = list(layouts)
    out = {}
    for name, rival in rivals(modes, points).items():
        rival(every[0])
        begun = time.perf_counter()
        for project in every:
            rival(project)
        out[name] = (time.perf_counter() - begun) / len(every)
    return out
