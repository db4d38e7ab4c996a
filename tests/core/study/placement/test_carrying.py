"""Maps at the level 'across', carried over from sections free across, against every cell in full."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from msgspec.structs import replace

from core.project import library
from core.project.candidate import Absorber, Circuit, Group, Tuning
from core.project.edit import with_candidate, with_structure
from core.project.structure import Support
from core.study.placement import map_values
from core.study.placement.map_values import map_chunk
from core.study.placement.maps import default_request, placement_map


def across(name):
    return with_structure(library.example(name), level="across", keep_outs=())


def compared(monkeypatch, project, asked, every=23):
    """The map, the share of its cells that was worked out in full, and its largest difference from full ones at every so many cells,
    of the largest value."""
    in_full, worked = [], map_values._worked

    def counted(project, request, cells, said):
        in_full.append(0 if said is not None else len(cells))
        return worked(project, request, cells, said)

    monkeypatch.setattr(map_values, "_worked", counted)
    found = placement_map(project, asked)
    share = sum(in_full) / np.isfinite(found.values).sum()
    cells = np.flatnonzero(np.isfinite(found.values))[::every]
    exact = map_chunk(project, asked, cells)[0]
    return found, share, np.abs(found.values.ravel()[cells] - exact).max() / np.nanmax(np.abs(found.values))


def test_a_map_is_that_of_every_cell_in_full(monkeypatch):
    project = across("lab-beam")
    asked = default_request(project, project.candidate().patches[0].id, mode=1, shape=(50, 20))
    found, share, apart = compared(monkeypatch, project, asked)
    assert share < 0.15 and apart < 1.5e-3
    best = found.best[0] * len(found.size_m) + found.best[1]
    assert found.best_value == pytest.approx(map_chunk(project, asked, np.array([best]))[0][0], rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "quantity", "mode", "axis", "over"),
    [
        ("touring-ski", "coupling", 2, "thickness", "start"),
        ("touring-ski", "damping", 3, "length", "start"),
        ("louvre-blade", "coupling", 2, "thickness", "start"),
        ("louvre-blade", "damping", 3, "length", "start"),
        ("touring-ski", "peak change", 1, "thickness", "length"),
        ("lab-beam", "strain margin", 1, "length", "start"),
        ("gantry-bracket", "damping", 2, "width", "start"),
    ],
)
def test_every_quantity_is_near_to_full(monkeypatch, name, quantity, mode, axis, over):
    project = across(name)
    asked = default_request(
        project, project.candidate().patches[0].id, quantity=quantity, mode=mode, axis=axis, over=over, shape=(80, 24)
    )
    _, share, apart = compared(monkeypatch, project, asked, every=5)
    assert share < 0.5 and apart < 5e-3


def test_beside_a_tuned_mass_and_with_branches(monkeypatch):
    project = across("lab-beam")
    candidate = project.candidate()
    group = replace(candidate.groups[0], circuit=Circuit("current-flowing 2", tuning=Tuning(mode=1)))
    mass = Absorber("M1", x_m=0.9 * project.structure.span_m, mass_kg=1e-3, frequency_hz=200.0, tuning=Tuning(mode=2))
    project = with_candidate(project, replace(candidate, groups=(group,), absorbers=(mass,)))
    asked = default_request(project, candidate.patches[0].id, mode=1, shape=(36, 16))
    _, share, apart = compared(monkeypatch, project, asked, every=61)
    assert share < 0.3 and apart < 3e-3


@pytest.mark.parametrize("what", ["a group without a patch", "a free part"])
def test_what_couples_nothing_or_is_held_nowhere_is_carried_over_too(monkeypatch, what):
    project = across("lab-beam")
    candidate = project.candidate()
    if what == "a free part":
        project = with_structure(project, root=Support("free"))
    else:
        project = with_candidate(project, replace(candidate, groups=(*candidate.groups, Group("G9", (), Circuit("resistor", {"resistance_ohm": 1e4})))))
    asked = default_request(project, candidate.patches[0].id, mode=1, shape=(36, 16))
    _, share, apart = compared(monkeypatch, project, asked, every=61)
    assert share < 0.3 and apart < 1.5e-3


def test_modes_that_curve_across_are_worked_out_in_full(monkeypatch):
    project = across("half-board")
    asked = default_request(project, project.candidate().patches[0].id, mode=3, shape=(20, 10))
    asked = dataclasses.replace(asked, respect_limits=False)
    assert compared(monkeypatch, project, asked, every=101)[1] == pytest.approx(1.0)
