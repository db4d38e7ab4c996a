"""Reading and replacing one value of a project by its path.

A path is how problems and origins name a value: `structure.root.k_r_nm_rad`,
`candidates[A].patches[P1].x_start_m`, `service.loads[0].force_n`. In brackets stands an id, a
name, or a number counted from 0.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

import msgspec

from core.project.model import Project

_STEP = re.compile(r"([A-Za-z_]\w*)|\[([^\]]*)\]")


@lru_cache(maxsize=512)
def steps(path: str) -> list[tuple[str, bool]]:
    """The steps of a path as (text, is in brackets)."""
    return [(name or key, not name) for name, key in _STEP.findall(path)]


def value_at(root: Any, path: str) -> Any:
    """The value at `path`; LookupError when there is none."""
    value = root
    for text, bracketed in steps(path):
        if bracketed:
            value = value[_index_of(value, text)]
        elif isinstance(value, dict):
            value = value[text]
        elif hasattr(value, text):
            value = getattr(value, text)
        else:
            raise LookupError(f"{path}: no {text!r}")
    return value


def replaced_at(project: Project, path: str, new: Any) -> Project:
    """The project with the value at `path` replaced; LookupError when there is no such place."""
    return _replaced(project, steps(path), new)


def _replaced(value: Any, left: list[tuple[str, bool]], new: Any) -> Any:
    if not left:
        return new
    (text, bracketed), rest = left[0], left[1:]
    if bracketed:
        index = _index_of(value, text)
        return (*value[:index], _replaced(value[index], rest, new), *value[index + 1 :])
    if isinstance(value, dict):
        return {**value, text: _replaced(value.get(text), rest, new)}
    if not hasattr(value, text):
        raise LookupError(f"no {text!r} in {type(value).__name__}")
    return msgspec.structs.replace(value, **{text: _replaced(getattr(value, text), rest, new)})


def _index_of(items: Any, key: str) -> int:
    """Position of the item of that id, that name, or that number."""
    for attribute in ("id", "name"):
        for index, item in enumerate(items):
            if getattr(item, attribute, None) == key:
                return index
    if key.lstrip("-").isdigit() and -len(items) <= int(key) < len(items):
        return int(key) % len(items)
    raise LookupError(f"no item {key!r}")


def lies_in(path: str, prefix: str) -> bool:
    """True when `path` is `prefix` or a value inside it."""
    return bool(prefix) and path.startswith(prefix) and path[len(prefix) : len(prefix) + 1] in ("", ".", "[")
