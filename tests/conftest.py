"""Shared set-up: no screen, one BLAS thread, settings apart for every test."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import hypothesis
import pytest

# The same examples on every machine: a law broken by a rare input is found by exploring, not by chance in CI.
hypothesis.settings.register_profile("repeatable", derandomize=True)
hypothesis.settings.register_profile("exploring")
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))


@pytest.fixture(autouse=True)
def own_settings(tmp_path, monkeypatch):
    """Settings and recovery files of a test live in its own folder."""
    monkeypatch.setenv("QUIETSPAN_HOME", str(tmp_path / "home"))
