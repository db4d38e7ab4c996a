"""Time of the whole table of failures of one candidate."""

import pytest

from core.predict.electrics.failure import failures
from core.project import library

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("key", ["gantry-bracket", "touring-ski"])
def test_table_of_failures(benchmark, key):
    """The candidate with the most parts of its kind: a pair, or two patches, on one resonant circuit."""
    rows = benchmark.pedantic(failures, (library.example(key), "C"), rounds=20, warmup_rounds=2)
    assert len(rows) >= 6
