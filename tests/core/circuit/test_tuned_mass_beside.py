"""A tuned mass at its optimum beside a circuit: one layout as many, and the damping found is the one shown."""

import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.project.candidate import Absorber, Circuit, Tuning
from core.project.edit import with_candidate
from core.study.placement.position import damping_against_position

CASES = [("series R-L", 2, 0.02), ("series R-L", 2, 0.1), ("resistor", 2, 0.02), ("resistor", 1, 0.1)]


def ski(kind, mode, mass_kg):
    """The ski with its patch tuned on mode 1 and a mass at the tip on a mode, both at their optimum."""
    project = library.example("touring-ski")
    project = replace(project, structure=replace(project.structure, level="plain"))
    candidate = project.candidate("A")
    group = replace(candidate.groups[0], circuit=Circuit(kind, tuning=Tuning(1, "optimum")))
    mass = Absorber("M1", project.structure.span_m, mass_kg, 40.0, tuning=Tuning(mode, "optimum"))
    return replace(project, candidates=(replace(candidate, groups=(group,), absorbers=(mass,)),))


def with_patch_at(project, x):
    candidate = project.candidate()
    return with_candidate(project, replace(candidate, patches=(replace(candidate.patches[0], x_start_m=x),)))


@pytest.mark.parametrize(("kind", "mode", "mass_kg"), CASES)
def test_the_strip_ends_where_releasing_does(kind, mode, mass_kg):
    project = ski(kind, mode, mass_kg)
    strip = damping_against_position(project, "A", "P1", n=12, modes=2)
    assert strip is not None
    for i in (2, 6, 9):
        alone = [m.zeta for m in predict(with_patch_at(project, float(strip.x_start_m[i]))).modes[:2]]
        assert [float(v) for v in strip.zeta[i]] == pytest.approx(alone, rel=1e-3)


@pytest.mark.parametrize(("kind", "mode", "mass_kg"), CASES)
def test_no_value_of_the_mass_a_little_off_damps_its_mode_more(kind, mode, mass_kg):
    project = ski(kind, mode, mass_kg)
    found = predict(project)
    best, values = found.modes[mode - 1].zeta, found.solved.system.connections[1].numbers
    candidate = found.solved.candidate
    group = replace(candidate.groups[0], circuit=Circuit(kind, found.solved.system.connections[0].numbers))
    for name in ("frequency_hz", "damping_ratio"):
        for factor in (0.8, 0.97, 1.03, 1.2):
            mass = Absorber("M1", candidate.absorbers[0].x_m, **{**values, name: values[name] * factor})
            off = predict(with_candidate(project, replace(candidate, groups=(group,), absorbers=(mass,))))
            assert off.modes[mode - 1].zeta < best * 1.001
    assert best > 0.2


@pytest.mark.parametrize("circuit", [Circuit("switched inductor", {}, Tuning(2, "optimum")), Circuit("open")], ids=["tuned", "open"])
def test_a_series_of_parts_leaves_a_mass_as_it_is(circuit):
    """It is made to measure: taken again for parts, its damping alone would be tuned where two poles have fallen together."""
    project = library.example("lab-beam")
    project = replace(project, structure=replace(project.structure, level="section"))
    candidate = project.candidate()
    mass = Absorber("M1", 0.2287, 0.0013341896, 20.0, tuning=Tuning(1, "optimum"))
    group, patch = replace(candidate.groups[0], circuit=circuit), replace(candidate.patches[0], x_start_m=0.25)
    candidate = replace(candidate, patches=(patch,), groups=(group,), absorbers=(mass,))
    made = [predict(with_candidate(project, replace(candidate, build=replace(candidate.build, series=s)))) for s in ("exact", "E96", "E12")]
    assert made[0].absorbers[0].damping_ratio > 0.05
    for one in made[1:]:
        assert one.absorbers[0].frequency_hz == made[0].absorbers[0].frequency_hz
        assert one.absorbers[0].damping_ratio == made[0].absorbers[0].damping_ratio
