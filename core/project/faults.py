"""Every place where plain data does not fit the saved values, told by path.

msgspec stops at the first misfit; a person mending a file by hand wants all of them.
"""

from __future__ import annotations

import types
import typing
from typing import Any

import msgspec

_MISSING = msgspec.NODEFAULT


def find_faults(raw: Any, wanted: type) -> tuple[str, ...]:
    """Sentences like "structure.layers[2].pieces: is missing"; empty if `raw` fits `wanted`."""
    try:
        msgspec.convert(raw, wanted)
    except (msgspec.ValidationError, RecursionError) as fault:
        found = _faults(raw, wanted, "")
        return tuple(found) or (_leaf_words(fault),)
    return ()


def _faults(raw: Any, wanted: Any, path: str) -> list[str]:
    if isinstance(wanted, type) and issubclass(wanted, msgspec.Struct):
        return _struct_faults(raw, wanted, path)
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    if origin is tuple and isinstance(raw, list):
        kinds = (arguments[0],) * len(raw) if arguments[-1] is Ellipsis else arguments
        if len(kinds) == len(raw):
            return [
                f
                for i, (v, k) in enumerate(zip(raw, kinds, strict=True))
                for f in _faults(v, k, f"{path}[{i}]")
            ]
    if origin is dict and isinstance(raw, dict):
        return [f for key, value in raw.items() for f in _faults(value, arguments[1], f"{path}.{key}")]
    if origin in (typing.Union, types.UnionType):
        return _union_faults(raw, wanted, arguments, path)
    return _leaf_faults(raw, wanted, path)


def _struct_faults(raw: Any, wanted: type[msgspec.Struct], path: str) -> list[str]:
    if not isinstance(raw, dict):
        return [f"{path or 'the file'}: must be an object in braces, not {_kind(raw)}"]
    fields = {field.name: field for field in msgspec.structs.fields(wanted)}
    tag_field = wanted.__struct_config__.tag_field
    hints = typing.get_type_hints(wanted)
    found = []
    for name in raw:
        if name not in fields and name != tag_field:
            found.append(f"{_join(path, name)}: is not known here")
    for name, field in fields.items():
        if name in raw:
            found += _faults(raw[name], hints[name], _join(path, name))
        elif field.default is _MISSING and field.default_factory is _MISSING:
            found.append(f"{_join(path, name)}: is missing")
    return found


def _union_faults(raw: Any, wanted: Any, arguments: tuple[Any, ...], path: str) -> list[str]:
    structs = [a for a in arguments if isinstance(a, type) and issubclass(a, msgspec.Struct)]
    if isinstance(raw, dict) and structs:
        if len(structs) == 1:
            return _struct_faults(raw, structs[0], path)
        tags = {a.__struct_config__.tag: a for a in structs}
        given = raw.get("type")
        if given not in tags:
            return [f"{_join(path, 'type')}: must be one of {', '.join(map(repr, tags))}"]
        return _struct_faults(raw, tags[given], path)
    lists = [a for a in arguments if typing.get_origin(a) is tuple]
    if isinstance(raw, list) and lists:
        return _faults(raw, lists[0], path)
    return _leaf_faults(raw, wanted, path)


def _leaf_faults(raw: Any, wanted: Any, path: str) -> list[str]:
    try:
        msgspec.convert(raw, wanted)
    except msgspec.ValidationError as fault:
        return [f"{path or 'the file'}: {_leaf_words(fault)}"]
    return []


def _leaf_words(fault: Exception) -> str:
    """msgspec's sentence without its own path."""
    words = str(fault).split(" - at `")[0]
    return words[:1].lower() + words[1:]


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _kind(raw: Any) -> str:
    if raw is None:
        return "nothing"
    return {dict: "an object", list: "a list", str: "a text", bool: "true or false"}.get(
        type(raw), "a number"
    )
