"""Limits: strain, field and shear by hand, load at the limit, place."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.service import StaticForce
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, RESONANT, SHAKE, lab, pair

SHORT = Circuit("shorted")
DOWN = StaticForce("hung weight", -2.0)


def bent(project, *forces):
    return replace(project, service=replace(project.service, static_forces=forces))


def limits(project):
    found = predict(project)
    assert [x.margin for x in found.limits] == sorted(x.margin for x in found.limits)
    return {x.name: x for x in found.limits}


def test_static_strain_is_that_of_the_bending_moment():
    """Force down at the tip: moment F (L - x), strain (z - z_n) M/EI, largest at the root end and on
    the ceramic's outer side."""
    project = bent(lab(circuit=SHORT), DOWN)
    found = limits(project)["Tensile strain, static"]
    beam = solve(project, project.candidate())
    plate = beam.plates[0]
    x = plate.x_a_eff_m
    assert found.x_m == pytest.approx(x, abs=1e-9)
    under = np.flatnonzero((beam.mesh.x_m[:, 0] > x) & (beam.mesh.x_m[:, 0] < plate.x_b_eff_m))
    section = beam.section
    arm = (
        section.top_m[under[0], 0]
        + plate.mid_offset_m
        + plate.thickness_m / 2
        - section.neutral_axis_m[under[0], 0]
    )
    expected = 2.0 * (0.3 - x) * arm / section.bending[under[0], 0]
    assert found.value == pytest.approx(expected, rel=1e-6)
    assert found.margin == pytest.approx(5e-4 / expected, rel=1e-6)
    assert found.load_at_limit.endswith("N down")
    assert float(found.load_at_limit.split()[0]) == pytest.approx(2.0 * found.margin, rel=5e-3)


def test_pulling_and_pushing_change_places_with_the_force():
    down, up = (limits(bent(lab(circuit=SHORT), replace(DOWN, force_n=f))) for f in (-2.0, 2.0))
    assert down["Tensile strain, static"].value == pytest.approx(-up["Compressive strain, static"].value)
    # what is pulled along is pushed across, about by the part's ratio of Poisson
    across = [-down["Compressive strain, static"].value, up["Tensile strain, static"].value]
    assert across == pytest.approx(2 * [0.33 * down["Tensile strain, static"].value], rel=0.1)
    assert "Field along the poling, leads open" in down
    assert "Field against the poling, leads open" in up


def test_the_worst_of_several_forces_counts():
    both = limits(bent(lab(circuit=SHORT), DOWN, replace(DOWN, name="heavier", force_n=-5.0)))
    assert both["Tensile strain, static"].load.startswith("heavier")


def test_open_voltage_is_charge_over_free_capacitance():
    project = bent(lab(circuit=SHORT), DOWN)
    found = limits(project)["Field along the poling, leads open"]
    beam = solve(project, project.candidate())
    charge = float(beam.theta_rows[0] @ beam.deflection_row(0.3)) * -2.0
    assert found.value == pytest.approx(charge / beam.free_f[0, 0] / beam.plates[0].thickness_m, rel=1e-9)


@pytest.mark.parametrize("load", [FORCE, SHAKE, PLUCK, KNOCK, replace(SHAKE, random=True)])
def test_everything_grows_with_the_load(load):
    field = next(f for f in ("force_n", "level_m_s2", "deflection_m", "impulse_n_s") if hasattr(load, f))
    twice = replace(load, **{field: 2 * getattr(load, field)})
    one, two = predict(lab(load=load, circuit=RESONANT)), predict(lab(load=twice, circuit=RESONANT))
    values = [{x.name: x.value for x in p.limits if "vibration" in x.name} for p in (one, two)]
    assert values[0] and values[1] == pytest.approx({k: 2 * v for k, v in values[0].items()}, rel=1e-9)
    assert two.groups[0].voltage_peak_v == pytest.approx(2 * one.groups[0].voltage_peak_v, rel=1e-9)
    assert two.groups[0].power_w == pytest.approx(4 * one.groups[0].power_w, rel=1e-9)


def test_strain_at_resonance_against_the_tip_motion():
    """Near mode 1 the strain is the tip amplitude times the mode's strain per tip motion."""
    project = lab(load=FORCE, circuit=SHORT)
    found = predict(project)
    strain = next(x for x in found.limits if x.name == "Strain in vibration")
    tip = found.response.peak_before * 0.1
    beam = solve(project, project.candidate())
    mode = beam.omega_rad_s[0] * beam.units[0]
    plate, section = beam.plates[0], beam.section
    e = int(np.searchsorted(beam.mesh.bounds_m, plate.x_a_eff_m + 1e-6)) - 1
    arm = section.top_m[e, 0] + plate.mid_offset_m + plate.thickness_m / 2 - section.neutral_axis_m[e, 0]
    expected = tip * arm * (mode @ beam.curvature_row(plate.x_a_eff_m)) / (mode @ beam.deflection_row(0.3))
    assert strain.value == pytest.approx(abs(expected), rel=5e-3)


def test_a_shorted_patch_has_no_voltage_and_no_power():
    found = predict(lab(load=FORCE, circuit=SHORT))
    assert found.groups[0].voltage_peak_v == 0.0
    assert found.groups[0].power_w == 0.0
    assert not any("Field" in x.name and "vibration" in x.name for x in found.limits)


def test_resistor_power_is_what_the_voltage_makes():
    found = predict(lab(load=FORCE))
    resistance = found.groups[0].values[0].value
    assert found.groups[0].power_w == pytest.approx(
        found.groups[0].voltage_peak_v ** 2 / 2 / resistance, rel=1e-9
    )


def test_series_wiring_doubles_the_leads_not_the_ceramic():
    parallel, series = (
        predict(bent(pair(lab(load=FORCE), polarity=-1, wiring=w))) for w in ("parallel", "series")
    )
    assert series.groups[0].voltage_peak_v == pytest.approx(2 * parallel.groups[0].voltage_peak_v, rel=0.02)
    fields = [
        next(x for x in f.limits if "vibration" in x.name and "Field" in x.name) for f in (parallel, series)
    ]
    assert fields[1].value == pytest.approx(fields[0].value, rel=0.02)


def test_bond_shear_needs_a_bond_that_gives():
    project = bent(lab(circuit=SHORT), DOWN)
    candidate = project.candidate()
    stiff = replace(candidate.patches[0], bond=replace(candidate.patches[0].bond, rigid=True))
    rigid = replace(project, candidates=(replace(candidate, patches=(stiff,)),))
    assert "Bond shear at the ends, static" in limits(project)
    assert "Bond shear at the ends, static" not in limits(rigid)


def test_temperature_beyond_the_package_is_beyond_its_limit():
    project = lab()
    hot = replace(project, service=replace(project.service, hot_c=95.0))
    assert limits(hot)["Temperature, hot end"].margin < 1 < limits(project)["Temperature, hot end"].margin
