"""Shared set-up: no screen, one BLAS thread, settings apart for every test."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest


@pytest.fixture(autouse=True)
def own_settings(tmp_path, monkeypatch):
    """Settings and recovery files of a test live in its own folder."""
    monkeypatch.setenv("QUIETSPAN_HOME", str(tmp_path / "home"))
