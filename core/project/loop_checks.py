"""Everything wrong with the active loop of a candidate."""

from __future__ import annotations

from math import isfinite

from core.project.candidate import Candidate
from core.project.checking import Found, number, tell
from core.project.fields import FIELDS


def loop_problems(found: Found, candidate: Candidate) -> None:
    """Values of the loop, and whether the groups are there that a closed one needs."""
    loop, path = candidate.loop, f"candidates[{candidate.id}].loop"
    for name in loop.__struct_fields__:
        value = getattr(loop, name)
        if isinstance(value, float):
            number(found, f"{path}.{name}", FIELDS[f"loop.{name}"].label, value, FIELDS[f"loop.{name}"].range)
    for i, one in enumerate(loop.filters):
        for name in one.__struct_fields__:
            field = FIELDS[f"loop.filters.{name}"]
            number(found, f"{path}.filters[{i}].{name}", field.label, getattr(one, name), field.range)
    for name in ("numerator", "denominator"):
        values = getattr(loop, name)
        if not values or not all(map(isfinite, values)) or not any(values):
            label = FIELDS[f"loop.{name}"].label
            tell(found, f"{path}.{name}", f"{label} needs at least one coefficient that is not zero. Type them, highest power first.")
    if _degree(loop.numerator) > _degree(loop.denominator) + 1:
        tell(found, f"{path}.numerator", "The numerator's degree is more than one above the denominator's. Add poles.")
    _groups(found, candidate)


def _degree(coefficients: tuple[float, ...]) -> int:
    """Of a polynomial, highest power first, which may begin with zeros."""
    return len(coefficients) - 1 - next((n for n, one in enumerate(coefficients) if one), len(coefficients) - 1)


def _groups(found: Found, candidate: Candidate) -> None:
    driven = [group for group in candidate.groups if group.circuit.kind == "loop"]
    if not driven:
        return
    here = f"candidates[{candidate.id}].groups[{driven[0].id}].circuit.kind"
    if len(driven) > 1:
        told = " and ".join(group.id for group in driven)
        tell(found, here, f"Groups {told} are both driven by the active loop. Give all but one another circuit.")
    elif candidate.loop_ends is None:
        tell(
            found,
            here,
            f"Group {driven[0].id} is driven by an active loop, and no other group listens. "
            "Bond a second patch and leave it in a group of its own, or choose another circuit.",
        )
    else:
        sensing = candidate.groups[candidate.loop_ends[0]]
        if sensing.circuit.kind == "shorted":
            tell(
                found,
                f"candidates[{candidate.id}].groups[{sensing.id}].circuit.kind",
                f"Group {sensing.id} listens for the active loop, and its leads are shorted: it hears nothing. Open them.",
            )
