"""Which input a path names, its allowed values, and what it is called with whom it belongs to."""

from __future__ import annotations

import re
from functools import lru_cache

from core.project.fields import FIELDS, Field
from core.project.ranges import Range
from core.units.sentence import inside

_INDEX = re.compile(r"\[([^\]]*)\]")
_OF_A_CONSTANT = {
    "tolerance": "tolerance", "per_kelvin": "change per kelvin", "status": "standing", "source": "source",
}  # fmt: skip
_OWNERS = {
    "layers": "layer", "pieces": "piece", "cut_outs": "cut-out", "masses": "mass", "springs": "spring",
    "keep_outs": "keep-out", "datums": "datum", "materials": "", "packages": "package", "loads": "load",
    "static_forces": "static force", "patches": "", "groups": "group", "members": "",
    "absorbers": "tuned mass",
}  # fmt: skip
_PER_STATION = ("thickness_m", "width_m", "stations_m")


@lru_cache(maxsize=4096)
def field_of(path: str) -> Field | None:
    """The field a path belongs to; None for a path that names no single input."""
    names = _INDEX.sub("", path).split(".")
    if names[-1] in ("value", *_OF_A_CONSTANT) and ".".join(names[-2:]) not in FIELDS:
        names = names[:-1]
    for first in range(len(names)):
        found = FIELDS.get(".".join(names[first:]))
        if found is not None:
            return found
    return None


def range_of(path: str) -> Range:
    """Allowed values of an input; KeyError where it is in no table."""
    found = field_of(path)
    if found is None:
        raise KeyError(path)
    return found.range


def label_of(path: str) -> str:
    """An input with whom it belongs to: "Young's modulus of Steel", "Stiffness against turning of the root"."""
    found = field_of(path)
    names = path.split(".")
    last = names[-1]
    text = _plain(last) if found is None else found.label
    of_constant = _OF_A_CONSTANT.get(last) if len(names) > 1 else None
    if of_constant and found is not None and not path.endswith(("outline.source", "tolerance_source")):
        text = f"{of_constant} of {inside(text)}"
    index = _INDEX.search(last)
    leaf = last.partition("[")[0]
    if index is not None and leaf in _PER_STATION:
        text += f" at station {index[1]}"
    elif index is not None:
        text += f" {index[1]}"
    owners = [_owner(name) for name in names[:-1]]
    told = " in ".join(owner for owner in reversed(owners) if owner)
    if not told:
        return text
    if text.endswith(" at"):
        first, *rest = told.split(" in ")
        return ", ".join([f"{first} {inside(text)}", *rest])
    return f"{text} of {told}"


def _owner(name: str) -> str:
    """Whose input it is: "the root", "layer core", "Steel"."""
    key, _, rest = name.partition("[")
    if key in ("root", "tip"):
        return f"the {key}"
    if key.startswith("candidate "):
        return key
    if not rest or key not in _OWNERS:
        return ""
    return f"{_OWNERS[key]} {rest.rstrip(']')}".strip()


def _plain(name: str) -> str:
    return name.partition("[")[0].replace("_", " ").capitalize()
