"""What ships: every constant has its source, types follow the designations, titles are there."""

from __future__ import annotations

import math

import msgspec
import pytest

from core.project import library
from core.project.problems import find_problems
from core.project.record import Constant
from core.units.constants import VACUUM_PERMITTIVITY_F_M


def constants(value, path=""):
    if isinstance(value, Constant):
        yield path, value
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from constants(getattr(value, name), f"{path}.{name}")
    elif isinstance(value, (tuple, list)):
        for item in value:
            yield from constants(item, f"{path}[{getattr(item, 'name', '')}]")


def test_every_constant_says_where_it_is_from():
    found = [*constants(library.materials()), *constants(library.packages())]
    assert len(found) > 200
    assert [path for path, c in found if not c.source.strip()] == []


def test_constants_of_ceramics_and_materials_have_a_tolerance():
    found = [
        *constants(library.materials()),
        *(c for p in library.packages() for c in constants(p.ceramic, p.name)),
    ]
    assert [path for path, c in found if c.tolerance is None] == []


def test_a_project_of_the_whole_library_has_no_problem():
    blank = library.blank_project()
    whole = msgspec.structs.replace(blank, materials=library.materials(), packages=library.packages())
    assert find_problems(whole) == ()


@pytest.mark.parametrize(
    ("name", "k31", "e31"),
    [("Navy Type I", 0.33, -10.0), ("Navy Type II", 0.34, -10.4), ("Navy Type VI", 0.39, -16.6)],
)
def test_ceramics_have_the_coupling_of_their_type(name, k31, e31):
    """k31 after Jaffe, Cook & Jaffe 1971, e31 = d31/s11E after Erturk & Inman 2011, both from memory."""
    ceramic = next(p.ceramic for p in library.packages() if p.ceramic.name == name)
    d31, s11 = ceramic.d31_c_n.value, ceramic.s11e_1_pa.value
    found = math.sqrt(d31**2 / (s11 * ceramic.eps33t_relative.value * VACUUM_PERMITTIVITY_F_M))
    assert found == pytest.approx(k31, rel=0.03)
    assert d31 / s11 == pytest.approx(e31, rel=0.01)


def test_examples_are_named_and_lead_with_the_lab_beam():
    keys = [key for key, _ in library.examples()]
    assert keys[0] == "lab-beam" and len(set(keys)) == 5
    for key in keys:
        project = library.example(key)
        assert project.notes and project.sheet.datum in {
            d.name for d in project.structure.datums if d.touchable
        }
        assert 2 <= len(project.candidates) <= 3 and project.active == "A"
    with pytest.raises(KeyError):
        library.example("no such")


def test_a_package_names_the_materials_it_needs():
    for package in library.packages():
        names = {m.name for m in library.materials_of(package)}
        assert names == {package.lower_skin.material, package.upper_skin.material, package.bond.material}
