"""Problems of the tuned masses of one candidate: sizes, and whether the structure can move where they sit."""

from __future__ import annotations

from core.project.candidate import Absorber, Candidate
from core.project.checking import Found, mm, number, tell, unique
from core.project.fields import FIELDS
from core.project.structure import Structure
from core.units.sentence import inside

AT_END = 1e-6
"""Of the span: a tuned mass so near an end sits on it."""


def absorber_problems(found: Found, candidate: Candidate, structure: Structure, stations_fine: bool) -> None:
    """Everything wrong with the tuned masses of a candidate."""
    path = f"candidates[{candidate.id}].absorbers"
    unique(found, path, "tuned mass", (a.id for a in candidate.absorbers))
    for absorber in candidate.absorbers:
        here, what = f"{path}[{absorber.id}]", f"Tuned mass {absorber.id}"
        for name in ("mass_kg", "frequency_hz", "damping_ratio", "allowed_stroke_m"):
            value, field = getattr(absorber, name), FIELDS[f"absorbers.{name}"]
            if value is not None:
                label = inside(field.label)
                number(found, f"{here}.{name}", f"{what}: {label}", value, field.range)
        if stations_fine:
            _place(found, f"{here}.x_m", what, absorber, structure)
    if candidate.absorbers and not _is_held(structure):
        told = (
            "A tuned mass needs a part that is held: this one can move as a whole. "
            "Give it a support that holds it, or take the tuned mass away."
        )
        tell(found, path, told)


def _place(found: Found, path: str, what: str, absorber: Absorber, structure: Structure) -> None:
    span = structure.span_m
    if not 0.0 <= absorber.x_m <= span:
        tell(found, path, f"{what} is at {mm(absorber.x_m)}, off the span of {mm(span)}. Move it onto the span.")
        return
    for end, support, distance in (
        ("root", structure.root, absorber.x_m),
        ("tip", structure.tip, span - absorber.x_m),
    ):
        if support.kind in ("clamped", "pinned") and distance <= AT_END * span:
            told = (
                f"{what} is at {mm(absorber.x_m)}, on the {end}, which is {support.kind} and cannot move. "
                "Move it to where the part moves."
            )
            tell(found, path, told)


def _is_held(structure: Structure) -> bool:
    """Whether the supports and springs leave no motion as a whole."""
    sideways: set[float] = set()
    turning = False
    for x, support in ((0.0, structure.root), (structure.span_m, structure.tip)):
        if support.kind in ("clamped", "pinned") or (support.kind == "elastic" and support.k_t_n_m > 0.0):
            sideways.add(x)
        turning |= support.kind in ("clamped", "guided") or (support.kind == "elastic" and support.k_r_nm_rad > 0.0)
    for spring in structure.springs:
        if spring.k_t_n_m > 0.0:
            sideways.add(spring.x_m)
        turning |= spring.k_r_nm_rad > 0.0
    return len(sideways) > 1 or (len(sideways) == 1 and turning)
