"""Shared set-up: no screen, one BLAS thread, settings apart for every test."""

from __future__ import annotations

import itertools
import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import hypothesis
import pytest

# The same examples on every machine: a law broken by a rare input is found by exploring, not by chance in CI.
hypothesis.settings.register_profile("repeatable", derandomize=True)
hypothesis.settings.register_profile("exploring")
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
