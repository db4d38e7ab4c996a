"""What point masses off the centreline would change where that is left out."""

from __future__ import annotations

from collections.abc import Iterator

from core.predict.prediction import Remark
from core.predict.solved import Solved
from core.project.structure import PointMass
from core.units.words import millimetres, size


def mass_remarks(solved: Solved) -> Iterator[Remark]:
    """What the level of the sections leaves out of masses beside the centreline."""
    spec = solved.beam.spec
    if spec.leans:
        return
    cure = "the level 'across' takes that" if spec.holds_roll else "nothing keeps this part from rolling"
    for mass in solved.project.structure.masses:
        if mass.y_m and mass.mass_kg:
            yield Remark(
                "mass off centre",
                f"{mass.name} lies {size(abs(mass.y_m))} off the centreline and is calculated on it: it also makes the part "
                f"twist as it bends; {cure}.",
                "note",
                mass.x_m,
            )


def mass_words(mass: PointMass) -> str:
    """Its name, and where it lies if not on the centreline and over where it is fixed."""
    places = []
    if mass.y_m:
        places.append(f"{millimetres(mass.y_m)} off the centreline")
    if mass.ahead_m:
        places.append(f"{millimetres(mass.ahead_m)} ahead of where it is fixed")
    return f"{mass.name} ({', '.join(places)})" if places else mass.name
