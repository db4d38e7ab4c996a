"""Shared set-up: no screen, one BLAS thread and one that paints, settings apart for every test."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("QT_NO_GUI_THREADPOOL", "1")

import hypothesis
import numpy as np
import pytest

# The same examples on every machine: a law broken by a rare input is found by exploring, not by chance in CI. No deadline: a
# machine that is busy with something else breaks no law.
hypothesis.settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis.settings.register_profile("exploring", deadline=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))


@pytest.fixture(scope="session")
def homes(tmp_path_factory):
    """Numbers of folders that nobody has used, under one folder of the run. `tmp_path` would look through all it made
    before at every test, which for thousands that save nothing costs more than most of them."""
    base = tmp_path_factory.mktemp("homes")
    return (base / str(n) for n in itertools.count())


@pytest.fixture(autouse=True)
def own_settings(homes, monkeypatch):
    """Settings and recovery files of a test live in a folder of its own, made when something is kept."""
    monkeypatch.setenv("QUIETSPAN_HOME", str(next(homes)))


CLOSE = pytest.approx
OF_THE_LARGEST = 1e-3


def approx(expected, rel=None, abs=None, nan_ok=False):
    """`pytest.approx`, which by itself counts whatever is within 1e-12 as equal, though it was asked for a share: of a
    noise in V^2/Hz, a charge or a compliance it saw nothing. A zero among others is held against the largest of them."""
    if abs is None:
        try:
            held = list(expected.values()) if isinstance(expected, dict) else expected
            size = np.abs(np.asarray(held, dtype=complex))
        except (TypeError, ValueError):  # a text, or nothing
            size = np.zeros(0)
        largest = float(size[np.isfinite(size)].max(initial=0.0))
        if largest > 0.0:
            abs = OF_THE_LARGEST * (1e-6 if rel is None else rel) * largest
    return CLOSE(expected, rel=rel, abs=abs, nan_ok=nan_ok)


STRICT = (
    "core/beam", "core/piezo", "core/circuit", "core/predict/electrics", "core/predict/loads", "core/predict/use", "core/units",
    "laws", "published",
)  # fmt: skip
"""Folders whose numbers may be small and are held to the share asked for."""


@pytest.fixture(autouse=True)
def a_share_is_a_share(request, monkeypatch):
    folder = request.path.parent.relative_to(Path(__file__).parent).as_posix()
    if folder.startswith(STRICT):
        monkeypatch.setattr(pytest, "approx", approx)
