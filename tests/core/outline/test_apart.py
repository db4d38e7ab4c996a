"""Reading in a process of its own: same drawing, stopped at once, bounded in time, words for what falls."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import numpy as np
import pytest

from core.outline.apart import read_apart
from core.outline.drawing import OutlineError
from core.outline.readers import read_drawing
from tests.core.outline.drawings import new_dxf

BRACKET = Path(__file__).parents[3] / "resources" / "outlines" / "bracket.dxf"


def nested_svg(levels: int) -> str:
    """Each group is used twice by the next: a kilobyte that draws 2^levels lines."""
    uses = "".join(
        f'<g id="g{i}"><use href="#g{i - 1}"/><use href="#g{i - 1}" x="1"/></g>' for i in range(1, levels)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="100mm" '
        f'height="40mm"><g id="g0"><rect width="9" height="4"/></g>{uses}</svg>'
    )


def test_a_drawing_comes_back_as_it_is_read_here():
    there, here = read_apart(BRACKET, lambda: False), read_drawing(BRACKET)
    assert there is not None and there.unit == here.unit
    assert all(np.array_equal(a.points, b.points) for a, b in zip(there.traces, here.traces, strict=True))


def test_a_file_that_never_ends_is_stopped_at_once_and_by_its_time(tmp_path):
    path = tmp_path / "deep.svg"
    path.write_text(nested_svg(40), encoding="utf-8")
    stop = threading.Event()
    threading.Timer(0.5, stop.set).start()
    begun = time.monotonic()
    assert read_apart(path, stop.is_set) is None
    assert time.monotonic() - begun < 5.0
    with pytest.raises(OutlineError, match=r"not read within 1 s|more memory|more than"):
        read_apart(path, lambda: False, longest_s=1.0)
    assert read_apart(BRACKET, lambda: False) is not None  # the next file is read all the same


@pytest.mark.parametrize("times", [1, 6])
def test_a_block_that_holds_itself_is_told_in_words(tmp_path, times):
    doc, space = new_dxf()
    block = doc.blocks.new("A")
    for i in range(times):
        block.add_blockref("A", (i, 1))
    block.add_line((0, 0), (10, 0))
    space.add_blockref("A", (0, 0))
    path = tmp_path / "self.dxf"
    doc.saveas(path)
    try:
        drawing = read_apart(path, lambda: False, longest_s=10.0)
    except OutlineError as error:
        assert "Export" in str(error)
    else:
        assert drawing is not None and len(drawing.traces) < 10
