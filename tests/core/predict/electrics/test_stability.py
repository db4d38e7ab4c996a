"""Where a negative capacitance holds, alone and among other groups, cold and hot."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.spectrum import spectra
from core.circuit.stability import limit_f
from core.piezo.layout import solve
from core.predict.predict import predict
from core.project.candidate import Circuit, Instrument
from tests.core.predict.scenes import lab, two_groups, with_candidate

PARALLEL, SERIES = "negative C parallel R", "negative C series R"


def negative(kind: str, value: float) -> Circuit:
    return Circuit(kind, {"negative_capacitance_f": value, "resistance_ohm": 1e5})


def overlapping(first: Circuit, second: Circuit):
    """Two groups over the same x, which share capacitance, on opposite faces."""
    project = two_groups(lab(), first, second)
    candidate = project.candidate()
    one, other = candidate.patches
    other = replace(other, x_start_m=one.x_start_m, face="underside" if one.face == "top" else "top")
    return with_candidate(project, replace(candidate, patches=(one, other)))


OTHERS = [
    Circuit("shorted"), Circuit("open"), Circuit("resistor", {"resistance_ohm": 2e5}),
    Circuit("series R-L", {"inductance_h": 300.0, "resistance_ohm": 1e4}),
    Circuit("resistor + C", {"resistance_ohm": 2e5, "added_capacitance_f": 2e-8}),
    negative(SERIES, 9e-8), negative(PARALLEL, 2e-8),
]  # fmt: skip


@pytest.mark.parametrize("other", OTHERS, ids=lambda c: c.kind)
@pytest.mark.parametrize("kind", [PARALLEL, SERIES])
def test_the_limit_is_where_a_pole_begins_to_grow_whatever_the_other_group_carries(kind, other):
    project = overlapping(negative(kind, 5e-8), other)
    candidate = project.candidate()
    beam = solve(project, candidate, n_modes=8)
    limit = float(limit_f(beam, candidate, 0))
    for share in (0.9995, 1.0005):
        groups = (replace(candidate.groups[0], circuit=negative(kind, share * limit)), candidate.groups[1])
        found = spectra(coupled_system(beam, replace(candidate, groups=groups)), 1)
        assert bool(found[0].unstable.any()) == ((share > 1.0) == (kind == PARALLEL))


def test_room_shrinks_cold_in_parallel_and_hot_in_series():
    """A soft ceramic's capacitance grows as it warms."""
    for kind, value, worst in ((PARALLEL, 4e-8, 0), (SERIES, 9e-8, -1)):
        project = lab(circuit=negative(kind, value))
        region = predict(project).groups[0].stability
        told = [at.temperature_c for at in region.travel]
        assert told == sorted({project.service.cold_c, project.service.reference_c, project.service.hot_c})
        assert region.worst == region.travel[worst]
        assert region.worst.setting.room < region.here.setting.room
        assert region.nearest_f == value
        for at in region.travel:
            cold = predict(project, temperature_c=at.temperature_c).groups[0]
            limit = cold.blocked_capacitance_f if kind == PARALLEL else cold.free_capacitance_f
            assert at.setting.limit_f == pytest.approx(limit, rel=1e-9)


def test_a_setting_that_only_fails_cold_is_told_with_what_holds():
    project = lab(circuit=negative(PARALLEL, 5.65e-8))
    region = predict(project).groups[0].stability
    assert region.here.setting.holds and not region.worst.setting.holds
    assert "at 18 °C it drifts" in region.sentence and "holds from cold to hot" in region.sentence
    held = lab(circuit=negative(PARALLEL, region.nearest_f))
    assert predict(held, temperature_c=project.service.cold_c).unstable == ()


def test_an_input_on_the_leads_leaves_nothing_that_holds_in_series():
    project = lab(circuit=negative(SERIES, 1e-6), instrument=Instrument())
    found = predict(project)
    assert found.unstable and "drifts" in found.unstable[0]
    region = found.groups[0].stability
    assert not region.here.setting.holds and region.nearest_f is None
    assert "take it off" in region.sentence
    assert predict(lab(circuit=negative(PARALLEL, 3e-8), instrument=Instrument())).unstable == ()


def test_circuits_without_one_have_no_region():
    assert predict(lab()).groups[0].stability is None
    assert np.isfinite(predict(lab()).modes[0].zeta)
