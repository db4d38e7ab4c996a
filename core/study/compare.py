"""What differs in the inputs of two candidates, as a flat list a person can read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from core import units
from core.circuit.registry import CIRCUITS
from core.project.candidate import Absorber, Candidate, Circuit, Group, Tuning
from core.project.labels import field_of, label_of
from core.project.loop import LoopDesign
from core.project.model import Project
from core.project.patch import Patch
from core.units import words
from core.units.sentence import inside

ABSENT = "\N{EN DASH}"

@dataclass(frozen=True)
class Difference:
    """One input that two candidates do not share; the values are text in display units."""

    path: str
    label: str
    reference: str
    other: str


def input_differences(project: Project, reference_id: str, other_id: str) -> tuple[Difference, ...]:
    """Every input of candidate `other_id` that differs from `reference_id`, in the order of entry.

    Patches and groups are matched by their id. An input only one candidate has shows a dash for
    the other. KeyError if there is no such candidate. Names, notes and prices are not inputs.
    """
    reference = dict(_leaves(project.candidate(reference_id)))
    other = dict(_leaves(project.candidate(other_id)))
    paths = [*reference, *(path for path in other if path not in reference)]
    return tuple(
        Difference(path, _label(path), _text(path, reference.get(path)), _text(path, other.get(path)))
        for path in paths
        if reference.get(path) != other.get(path)
    )


def _leaves(candidate: Candidate) -> Iterator[tuple[str, object]]:
    for patch in candidate.patches:
        yield from _patch_leaves(patch)
    for group in candidate.groups:
        yield from _group_leaves(group)
    for absorber in candidate.absorbers:
        yield from _absorber_leaves(absorber)
    if candidate.loop_is_closed:
        yield from _loop_leaves(candidate.loop)
    build = msgspec.structs.asdict(candidate.build)
    yield from ((f"build.{name}", value) for name, value in build.items() if name != "prices")


def _loop_leaves(loop: LoopDesign) -> Iterator[tuple[str, object]]:
    """Of a closed loop; values of another law are no inputs."""
    of_law = {"velocity": ("velocity_gain_s",), "position": (), "typed": ("numerator", "denominator")}
    others = {name for law, names in of_law.items() if law != loop.law for name in names}
    for name in loop.__struct_fields__:
        if name == "filters":
            for i, one in enumerate(loop.filters if loop.law == "position" else ()):
                yield from ((f"loop.filters[{i + 1}].{key}", v) for key, v in msgspec.structs.asdict(one).items())
        elif name not in others:
            value = getattr(loop, name)
            yield f"loop.{name}", " ".join(map(words.plain, value)) if isinstance(value, tuple) else value


def _patch_leaves(patch: Patch) -> Iterator[tuple[str, object]]:
    start = f"patches[{patch.id}]"
    for name in patch.__struct_fields__:
        value = getattr(patch, name)
        if name == "id" or (name == "pair_bending" and patch.face != "both"):
            continue
        if name == "bond":
            yield from ((f"{start}.bond.{key}", v) for key, v in msgspec.structs.asdict(value).items())
        else:
            yield f"{start}.{name}", value


def _absorber_leaves(absorber: Absorber) -> Iterator[tuple[str, object]]:
    """Values a tuning rule overrides are no inputs: the rule is."""
    start, tuned = f"absorbers[{absorber.id}]", ("frequency_hz", "damping_ratio")
    for name in ("x_m", "mass_kg", *(tuned if absorber.tuning is None else ("tuning",)), "allowed_stroke_m"):
        yield f"{start}.{name}", getattr(absorber, name)


def _group_leaves(group: Group) -> Iterator[tuple[str, object]]:
    start = f"groups[{group.id}]"
    if len(group.members) > 1:
        yield f"{start}.wiring", group.wiring
    for member in group.members:
        yield f"{start}.members[{member.patch}].polarity", member.polarity
    yield from _circuit_leaves(f"{start}.circuit", group.circuit)
    if group.instrument is not None:
        for key in ("resistance_ohm", "capacitance_f"):
            yield f"{start}.instrument.{key}", getattr(group.instrument, key)
    if group.bleed_ohm is not None:
        yield f"{start}.bleed_ohm", group.bleed_ohm


def _circuit_leaves(start: str, circuit: Circuit) -> Iterator[tuple[str, object]]:
    """Values a tuning rule overrides, or that follow by themselves, are no inputs: the rule is."""
    yield f"{start}.kind", circuit.kind
    if circuit.tuning is not None:
        yield f"{start}.tuning", circuit.tuning
    kind = CIRCUITS.get(circuit.kind)
    follow = kind.tuned if kind is not None and (circuit.tuning is not None or kind.worked_out) else ()
    for name, value in circuit.values.items():
        if name not in follow:
            yield f"{start}.values.{name}", value


def _label(path: str) -> str:
    """ "P1 ceramic starts at", "G1 polarity of P2"."""
    if path.startswith(("loop.", "build.")):
        return label_of(path)
    owner = path[path.index("[") + 1 : path.index("]")]
    field = field_of(path)
    assert field is not None, path
    label = inside(field.label)
    if "members[" in path:
        label += f" of {path[path.index('members[') + 8 :].partition(']')[0]}"
    return f"{owner} {label}"


def _text(path: str, value: object) -> str:
    if value is None:
        return ABSENT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Tuning):
        modes = ", ".join(map(str, (value.mode, *value.further)))
        return f"follow mode {modes}, {value.rule}, goal {value.goal}"
    if path.endswith("polarity"):
        return "+" if value == 1 else "\N{MINUS SIGN}"
    field = field_of(path)
    if isinstance(value, (int, float)) and field is not None and field.unit:
        return units.show_with_unit(float(value), field.unit)
    return str(value)
