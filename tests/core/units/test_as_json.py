"""What does not exist is null in JSON, however deep it stands and whatever kind of number it is."""

import json

import numpy as np

from core.units.as_json import json_ready, json_text


def test_what_is_not_finite_is_null_at_any_depth():
    told = {
        "none": [np.nan, {"in": np.float64("inf")}, (-np.inf,)],
        "rows": np.array([[1.0, np.nan], [np.inf, 2.0]]),
        "kept": [np.float64(1.5), np.int64(3), True, None, "nan", 0.1],
    }
    expected = {
        "none": [None, {"in": None}, [None]],
        "rows": [[1.0, None], [None, 2.0]],
        "kept": [1.5, 3, True, None, "nan", 0.1],
    }
    assert json_ready(told) == expected
    assert json.loads(json_text(told)) == expected


def test_letters_beyond_ascii_stay_readable():
    assert "µ" in json_text({"unit": "µm"})
