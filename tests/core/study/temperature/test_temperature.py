"""Cold, reference and hot with the circuit held: closed forms, the fixed values, what re-trimming gives."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.study.layouts import layouts, placed
from core.study.temperature.temperature import temperature_study
from core.study.temperature.temperature_report import temperature_json, temperature_text


@pytest.fixture(scope="module")
def ski():
    project = replace(library.example("touring-ski"), active="C")
    return project, temperature_study(project)


def test_the_reference_is_the_prediction(ski):
    project, study = ski
    predicted = predict(project)
    for mode, shown in zip(study.at("reference").modes, predicted.modes, strict=True):
        assert mode.f_short_hz == pytest.approx(shown.f_short_hz, rel=1e-9)
        assert mode.zeta == pytest.approx(shown.zeta, rel=1e-6)
        assert mode.zeta_retrimmed == pytest.approx(shown.zeta, rel=1e-6)
        assert mode.peak_change_db == pytest.approx(shown.peak_change_db, abs=0.02)


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_one_answer_at_the_reference_whatever_it_is(key):
    """The project at its reference temperature is one thing: prediction, study, sweep and tolerance."""
    project = library.example(key)
    project = replace(project, service=replace(project.service, cold_c=-5.0, reference_c=7.0, hot_c=30.0))
    predicted, at = predict(project), temperature_study(project).at("reference")
    for mode, shown in zip(at.modes, predicted.modes, strict=True):
        assert mode.f_short_hz == pytest.approx(shown.f_short_hz, rel=1e-9)
        assert mode.k2 == pytest.approx(shown.k2, rel=1e-9)
        assert mode.zeta == pytest.approx(shown.zeta, rel=1e-9)
        assert mode.zeta_before == pytest.approx(shown.zeta_before, rel=1e-9)
    for group, shown in zip(at.groups, predicted.groups, strict=True):
        assert group.free_capacitance_f == pytest.approx(shown.free_capacitance_f, rel=1e-9)
        assert dict(group.retrimmed) == pytest.approx(
            {v.name: v.value for v in shown.values} if group.retrimmed else {}, rel=1e-6
        )
    patch = project.candidate().patches[0]
    candidate = project.candidate()
    swept = layouts(project, candidate, placed(candidate, patch.id, np.array([patch.x_start_m])), 3).beam
    expected = [m.f_short_hz for m in predicted.modes[:3]]
    np.testing.assert_allclose(swept.omega_rad_s[0, :3] / (2 * np.pi), expected, rtol=1e-4)


def test_the_examples_keep_the_coefficients_of_the_library():
    """The ski is softer when warm: its moduli have coefficients, and the one that has none is named."""
    project = library.example("touring-ski")
    at = temperature_study(project)
    assert at.at("cold").modes[0].f_short_hz > 1.01 * at.at("hot").modes[0].f_short_hz
    assert at.constant == ("Young's modulus of Cover foil, 4 GPa",)
    assert "no coefficient given: Young's modulus of Cover foil, 4 GPa" in temperature_text(at)


def test_capacitance_follows_the_permittivity(ski):
    """C_free is b l eps33T/t plus the little that the bend lets in: near -13.5 % at 45 K below."""
    project, study = ski
    per_kelvin = project.packages[0].ceramic.eps33t_relative.per_kelvin
    shift = study.at("cold").groups[0].capacitance_shift
    assert shift == pytest.approx(per_kelvin * -45.0, abs=0.01)
    assert study.at("reference").groups[0].capacitance_shift == 0.0


def test_a_resonant_shunt_detunes_with_the_root_of_the_capacitance(ski):
    _, study = ski
    cold = study.at("cold").groups[0]
    assert cold.resonant and cold.mode == 1
    f = [study.at(n).modes[0].f_short_hz for n in ("cold", "reference")]
    expected = (1.0 + cold.capacitance_shift) ** -0.5 * f[1] / f[0] - 1.0
    assert cold.detuning == pytest.approx(expected, abs=2e-3)


def test_held_loses_and_retrimming_brings_back(ski):
    _, study = ski
    cold, reference = study.at("cold").modes[0], study.at("reference").modes[0]
    assert cold.zeta < 0.6 * reference.zeta
    assert cold.zeta_retrimmed > 0.95 * reference.zeta


def test_without_coefficients_nothing_changes():
    project = library.example("lab-beam")
    materials = tuple(
        replace(m, youngs_modulus_pa=replace(m.youngs_modulus_pa, per_kelvin=0.0)) for m in project.materials
    )

    def still(ceramic):
        names = ("d31_c_n", "eps33t_relative", "s11e_1_pa")
        return replace(ceramic, **{n: replace(getattr(ceramic, n), per_kelvin=0.0) for n in names})

    packages = tuple(replace(p, ceramic=still(p.ceramic)) for p in project.packages)
    study = temperature_study(replace(project, materials=materials, packages=packages))
    assert study.is_flat
    assert not temperature_study(project).is_flat


def test_a_fixed_circuit_serves_the_mode_it_damps():
    project = library.example("lab-beam")
    candidate = project.candidate("B")
    group = candidate.groups[0]
    values = {v.name: v.value for v in predict(project, "B").groups[0].values}
    fixed = replace(group, circuit=replace(group.circuit, values=values, tuning=None))
    project = replace(
        project,
        candidates=tuple(
            replace(candidate, groups=(fixed,)) if c.id == "B" else c for c in project.candidates
        ),
    )
    assert temperature_study(project, "B").points[0].groups[0].mode == 2


def test_report_says_each_temperature(ski):
    _, study = ski
    points = temperature_json(study)
    assert [p["temperature_c"] for p in points] == [-25.0, 20.0, 30.0]
    assert points[0]["modes"][0]["zeta"] == study.at("cold").modes[0].zeta
    text = temperature_text(study)
    assert "−25 / 20 / 30 °C" in text and "electrical resonance against mode 1 +5" in text


def test_no_patch_is_no_trouble():
    project = library.example("lab-beam")
    bare = replace(project.candidate("A"), patches=(), groups=())
    study = temperature_study(replace(project, candidates=(bare,), active="A"))
    assert study.points[0].groups == ()
    assert np.isfinite(study.points[0].modes[0].zeta)
