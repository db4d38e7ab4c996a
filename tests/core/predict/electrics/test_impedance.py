"""A group over frequency: what stands on its leads, and the voltage there."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.use.metered import reading_f
from core.project.candidate import Circuit, Instrument, Tuning
from tests.core.predict.scenes import FORCE, lab, two_groups

F = np.array([0.5, 8.0, 17.0, 40.0, 120.0, 700.0, 1e5])


def group(project, index: int = 0):
    return predict(project).groups[index]


def test_the_capacitance_is_what_a_meter_reads():
    """The other group shorted, as a reading takes it; free at rest, blocked far above."""
    project = two_groups(lab(), Circuit("resistor", tuning=Tuning(1)), Circuit("shorted"))
    found = predict(project)
    over = found.groups[0].over_frequency(F)
    for f, value in zip(F, over.capacitance_f, strict=True):
        assert value == pytest.approx(float(reading_f(found.solved.beam, 0, float(f))), rel=1e-6)
    assert over.capacitance_f[0] == pytest.approx(found.groups[0].free_capacitance_f, rel=1e-3)


def test_a_passive_part_takes_power_at_every_frequency():
    over = group(lab()).over_frequency(np.geomspace(1.0, 2000.0, 400))
    assert (over.patches_ohm.real > 0.0).all() and (over.loss > 0.0).all()
    far = group(lab()).over_frequency(np.array([1.0]))
    assert far.loss[0] == pytest.approx(0.02, rel=0.1)


@pytest.mark.parametrize("kind", ["resistor", "series R-L + C", "current-flowing 2", "series-parallel 2", "negative C parallel R"])
def test_the_voltage_is_that_of_the_source_over_both_impedances(kind):
    """Open voltage times circuit over circuit and patches: Thevenin's theorem, by the open prediction."""
    values = {"negative_capacitance_f": 3e-8} if kind.startswith("negative") else {}
    project = lab(FORCE, Circuit(kind, values, Tuning(1)))
    with_it = group(project).over_frequency(F)
    alone = group(lab(FORCE, Circuit("open"))).over_frequency(F)
    share = np.abs(with_it.circuit_ohm / (with_it.circuit_ohm + with_it.patches_ohm))
    assert with_it.patches_ohm == pytest.approx(alone.patches_ohm, rel=1e-9)
    assert with_it.voltage_v == pytest.approx(alone.voltage_v * share, rel=1e-6)


def test_the_circuits_impedance_is_that_of_its_parts():
    circuit = Circuit("series R-L + C", {"inductance_h": 300.0, "resistance_ohm": 2e4, "added_capacitance_f": 1e-8})
    over = group(lab(circuit=circuit)).over_frequency(F)
    s = 2j * np.pi * F
    assert over.circuit_ohm == pytest.approx(1.0 / (1.0 / (2e4 + 300.0 * s) + 1e-8 * s), rel=1e-12)
    assert np.isinf(group(lab(circuit=Circuit("open"))).over_frequency(F).circuit_ohm).all()
    assert (group(lab(circuit=Circuit("shorted"))).over_frequency(F).circuit_ohm == 0.0).all()


def test_an_input_counts_with_the_patches():
    bare, loaded = (group(lab(circuit=Circuit("open"), instrument=hung)).over_frequency(np.array([0.5]))
                    for hung in (None, Instrument("probe", 1e6, 1e-9)))  # fmt: skip
    assert loaded.loss[0] > 4.0 and bare.loss[0] < 0.03
    assert loaded.capacitance_f[0] == pytest.approx(bare.capacitance_f[0] + 1e-9, rel=1e-6)


def test_it_is_copied_as_a_table():
    table = group(lab()).over_frequency(F).table()
    assert len(table) == 1 + len(F) and all(len(row) == len(table[0]) for row in table)
    assert table[0][0] == "Hz" and table[1][0] == "0.500000"


def test_at_rest_there_is_no_impedance():
    with pytest.raises(ValueError, match="above 0 Hz"):
        group(lab()).over_frequency(np.array([0.0]))


def test_a_frequency_on_an_undamped_mode_and_a_group_without_a_patch_stay_finite():
    project = lab(circuit=Circuit("open"))
    structure = replace(project.structure, damping=replace(project.structure.damping, ratios=(0.0,)))
    packages = tuple(
        replace(p, ceramic=replace(p.ceramic, tan_delta=replace(p.ceramic.tan_delta, value=0.0))) for p in project.packages
    )
    found = predict(replace(project, structure=structure, packages=packages))
    over = found.groups[0].over_frequency(np.array([found.modes[0].f_short_hz]))
    assert np.isfinite(over.patches_ohm).all() and np.isfinite(over.voltage_v).all()
