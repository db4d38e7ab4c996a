"""Where splitting an electrode would help."""

from types import SimpleNamespace

import pytest

from core.predict.electrics.electrode import LEAST_USE, sign_change
from tests.core.predict.scenes import lab


@pytest.mark.parametrize("order", [1, -1])
def test_the_place_told_is_the_one_nearest_the_middle_of_the_ceramic(order):
    candidate = lab().candidate()
    patch = candidate.patches[0]
    places = [patch.x_start_m + share * patch.length_m for share in (-0.1, 0.2, 0.47, 0.66, 1.1)]
    mode = SimpleNamespace(electrode_use=0.3, strain_nodes_m=tuple(places[::order]))
    assert sign_change(candidate, mode).x_m == places[2] and sign_change(candidate, mode).patch == patch.id


def test_no_place_is_told_where_none_helps():
    candidate = lab().candidate()
    patch = candidate.patches[0]
    middle = patch.x_start_m + 0.5 * patch.length_m
    for use, nodes in ((LEAST_USE, (middle,)), (None, (middle,)), (0.3, (patch.x_end_m + 1e-3,)), (0.3, ())):
        assert sign_change(candidate, SimpleNamespace(electrode_use=use, strain_nodes_m=nodes)) is None
