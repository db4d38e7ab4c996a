"""Time of what stands on the board: every part's worst load, the parts list, the netlist."""

import pytest

from core.handover.netlist import netlist
from core.handover.parts_list import parts_list
from core.predict.electrics.board import board
from core.predict.predict import predict
from core.project import library

pytestmark = pytest.mark.benchmark


@pytest.fixture(scope="module")
def predicted():
    """A pair on a resonant circuit whose inductor is simulated."""
    return predict(library.example("touring-ski"), "C").whole()


def test_loads_of_every_part(benchmark, predicted):
    found = benchmark.pedantic(board, (predicted.solved,), rounds=20, warmup_rounds=2)
    assert len(found.loads) >= 8 and found.simulated


def test_parts_list(benchmark, predicted):
    assert benchmark(parts_list, predicted).lines


def test_netlist(benchmark, predicted):
    assert benchmark(netlist, predicted).endswith(".end\n")
