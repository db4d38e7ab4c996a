"""Mutated drawings, read as the window does, in a process of its own: an outline or words, in time and memory."""

from __future__ import annotations

import io
import random
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from core.outline import rings
from core.outline.apart import read_apart
from core.outline.drawing import OutlineError
from core.outline.frame import suggest
from core.outline.shape import make_shape, source_area
from tests.core.outline.drawings import new_dxf
from tests.fuzz.cases import BATCHES, run
from tests.fuzz.mutations import damaged

SVG = b"""<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="40mm" viewBox="0 0 300 40">
<g id="part" transform="translate(1 2) rotate(3)"><path d="M0 0 H280 A20 20 0 0 1 300 20 C300 30 290 40 280 40 H0 Z"/>
<circle cx="40" cy="20" r="5"/><rect x="100" y="10" width="20" height="8" rx="2"/>
<polyline points="0,0 10,10 20,0"/><use href="#part"/></g></svg>"""
LONGEST_READING_S = 20.0
TABLE = b"x;width\n0;40\n100,5;42\n200;30,25\n300;20\n"


@cache
def drawings() -> tuple[tuple[str, bytes], ...]:
    """What is mutated: the shipped drawings, and one of every kind of line."""
    shipped = files("resources") / "outlines"
    found = [
        (Path(f.name).suffix, f.read_bytes()) for f in shipped.iterdir() if f.name.endswith((".dxf", ".svg"))
    ]
    document, space = new_dxf()
    space.add_lwpolyline([(0, 0), (280, 0, 0, 0, 0.4), (280, 40), (0, 40)], close=True)
    space.add_circle((40, 20), 5)
    space.add_arc((100, 20), 8, 0, 200)
    space.add_spline([(150, 10), (160, 20), (170, 10), (180, 25)])
    space.add_ellipse((220, 20), (10, 0), 0.5)
    block = document.blocks.new("hole")
    block.add_circle((0, 0), 3)
    block.add_line((0, 0), (5, 5))
    space.add_blockref("hole", (60, 20), dxfattribs={"xscale": 2, "rotation": 30})
    text = io.StringIO()
    document.write(text)
    return (*found, (".dxf", text.getvalue().encode()), (".svg", SVG), (".csv", TABLE))


def case_in(folder: Path):
    def case(dice: random.Random) -> str:
        suffix, data = dice.choice(drawings())
        path = folder / f"part{suffix}"
        path.write_bytes(damaged(data, dice))
        try:
            drawing = read_apart(path, lambda: False, LONGEST_READING_S)
            assert drawing is not None
            parts = rings.join(
                drawing, frozenset(info.name for info in drawing.layers), drawing.unit, rings.JOIN_M
            )
            if parts.polygons:
                frame = suggest(parts.polygons[0])
                make_shape(source_area(parts, 0, frame), frame, 0.005)
        except OutlineError as told:
            return str(told)
        return "\n".join(parts.remarks)

    return case


def test_a_few_mutated_drawings(tmp_path):
    run(0, 100, case_in(tmp_path))


@pytest.mark.slow
@pytest.mark.timeout(0)
@pytest.mark.parametrize("batch", range(BATCHES))
def test_many_mutated_drawings(batch, tmp_path):
    run(batch, 500, case_in(tmp_path))
