"""Strategies: layered structures of random outline, supports that hold them, patches that fit."""

from __future__ import annotations

import msgspec
from hypothesis import settings
from hypothesis import strategies as st

from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Bond
from core.project.structure import Structure
from tests.published.build import ceramic, elastic, group, package, place, project, strip, support

law = settings(max_examples=20, derandomize=True, deadline=None)
"""Few examples, the same ones every time."""

MATERIALS = [
    ("light", 5e9, 500.0),
    ("metal", 70e9, 2700.0),
    ("heavy", 200e9, 7850.0),
    ("glue", 2.7e9, 1200.0),
]
NAMES = ["light", "metal", "heavy"]


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_subnormal=False)


@st.composite
def held_ends(draw):
    """(root, tip) that leave no rigid-body motion."""
    pairs = (
        "clamped free, clamped pinned, clamped clamped, pinned pinned, guided clamped, free clamped, "
        "elastic free, pinned guided"
    )
    root, tip = draw(st.sampled_from([pair.split() for pair in pairs.split(", ")]))
    first = elastic(draw(between(1e3, 1e8)), draw(between(1.0, 1e5))) if root == "elastic" else support(root)
    return first, support(tip)


@st.composite
def structures(draw) -> Structure:
    """One to three layers over two to five stations; thickness changes up to fivefold."""
    span = draw(between(0.1, 1.0))
    n = draw(st.integers(2, 5))
    steps = draw(st.lists(between(0.2, 1.0), min_size=n - 1, max_size=n - 1))
    stations = [0.0]
    for step in steps:
        stations.append(stations[-1] + span * step / sum(steps))
    stations[-1] = span
    width = tuple(draw(st.lists(between(0.02, 0.08), min_size=n, max_size=n)))
    layers = [
        (draw(st.sampled_from(NAMES)), tuple(draw(st.lists(between(8e-4, 4e-3), min_size=n, max_size=n))))
        for _ in range(draw(st.integers(1, 3)))
    ]
    root, tip = draw(held_ends())
    return strip(span, width, layers, stations=tuple(stations), root=root, tip=tip)


@st.composite
def patched(draw) -> Project:
    """A structure with one packaged patch on either face or both, finite bond."""
    structure = draw(structures())
    span = structure.span_m
    length = span * draw(between(0.08, 0.5))
    start = (span - length) * draw(between(0.0, 1.0))
    bond = Bond("glue", draw(between(2e-5, 1e-4)), 1e9)
    plate = package(ceramic(), length, 0.015, draw(between(1e-4, 5e-4)), bond=bond)
    face = draw(st.sampled_from(["top", "underside", "both"]))
    return project(structure, MATERIALS, [plate], [place(plate, start, face=face)], [group("P1")])


def modes(made: Project) -> CoupledBeam:
    return solve(made, made.candidate(), n_modes=12)


def without_patch(made: Project) -> Project:
    return msgspec.structs.replace(made, candidates=(Candidate("A", "bare"),))


def with_structure(made: Project, **changes) -> Project:
    return msgspec.structs.replace(made, structure=msgspec.structs.replace(made.structure, **changes))
