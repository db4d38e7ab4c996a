"""However small or large what is typed is, the drawing is painted at once and takes no memory for what nobody sees."""

from __future__ import annotations

import resource
import time

import pytest
from msgspec.structs import replace

from core.project import edit
from tests.levels import beam_example


def extremes():
    project = beam_example("lab-beam")
    structure, patch = project.structure, project.candidate().patches[0]

    def of_part(**changes):
        return replace(project, structure=replace(structure, **changes))

    for span in (1e-3, 1e-6, 1e-9, 100.0):
        yield f"span {span} m", of_part(stations_m=(0.0, span))
    for width in (1e-9, 100.0):
        yield f"width {width} m", of_part(width_m=width)
    for thickness in (1e-9, 10.0):
        yield f"thickness {thickness} m", of_part(layers=(replace(structure.layers[0], thickness_m=thickness),))
    for change in ({"x_start_m": 1e6}, {"x_start_m": -1e6}, {"y_m": 1e6}, {"length_m": 10.0}, {"width_m": 10.0}):
        yield f"patch {change}", edit.with_patch(project, "A", replace(patch, **change))


CASES = dict(extremes())


@pytest.mark.parametrize("case", list(CASES))
def test_it_is_painted_within_seconds_and_in_little_memory(same_window, case):
    """By the memory of the process: tracing it while threads compute crashed Python 3.13.0."""
    window = same_window
    window.session.apply("Change", CASES[case])
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()  # of its own: another program on the machine is not its fault
    window.canvas.grab()
    seconds = time.process_time() - start
    more = 1024 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    assert seconds < 5.0
    assert more < 200e6
