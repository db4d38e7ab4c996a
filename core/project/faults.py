"""Every place where plain data does not fit the saved values, told by path.

msgspec stops at the first misfit; a person mending a file by hand wants all of them. A large file of
the wrong kind has millions: what fits is passed over in blocks, and the search ends after a few.
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterator
from itertools import islice
from typing import Any

import msgspec

from core.project.files import shortened
from core.units.sentence import inside

MOST_FAULTS = 100
"""Faults looked for; nobody mends more of them one by one."""
_BLOCK = 256
_LONGEST_KEY = 60
_LONGEST_WORDS = 240
_MISSING = msgspec.NODEFAULT
_TYPES = re.compile(r"`([^`]+)`")
_WORDS = {
    "float": "a number", "int": "a whole number", "str": "a text", "bool": "true or false", "array": "a list",
    "object": "an object in braces", "null": "null",
}  # fmt: skip


def find_faults(raw: Any, wanted: type) -> tuple[str, ...]:
    """Sentences like "structure.layers[2].pieces: is missing"; empty if `raw` fits `wanted`."""
    try:
        msgspec.convert(raw, wanted)
    except (msgspec.ValidationError, RecursionError) as fault:
        found = tuple(islice(_faults(raw, wanted, ""), MOST_FAULTS))
        return found or (first_fault(fault),)
    return ()


def first_fault(fault: Exception) -> str:
    """The sentence of the one misfit msgspec stopped at: "structure.stations_m[...]: expected ..."."""
    path = str(fault).partition(" - at `$.")[2].rstrip("`")
    return f"{shortened(path, _LONGEST_WORDS)}: {_leaf_words(fault)}" if path else _leaf_words(fault)


def _faults(raw: Any, wanted: Any, path: str) -> Iterator[str]:
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    if isinstance(wanted, type) and issubclass(wanted, msgspec.Struct):
        yield from _struct_faults(raw, wanted, path)
    elif origin is tuple and isinstance(raw, list) and arguments[-1] is Ellipsis:
        for at in range(0, len(raw), _BLOCK):
            block = raw[at : at + _BLOCK]
            if not _fits(block, wanted):
                for i, value in enumerate(block, start=at):
                    yield from _faults(value, arguments[0], f"{path}[{i}]")
    elif origin is tuple and isinstance(raw, list) and len(arguments) == len(raw):
        for i, (value, kind) in enumerate(zip(raw, arguments, strict=True)):
            yield from _faults(value, kind, f"{path}[{i}]")
    elif origin is dict and isinstance(raw, dict):
        items = iter(raw.items())
        while some := dict(islice(items, _BLOCK)):
            if not _fits(some, wanted):
                for key, value in some.items():
                    yield from _faults(value, arguments[1], _join(path, key))
    elif origin in (typing.Union, types.UnionType):
        yield from _union_faults(raw, wanted, arguments, path)
    else:
        yield from _leaf_faults(raw, wanted, path)


def _struct_faults(raw: Any, wanted: type[msgspec.Struct], path: str) -> Iterator[str]:
    if not isinstance(raw, dict):
        yield f"{path or 'the file'}: must be an object in braces, not {_kind(raw)}"
        return
    fields = {field.name: field for field in msgspec.structs.fields(wanted)}
    tag_field = wanted.__struct_config__.tag_field
    hints = typing.get_type_hints(wanted)
    for name in raw:
        if name not in fields and name != tag_field:
            yield f"{_join(path, name)}: is not known here"
    for name, field in fields.items():
        if name in raw:
            yield from _faults(raw[name], hints[name], _join(path, name))
        elif field.default is _MISSING and field.default_factory is _MISSING:
            yield f"{_join(path, name)}: is missing"


def _union_faults(raw: Any, wanted: Any, arguments: tuple[Any, ...], path: str) -> Iterator[str]:
    structs = [a for a in arguments if isinstance(a, type) and issubclass(a, msgspec.Struct)]
    lists = [a for a in arguments if typing.get_origin(a) is tuple]
    if isinstance(raw, dict) and len(structs) == 1:
        yield from _struct_faults(raw, structs[0], path)
    elif isinstance(raw, dict) and structs:
        tags = {a.__struct_config__.tag: a for a in structs}
        given = raw.get("type")
        if isinstance(given, str) and given in tags:
            yield from _struct_faults(raw, tags[given], path)
        else:
            yield f"{_join(path, 'type')}: must be one of {', '.join(map(repr, tags))}"
    elif isinstance(raw, list) and lists:
        yield from _faults(raw, lists[0], path)
    else:
        yield from _leaf_faults(raw, wanted, path)


def _leaf_faults(raw: Any, wanted: Any, path: str) -> Iterator[str]:
    if typing.get_origin(wanted) is typing.Literal:
        words = typing.get_args(wanted)
        if not any(raw == word and type(raw) is type(word) for word in words):
            shown = shortened(repr(raw), _LONGEST_KEY)
            yield f"{path}: must be one of {', '.join(map(repr, words))}, not {shown}"
        return
    try:
        msgspec.convert(raw, wanted)
    except msgspec.ValidationError as fault:
        yield f"{path or 'the file'}: {_leaf_words(fault)}"


def _fits(raw: Any, wanted: Any) -> bool:
    try:
        msgspec.convert(raw, wanted)
    except (msgspec.ValidationError, RecursionError):
        return False
    return True


def _leaf_words(fault: Exception) -> str:
    """msgspec's sentence without its own path and in words: "expected a number, got a text"."""
    words = shortened(str(fault).split(" - at `")[0], _LONGEST_WORDS)
    return inside(_TYPES.sub(_in_words, words))


def _in_words(types: re.Match[str]) -> str:
    return " or ".join(_WORDS.get(one.strip(), one.strip()) for one in types[1].split("|"))


def _join(path: str, name: str) -> str:
    name = shortened(name, _LONGEST_KEY)
    return f"{path}.{name}" if path else name


def _kind(raw: Any) -> str:
    if raw is None:
        return "nothing"
    return {dict: "an object", list: "a list", str: "a text", bool: "true or false"}.get(
        type(raw), "a number"
    )
