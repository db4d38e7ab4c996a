"""Static use of a ceramic: each of its allowables by itself."""

from __future__ import annotations

import numpy as np
import pytest

from core.piezo.layout import solve
from core.piezo.strain import StaticStrain, static_use
from tests.core.scenes import lab


@pytest.mark.parametrize("standing", [False, True])
@pytest.mark.parametrize(("volts", "limit"), [(40.0, "field_along_v_m"), (-40.0, "field_against_v_m")])
def test_a_field_counts_against_what_is_allowed_its_own_way(volts, limit, standing):
    project = lab()
    beam = solve(project, project.candidate("A"))
    still = np.zeros((1, 1))
    both = (0.5 * still + volts, still)
    use = static_use(beam, StaticStrain(still, still, *(both[::-1] if standing else both)))
    (plate,) = beam.plates
    assert use[0] == pytest.approx([0.0, 0.0, 40.0 / plate.thickness_m / getattr(plate.package.limits, limit).value])


def test_tension_and_compression_each_have_their_own():
    project = lab()
    beam = solve(project, project.candidate("A"))
    limits = beam.plates[0].package.limits
    use = static_use(beam, StaticStrain(np.full((1, 1), 1e-4), np.full((1, 1), 2e-4), *(np.zeros((1, 1)),) * 2))
    assert use[0] == pytest.approx([1e-4 / limits.tensile_strain.value, 2e-4 / limits.compressive_strain.value, 0.0])
    assert limits.tensile_strain.value != limits.compressive_strain.value
