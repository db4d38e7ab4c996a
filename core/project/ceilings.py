"""How much of everything a project may hold, in one place: checks, files and tables ask here.

Beyond these counts a prediction would no longer follow the hand, and no real part asks for more.
"""

from __future__ import annotations

from collections.abc import Iterator

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.structure import Structure

MOST_STATIONS = 400
MOST_MODES = 40
MOST_PATCHES = 24
MOST_GROUPS = 8
MOST_ABSORBERS = 8
MOST_LAYERS = 40
MOST_PIECES = 20
"""Pieces of one layer."""
MOST_STRIPS = 100
"""Strips that one piece stands for."""
MOST_CANDIDATES = 100
MOST_ITEMS = 200
"""Holes, masses, springs, keep-outs, datums, loads, static forces; materials and packages."""
MOST_CORNERS = 20_000
"""Corners of an outline and its holes together."""
MOST_RELEASES = 200
MOST_SAMPLES = 40_000_000
"""Numbers of one measured file."""
LARGEST_MEASUREMENT_BYTES = 600_000_000
MOST_MEASURED_FILES = 60
"""Of one candidate."""
MOST_BONDED = 2_000
"""Parts of a bonding record."""
MOST_CARRIED_BYTES = 12_000_000
"""Of measured files inside a project."""


def over_ceilings(project: Project) -> Iterator[tuple[str, str]]:
    """Path and sentence of everything there is too much of."""
    yield from _structure(project.structure)
    for path, what, count, most in (
        ("candidates", "candidates", len(project.candidates), MOST_CANDIDATES),
        ("materials", "materials", len(project.materials), MOST_ITEMS),
        ("packages", "packages", len(project.packages), MOST_ITEMS),
        ("service.loads", "loads", len(project.service.loads), MOST_ITEMS),
        ("service.static_forces", "static forces", len(project.service.static_forces), MOST_ITEMS),
        ("releases", "released revisions", len(project.releases), MOST_RELEASES),
        ("bonded", "bonded parts", len(project.bonded), MOST_BONDED),
        ("measurements", "measured candidates", len(project.measurements), MOST_CANDIDATES),
    ):
        yield from too_many(path, "The project", what, count, most)
    for candidate in project.candidates:
        yield from candidate_over_ceilings(candidate)


def candidate_over_ceilings(candidate: Candidate) -> Iterator[tuple[str, str]]:
    """Path and sentence of everything a candidate has too much of."""
    path, whose = f"candidates[{candidate.id}]", f"Candidate {candidate.id}"
    yield from too_many(f"{path}.patches", whose, "patches", len(candidate.patches), MOST_PATCHES)
    yield from too_many(f"{path}.groups", whose, "groups", len(candidate.groups), MOST_GROUPS)
    yield from too_many(f"{path}.absorbers", whose, "tuned masses", len(candidate.absorbers), MOST_ABSORBERS)
    yield from too_many(f"{path}.build.prices", whose, "prices", len(candidate.build.prices), MOST_ITEMS)


def _structure(structure: Structure) -> Iterator[tuple[str, str]]:
    corners = structure.outline and sum(map(len, (structure.outline.exterior, *structure.outline.holes)))
    for name, what, count, most in (
        ("stations_m", "stations", len(structure.stations_m), MOST_STATIONS),
        ("layers", "layers", len(structure.layers), MOST_LAYERS),
        ("cut_outs", "holes and slots", len(structure.cut_outs), MOST_ITEMS),
        ("masses", "masses", len(structure.masses), MOST_ITEMS),
        ("springs", "springs", len(structure.springs), MOST_ITEMS),
        ("keep_outs", "keep-outs", len(structure.keep_outs), MOST_ITEMS),
        ("datums", "datum features", len(structure.datums), MOST_ITEMS),
        ("outline", "corners of its outline", corners or 0, MOST_CORNERS),
    ):
        yield from too_many(f"structure.{name}", "The part", what, count, most)
    for i, layer in enumerate(structure.layers):
        path, whose = f"structure.layers[{i}].pieces", f'Layer "{layer.name}"'
        yield from too_many(path, whose, "pieces", len(layer.pieces), MOST_PIECES)


def too_many(path: str, whose: str, what: str, count: int, most: int) -> Iterator[tuple[str, str]]:
    """The sentence for more of something than there may be; nothing where it is within."""
    if count > most:
        yield path, f"{whose} has {count} {what}; at most {most} are allowed. Take some away."
