"""Values made quickly do what frozen dataclasses do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import re
from functools import cached_property
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from core.frozen import dataclass


@dataclass(frozen=True)
class Quick:
    """Some of everything."""

    x: float
    name: str = "a"
    parts: tuple[int, ...] = ()
    table: dict[str, int] = dataclasses.field(default_factory=dict, compare=False)
    hidden: str = dataclasses.field(default="h", repr=False)
    count: int = dataclasses.field(default=7, init=False)
    kind: ClassVar[str] = "kind"

    @cached_property
    def twice(self) -> float:
        return 2 * self.x


@dataclasses.dataclass(frozen=True)
class Slow:
    """The same by the library."""

    x: float
    name: str = "a"
    parts: tuple[int, ...] = ()
    table: dict[str, int] = dataclasses.field(default_factory=dict, compare=False)
    hidden: str = dataclasses.field(default="h", repr=False)
    count: int = dataclasses.field(default=7, init=False)
    kind: ClassVar[str] = "kind"


@dataclass(frozen=True)
class More(Quick):
    extra: int = 5


@dataclass(frozen=True, eq=False)
class Alone:
    values: np.ndarray


@dataclass(frozen=True)
class One:
    values: object


@dataclass(frozen=True)
class Own:
    x: int
    y: int = 0

    def __post_init__(self) -> None:
        if self.x < 0:
            raise ValueError("below zero")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Own) and other.x == self.x

    def __hash__(self) -> int:
        return 3

    def __repr__(self) -> str:
        return "own"


@pytest.mark.parametrize("given", [{"x": 1.0}, {"x": 2.0, "name": "b", "parts": (1, 2), "table": {"a": 1}, "hidden": "k"}])
def test_it_is_what_the_library_makes(given):
    quick, slow = Quick(**given), Slow(**given)
    assert dataclasses.asdict(quick) == dataclasses.asdict(slow)
    assert repr(quick).removeprefix("Quick") == repr(slow).removeprefix("Slow")
    assert hash(quick) == hash(slow) and quick == Quick(**given) and quick != slow and (quick == 3) is False
    assert [f.name for f in dataclasses.fields(quick)] == [f.name for f in dataclasses.fields(slow)]
    assert Quick.__match_args__ == Slow.__match_args__ and Quick.kind == "kind"
    changed = dataclasses.replace(quick, name="z")
    assert changed.name == "z" and changed != quick and changed.twice == 2 * given["x"]
    assert quick == dataclasses.replace(quick, table={"not": 1})  # not compared
    assert copy.deepcopy(quick) == quick == pickle.loads(pickle.dumps(quick))


def test_nothing_of_it_can_be_changed():
    quick, more = Quick(1.0), More(1.0)
    for one in (quick, more):
        for name in ("x", "name", "extra", "other"):
            with pytest.raises(dataclasses.FrozenInstanceError, match=name):
                setattr(one, name, 2.0)
        with pytest.raises(dataclasses.FrozenInstanceError, match="x"):
            del one.x
    assert quick.twice == 2.0 and quick.table is not Quick(1.0).table


def test_a_subclass_has_the_fields_of_both():
    more = More(1.0, "n", (3,), {}, "h", 9)
    assert (more.name, more.parts, more.extra, more.count) == ("n", (3,), 9, 7)
    assert more != Quick(1.0, "n", (3,), {}, "h") and more == More(1.0, "n", (3,), {}, "h", 9)
    with pytest.raises(TypeError, match="x"):
        More()
    with pytest.raises(TypeError, match="what"):
        More(1.0, what=3)


def test_what_holds_arrays_is_compared_by_identity_where_that_is_asked_for():
    values = np.zeros(3)
    one, other = Alone(values), Alone(values)
    assert one == one and one != other and len({one, other}) == 2
    assert One(values) == One(values)  # the very same array, as in a tuple


def test_what_a_class_defines_itself_stays():
    assert Own(1, 2) == Own(1, 3) and hash(Own(1)) == 3 and repr(Own(1)) == "own"
    with pytest.raises(ValueError, match="below zero"):
        Own(-1)


def test_what_is_not_frozen_is_left_to_the_library():
    @dataclass
    class Open:
        x: int = 1

    one = Open()
    one.x = 2
    assert one == Open(2)


def test_every_dataclass_of_the_program_is_made_quickly():
    """One by the library costs half a millisecond of every start, and cannot be a subclass of these."""
    root = Path(__file__).parents[2]
    sources = [path for part in ("core", "app") for path in (root / part).rglob("*.py") if path.name != "frozen.py"]
    slow = re.compile(r"^from dataclasses import .*\bdataclass\b|dataclasses\.dataclass\b", re.MULTILINE)
    assert len(sources) > 500
    assert [path.name for path in sources if slow.search(path.read_text(encoding="utf-8"))] == []
