"""A layout is solved once while only what hangs on it changes, and anew whenever it is another."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import bare, modes_kept, predict
from core.project.candidate import Absorber, Circuit, Group, Instrument, Member, Tuning
from tests.core.predict.scenes import lab, pair, with_candidate


def beam_of(project):
    return predict(project).solved.beam


def with_group(project, **changes):
    candidate = project.candidate()
    return with_candidate(project, replace(candidate, groups=(replace(candidate.groups[0], **changes),)))


def test_what_hangs_on_the_leads_or_is_driven_solves_nothing_anew():
    project = pair(lab())
    first = beam_of(project)
    for other in (
        with_group(project, circuit=Circuit("series R-L", tuning=Tuning(mode=2))),
        with_group(project, instrument=Instrument("probe", 1e7, 1e-10)),
        replace(project, drive=replace(project.drive, amplitude_v=3.0)),
        replace(project, name="another"),
    ):
        assert beam_of(other) is first


@pytest.mark.parametrize(
    "change",
    [
        lambda p: with_candidate(p, replace(p.candidate(), patches=(replace(p.candidate().patches[0], x_start_m=0.05), p.candidate().patches[1]))),
        lambda p: with_group(p, wiring="series"),
        lambda p: with_group(p, members=(Member("P1", 1), Member("P2", -1))),
        lambda p: with_group(p, members=(Member("P1", 1),)),
        lambda p: with_candidate(p, replace(p.candidate(), groups=(*p.candidate().groups, Group("G9", ())))),
        lambda p: with_candidate(p, replace(p.candidate(), absorbers=(Absorber("M1", 0.2, 0.01, 20.0),))),
        lambda p: replace(p, structure=replace(p.structure, damping=replace(p.structure.damping, ratios=(0.02,)))),
        lambda p: replace(p, view=replace(p.view, modes_shown=9)),
        lambda p: replace(p, service=replace(p.service, reference_c=35.0)),
    ],
    ids=["place", "wiring", "polarity", "member", "group", "mass", "damping", "modes", "temperature"],
)  # fmt: skip
def test_another_layout_is_solved(change):
    project = pair(lab())
    first, other = beam_of(project), change(project)
    found = beam_of(other)
    assert found is not first
    fresh = solve(other, other.candidate(), n_modes=modes_kept(other, bare(other)))
    assert found.omega_rad_s == pytest.approx(fresh.omega_rad_s, rel=1e-14)
    assert found.group_k2 == pytest.approx(fresh.group_k2, rel=1e-12)
    assert np.array_equal(found.hung_kg, fresh.hung_kg)
    assert found.zeta0 == pytest.approx(fresh.zeta0, rel=1e-12)
    assert found.wiring.group_ids == fresh.wiring.group_ids
