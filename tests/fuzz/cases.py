"""How many cases a fuzzer takes, in batches that share nothing, and what a case must keep to.

QUIETSPAN_FUZZ=N takes N cases instead of the given number, QUIETSPAN_FUZZ=endless goes on until it is
stopped; QUIETSPAN_FUZZ_SEED=S starts elsewhere. A failing case names its seed: that alone repeats it.
"""

from __future__ import annotations

import os
import random
import re
import sys
import time
from collections.abc import Callable
from itertools import count

LONGEST_S = 2.0
"""Processor time of a case."""
LARGEST_MB = 500.0
"""What the process may grow by over all cases of a batch."""
BATCHES = 10
INNARDS = re.compile(
    r"Traceback|Error\b|Exception|object at 0x|<class|NoneType|msgspec|numpy|ezdxf|svgelements|shapely|\bnan\b"
)


def seeds(batch: int, cases: int) -> range | count[int]:
    """The seeds of one of `BATCHES` batches of so many cases in all."""
    first = int(os.environ.get("QUIETSPAN_FUZZ_SEED", "0")) + 1_000_000 * batch
    wanted = os.environ.get("QUIETSPAN_FUZZ", str(cases))
    return count(first) if wanted == "endless" else range(first, first + max(int(wanted) // BATCHES, 1))


def run(batch: int, cases: int, case: Callable[[random.Random], str]) -> None:
    """Every case of a batch: `case` gives what a person would be told, in words and in time."""
    before = peak_mb()
    for seed in seeds(batch, cases):
        started = time.process_time()
        try:
            told = case(random.Random(seed))
        except Exception as error:
            raise AssertionError(f"seed {seed}: {type(error).__name__}: {error}") from error
        took = time.process_time() - started
        assert took < LONGEST_S, f"seed {seed} took {took:.1f} s"
        assert len(told) < 8000, f"seed {seed} is told in {len(told)} characters"
        found = INNARDS.search(told)
        assert found is None, f"seed {seed} is told with {found[0]!r}: {told[:400]}"
    assert peak_mb() - before < LARGEST_MB


def peak_mb() -> float:
    """The most memory the process has held, MB; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
