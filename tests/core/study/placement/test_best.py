"""The best place for a mode is never worse than the present one, and says what holds it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import edit, library
from core.project.placement.verdict import verdicts
from core.project.structure import CutOut
from core.study.placement.best import best_place
from core.study.placement.position import damping_against_position
from tests.levels import beam_example

EXAMPLES = {
    "touring-ski": beam_example("touring-ski"),
    "half-board": library.example("half-board"),
    "lab-beam": library.example("lab-beam"),
}
"""The ski, which costs most, at the level of beams; the others at the usual one."""
PATCHES = [
    (key, c.id, p.id)
    for key in EXAMPLES
    for c in EXAMPLES[key].candidates
    for p in c.patches
]


@pytest.mark.parametrize("key, candidate, patch", PATCHES)
def test_the_best_place_is_never_worse_than_the_present(key, candidate, patch):
    project = edit.set_active(EXAMPLES[key], candidate)
    strip = damping_against_position(project, candidate, patch)
    for mode in (1, 2):
        found = best_place(project, patch, strip, mode)
        assert found is not None and not any(
            verdicts(found.project.structure, found.project.packages, found.project.candidate())
        )
        there, here = (predict(p).modes[mode - 1].zeta for p in (found.project, project))
        assert there >= here and found.zeta == there
        assert found.stays == (found.project is project)


def test_what_forbids_a_better_place_is_said():
    project = edit.set_active(library.example("touring-ski"), "A")
    strip = damping_against_position(project, "A", "P1")
    found = best_place(project, "P1", strip, 1)
    assert found is not None and found.stays and found.x_start_m == 0.016
    assert found.held == 'the keep-out "plate screws" forbids starting nearer the root'
    assert strip.held[0] == found.held


def test_a_place_that_is_not_allowed_is_left():
    project = edit.set_active(library.example("touring-ski"), "A")
    (patch,) = project.candidate().patches
    over = edit.with_patch(project, "A", replace(patch, x_start_m=0.25))
    strip = damping_against_position(over, "A", "P1")
    found = best_place(over, "P1", strip, 1)
    assert found is not None and not found.stays and found.x_start_m == pytest.approx(0.016, abs=1e-6)


def test_the_strips_static_strain_is_the_predictions_at_every_place():
    """The ends of a pair's two plates differ by rounding: what is left between them belongs to neither."""
    project = beam_example("gantry-bracket")
    strip = damping_against_position(project, "A", "P1", n=120, modes=1)
    candidate = project.candidate("A")
    for x, strain in zip(strip.x_start_m, strip.tension, strict=True):
        moved = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=float(x)),))
        predicted = predict(edit.with_candidate(project, moved), "A")
        static = max(limit.value for limit in predicted.limits if limit.name == "Tensile strain, static")
        assert strain == pytest.approx(static, rel=1e-6)


def test_a_place_in_contact_with_a_hole_has_a_drawings_decimals():
    """It was 0.046505005 m, told as 46.5 mm and drawn as 46.505: contact allows for the rounding of a drawing."""
    lab = beam_example("lab-beam")
    hole = CutOut("hole", 0.04, diameter_m=0.005)
    project = replace(lab, active="A", structure=replace(lab.structure, cut_outs=(hole,)))
    (patch,) = project.candidate().patches
    project = edit.with_patch(project, "A", replace(patch, x_start_m=0.15))
    found = best_place(project, patch.id, damping_against_position(project, "A", patch.id), 1)
    assert found is not None and found.x_start_m == round(found.x_start_m, 5) == 0.0465
    assert found.held == "the hole at x = 40.0 mm forbids starting nearer the root"
