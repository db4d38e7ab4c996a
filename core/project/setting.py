"""One value of a project set by its path from typed text, as a batch of files wants it.

`structure.span_m=0.28` takes a plain number in the path's own SI unit; `structure.span_m=280 mm` any unit.
"""

from __future__ import annotations

import json
from typing import Any

import msgspec

from core import units
from core.project.at_path import replaced_at, value_at
from core.project.edit import with_span
from core.project.faults import find_faults
from core.project.files import shortened
from core.project.labels import field_of
from core.project.model import Project
from core.project.record import Constant


class SettingError(ValueError):
    """A path or a value that cannot be set; the message says why."""


def with_setting(project: Project, text: str) -> Project:
    """The project with "PATH=VALUE" done. SettingError in words where that is no value of it."""
    path, equals, typed = (part.strip() for part in text.partition("="))
    if not equals or not path:
        raise SettingError(f'"{shortened(text, 80)}": write PATH=VALUE, for example structure.span_m=0.28.')
    if path == "structure.span_m":
        return with_span(project, _number(path, typed))
    try:
        present = value_at(project, path)
        if isinstance(present, Constant):
            path, present = f"{path}.value", present.value
        raw = msgspec.to_builtins(replaced_at(project, path, _value(path, present, typed)))
    except (LookupError, TypeError, AttributeError):
        raise SettingError(f"{shortened(path, 80)}: the project has no such value.") from None
    try:
        return msgspec.convert(raw, Project)
    except msgspec.ValidationError:
        words, *_ = find_faults(msgspec.json.decode(msgspec.json.encode(raw)), Project)
        raise SettingError(f"{path}: {words.partition(': ')[2]}.") from None


def _value(path: str, present: Any, typed: str) -> Any:
    if isinstance(present, bool):
        return {"yes": True, "true": True, "no": False, "false": False}.get(typed.casefold(), typed)
    if isinstance(present, str):
        return typed
    if typed.casefold() in ("", "none", "null"):
        return None
    if isinstance(present, int):
        try:
            return int(typed)
        except ValueError:
            raise SettingError(f"{path}: {shortened(typed, 60)} is not a whole number, as this value needs it: {present}, for example.") from None
    if isinstance(present, float) or present is None:
        return _number(path, typed) if present is not None or _unit_of(path) else typed
    try:
        return (
            msgspec.convert(json.loads(typed), type(present)) if isinstance(present, dict) else _listed(typed)
        )
    except ValueError:
        raise SettingError(f"{path}: {shortened(typed, 60)} is not JSON, as this value needs it.") from None


def _listed(typed: str) -> Any:
    """JSON with its lists as tuples; a plain number for a profile that is the same everywhere."""

    def frozen(value: Any) -> Any:
        return tuple(frozen(v) for v in value) if isinstance(value, list) else value

    return frozen(json.loads(typed))


def _number(path: str, typed: str) -> float:
    try:
        return units.parse(typed, _unit_of(path) or "1")
    except units.QuantityError as fault:
        raise SettingError(f"{path}: {fault}") from None


def _unit_of(path: str) -> str:
    """The SI unit of a value, as its field has it; "" of a text and of what is in no table."""
    last = path.rpartition(".")[2]
    if last in ("tolerance", "per_kelvin"):
        return {"tolerance": "1", "per_kelvin": "1/K"}[last]
    found = field_of(path)
    return units.si_of(found.unit) if found is not None and found.unit else ""
