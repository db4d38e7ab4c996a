"""Values for JSON, which knows no nan and no infinity: what does not exist is null, in every report alike."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np


def json_ready(value: Any) -> Any:
    """The same as `json.dumps` takes it: arrays and tuples as lists, numpy's numbers as Python's, None for a number that is
    not finite, at any depth."""
    if isinstance(value, Mapping):
        return {key: json_ready(inner) for key, inner in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return json_ready(value.tolist())
    if isinstance(value, list | tuple):
        return [json_ready(inner) for inner in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def json_text(value: Any) -> str:
    """As a person and a program read it; never with the words NaN and Infinity, which are no JSON (RFC 8259, section 6)."""
    return json.dumps(json_ready(value), indent=2, ensure_ascii=False, allow_nan=False)
