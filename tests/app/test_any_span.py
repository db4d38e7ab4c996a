"""Whatever is typed as a span or a length, the window answers at once and in words."""

from __future__ import annotations

import time

import pytest
from PySide6.QtWidgets import QApplication

from core.project.setting import with_setting

LONGEST_S = 2.0


@pytest.mark.parametrize("span", ["1e-300", "1e-9", "1e-7", "1e-6", "1e-3", "99", "1e6", "1e300"])
def test_a_span_of_any_size_is_drawn_or_refused_within_two_seconds(same_window, span):
    window = same_window
    project = with_setting(window.session.project, f"structure.span_m={span}")
    started = time.process_time()
    window.session.apply("Span", project)
    QApplication.processEvents()
    window.grab()
    assert time.process_time() - started < LONGEST_S
    assert window.session.problems or not window.session.stale


@pytest.mark.parametrize("length", ["1e-300", "1e-6", "9.9", "1e9"])
def test_a_patch_of_any_length_is_drawn_or_refused_within_two_seconds(same_window, length):
    window = same_window
    project = with_setting(window.session.project, f"candidates[A].patches[P1].length_m={length}")
    started = time.process_time()
    window.session.apply("Length", project)
    QApplication.processEvents()
    window.grab()
    assert time.process_time() - started < LONGEST_S
    assert window.session.problems
