"""What ships with the program: materials, patch packages, worked examples, a blank project.

The library is a start, not an authority: every constant says where it is from, and most of them
are typical values marked "assumed". Entries are copied into a project, which then owns them.
"""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

import msgspec

from core.project import store
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Package
from core.project.service import Release, Service
from core.project.structure import Damping, DatumFeature, Layer, Piece, Structure

_EXAMPLES: tuple[tuple[str, str], ...] = (
    ("lab-beam", "Lab beam, aluminium 300 x 30 x 2"),
    ("touring-ski", "Touring-ski forebody, fore 172"),
    ("gantry-bracket", "Camera bracket on a gantry"),
    ("louvre-blade", "Louvre blade"),
    ("half-board", "Snowboard nose half, nose 158"),
)
_VALIDATION: tuple[tuple[str, str], ...] = (
    ("slim-bimorph", "Slim bimorph, published 2011"),
    ("broad-bimorph", "Broad bimorph with a tip mass, published 2009"),
    ("strip-with-wafers", "Strip with four wafers, published 2012"),
)


def _read(*parts: str) -> bytes:
    return resources.files("resources").joinpath(*parts).read_bytes()


@lru_cache(maxsize=1)
def materials() -> tuple[Material, ...]:
    """Generic materials for structures, skins and bonds, with tolerance and source."""
    return msgspec.json.decode(_read("materials.json"), type=tuple[Material, ...])


@lru_cache(maxsize=1)
def packages() -> tuple[Package, ...]:
    """Generic patch packages by ceramic type, with constants, limits and sources."""
    return msgspec.json.decode(_read("packages.json"), type=tuple[Package, ...])


def examples() -> tuple[tuple[str, str], ...]:
    """(key, title) of the worked examples, the one the window opens on first."""
    return _EXAMPLES


def validation_examples() -> tuple[tuple[str, str], ...]:
    """(key, title) of published experiments that show how close the model comes; sources in their notes."""
    return _VALIDATION


@lru_cache(maxsize=8)
def example(name: str) -> Project:
    """The worked example or published experiment of that key; KeyError if there is none."""
    if name in dict(_VALIDATION):
        return store.loads(_read("examples", "validation", f"{name}.quietspan"))
    if name not in dict(_EXAMPLES):
        raise KeyError(name)
    return store.loads(_read("examples", f"{name}.quietspan"))


def materials_of(package: Package) -> tuple[Material, ...]:
    """Library materials a package's skins and bond name, for copying along with it."""
    names = (package.lower_skin.material, package.upper_skin.material, package.bond.material)
    return tuple(material for material in materials() if material.name in names)


def blank_project() -> Project:
    """A plain aluminium strip without a patch, to be changed into the customer's part."""
    package = packages()[0]
    strip = Structure(
        name="New part",
        stations_m=(0.0, 0.3),
        width_m=0.03,
        layers=(Layer("strip", 2e-3, (Piece("Aluminium alloy"),)),),
        damping=Damping((0.003,)),
        datums=(DatumFeature("clamp line", 0.0, touchable=False), DatumFeature("free end", 0.3)),
    )
    aluminium = next(m for m in materials() if m.name == "Aluminium alloy")
    return Project(
        name="New project",
        structure=strip,
        materials=(aluminium, *materials_of(package)),
        packages=(package,),
        candidates=(Candidate("A", "A"),),
        active="A",
        service=Service((Release("release by 1 mm", 1e-3, (5.0, 1000.0)),)),
    )
