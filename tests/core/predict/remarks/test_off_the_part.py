"""A patch that lies off the part is a state: everything is told, as of a patch that does nothing."""

from __future__ import annotations

import json

import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import edit, library


@pytest.mark.parametrize("level", ["section", "across"])
@pytest.mark.parametrize("key", ["touring-ski", "lab-beam"])
def test_a_patch_far_beside_the_part_is_told_in_full(key, level):
    project = edit.with_structure(library.example(key), level=level)
    candidate = project.candidate()
    away = tuple(replace(patch, x_start_m=patch.x_start_m + 50.0) for patch in candidate.patches)
    project = edit.with_candidate(project, replace(candidate, patches=away))
    found = predict(project)
    assert all(mode.k2 == pytest.approx(0.0, abs=1e-15) for mode in found.modes)
    assert found.modes[0].zeta == pytest.approx(found.modes[0].zeta_inherent)
    json.dumps(prediction_json(project, found), allow_nan=False)
    assert prediction_text(project, found)
