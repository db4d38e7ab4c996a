"""Immutable values as dataclasses, made quickly.

The program has some four hundred of them, two hundred before its first picture. The library writes six functions as
text for each and compiles them one by one: half a millisecond a class, a seventh of the start. Here one is compiled,
`__init__`; comparing, hashing, telling and refusing a change are shared. `fields`, `replace`, `asdict` and checkers of
types see the dataclass it is; anything but a plain frozen one is left to the library.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(cls: type | None = None, /, *, frozen: bool = False, eq: bool = True, **others: Any) -> Any:
        """As `dataclasses.dataclass`."""
        if not frozen or others:
            return dataclasses.dataclass(cls, frozen=frozen, eq=eq, **others)

        def made(one: type) -> type:
            return _frozen(one, eq=eq)

        return made if cls is None else made(cls)


def _frozen(cls: Any, *, eq: bool) -> type:
    """`cls` with its fields and what a frozen dataclass does; what it defines itself stays."""
    cls.__doc__ = cls.__doc__ or cls.__name__  # else the library makes one up, from a signature that it works out
    own = dict(vars(cls))
    dataclasses.dataclass(init=False, repr=False, eq=False)(cls)
    fields = dataclasses.fields(cls)
    names = tuple(field.name for field in fields)
    compared = tuple(field.name for field in fields if field.compare)
    told = tuple(field.name for field in fields if field.repr)
    given: dict[str, Any] = {"__init__": _init(cls, fields), "__repr__": _repr(told)}
    if eq:
        values = _values(compared)
        given |= {"__eq__": _eq(values), "__hash__": _hash(values)}
    for name, function in given.items():
        if own.get(name) is None:  # Python itself puts None for the hash of a class that compares
            function.__qualname__ = f"{cls.__qualname__}.{name}"
            setattr(cls, name, function)
    refused = frozenset(names)
    above = super(cls, cls)
    cls.__setattr__ = _refusing(cls, refused, "assign to", above.__setattr__)
    cls.__delattr__ = _refusing(cls, refused, "delete", above.__delattr__)
    return cast(type, cls)


def _init(cls: type, fields: tuple[dataclasses.Field[Any], ...]) -> Callable[..., None]:
    """One function, compiled: values go straight into the instance's dictionary."""
    missing = dataclasses.MISSING
    known: dict[str, Any] = {"__name__": cls.__module__, "_unset": missing}
    takes, does = ["self"], ["_d = self.__dict__"]
    for field in fields:
        name = field.name
        if field.default_factory is not missing:
            known[f"_make_{name}"] = field.default_factory
            value = f"_make_{name}()" + (f" if {name} is _unset else {name}" if field.init else "")
            default = "_unset"
        else:
            known[f"_of_{name}"] = field.default
            value = name if field.init else f"_of_{name}"
            default = "" if field.default is missing else f"_of_{name}"
        if field.init:
            takes.append(f"{name}={default}" if default else name)
        if field.init or value != f"_of_{name}" or field.default is not missing:
            does.append(f"_d[{name!r}] = {value}")
    if hasattr(cls, "__post_init__"):
        does.append("self.__post_init__()")
    made: dict[str, Any] = {}
    exec(f"def __init__({', '.join(takes)}):\n " + "\n ".join(does), known, made)
    return cast(Callable[..., None], made["__init__"])


def _values(names: tuple[str, ...]) -> Callable[[Any], tuple[Any, ...]]:
    """The values of these fields of an instance."""
    if len(names) > 1:
        return attrgetter(*names)

    def few(self: Any) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in names)

    return few


def _eq(values: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], bool]:
    def __eq__(self: Any, other: object) -> bool:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return values(self) == values(other)

    return __eq__


def _hash(values: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], int]:
    def __hash__(self: Any) -> int:
        return hash(values(self))

    return __hash__


def _repr(names: tuple[str, ...]) -> Callable[[Any], str]:
    def __repr__(self: Any) -> str:
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in names)})"

    return __repr__


def _refusing(cls: type, names: frozenset[str], deed: str, above: Callable[..., None]) -> Callable[..., None]:
    def refuse(self: Any, name: str, *value: Any) -> None:
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot {deed} field {name!r}")
        above(self, name, *value)

    return refuse
