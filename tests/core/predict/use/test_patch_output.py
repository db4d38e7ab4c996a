"""Strain of a ceramic and voltage on its leads as outputs of the response."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project.candidate import Circuit
from tests.core.predict.scenes import FORCE, KNOCK, RESISTOR, RESONANT, SHAKE, lab, two_groups, with_candidate


def at_patch(output, load=FORCE, circuit=RESISTOR, **view):
    return predict(lab(load=load, circuit=circuit, output=output, **view))


def test_static_strain_is_arm_times_moment_over_stiffness():
    """Far below mode 1 under 1 N at the tip, leads shorted: -(z_p - z_n)(L - x)/EI, mean over the ceramic."""
    slow = replace(FORCE, band_hz=(0.01, 5.0))
    found = at_patch("strain", slow, Circuit("shorted"))
    project = lab()
    patch, package = project.candidate().patches[0], project.packages[0]
    shapes = found.shapes
    under = (shapes.x_m > patch.x_start_m + 2e-3) & (shapes.x_m < patch.x_end_m - 2e-3)
    z_p = 0.002 + patch.bond.thickness_m + package.lower_skin.thickness_m + package.ceramic_thickness_m / 2
    arm = z_p - shapes.neutral_axis_m[under].mean()
    middle = 0.5 * (patch.x_start_m + patch.x_end_m)
    expected = -arm * (0.3 - middle) / shapes.bending_stiffness_nm2[under].mean()
    assert found.response.before[0].real == pytest.approx(expected, rel=0.01)
    assert (found.response.unit, found.response.before_label) == ("1/N", "patches shorted")


def test_strain_peaks_fall_with_the_circuit():
    found = at_patch("strain", before="bare structure")
    assert found.modes[0].peak_change_db < -6
    assert found.response.before_label == "patches shorted", "a bare structure has no ceramic"
    assert found.before_label == "bare structure"


@pytest.mark.parametrize("load", [FORCE, SHAKE], ids=lambda load: load.name)
def test_the_voltage_response_is_the_voltage_of_the_group_per_unit_of_load(load):
    found = at_patch("voltage", load, RESONANT)
    size = load.force_n if load is FORCE else load.level_m_s2
    assert found.response.peak_after * size == pytest.approx(found.groups[0].voltage_peak_v, rel=1e-3)
    assert np.isnan(found.response.before).all()
    assert all(mode.peak_change_db is None for mode in found.modes)


def test_shorted_leads_have_no_voltage():
    assert np.abs(at_patch("voltage", circuit=Circuit("shorted")).response.after).max() == 0.0


def test_what_is_looked_at_changes_no_circuit_and_no_damping():
    tuned = replace(RESONANT, tuning=replace(RESONANT.tuning, rule="optimum", goal="peak"))
    plain, strain, voltage = (
        predict(lab(circuit=tuned, output=output)) for output in ("receptance", "strain", "voltage")
    )
    assert plain.groups[0].values == strain.groups[0].values == voltage.groups[0].values
    assert [m.zeta for m in plain.modes] == [m.zeta for m in voltage.modes]
    assert plain.limits == strain.limits == voltage.limits


def test_the_patch_named_is_looked_at_and_one_that_is_gone_is_the_first():
    project = two_groups(lab(output="voltage"), RESISTOR, RESONANT)
    labels = [
        predict(replace(project, view=replace(project.view, output_patch=name))).response.label
        for name in (None, "P2", "P9")
    ]
    assert [label.split(",")[0] for label in labels] == [
        f"Voltage on the leads of group {group}" for group in ("G1", "G2", "G1")
    ]


def test_without_a_patch_the_motion_is_shown():
    project = lab(output="strain")
    bare = with_candidate(project, replace(project.candidate(), patches=(), groups=()))
    assert predict(bare).response.unit == "m/N"


@pytest.mark.parametrize("output", ["strain", "voltage"])
@pytest.mark.parametrize("load", [FORCE, SHAKE, KNOCK], ids=lambda load: load.name)
def test_the_report_takes_them(output, load):
    project = lab(load=load, output=output)
    found = predict(project)
    assert "nan" not in prediction_text(project, found)
    assert prediction_json(project, found)["response"]["unit"] == found.response.unit
