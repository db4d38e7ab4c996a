"""What a search may be told on the command line: its goal, and the limits of a layout."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from core.project.model import Project
    from core.study.search.goals import Goal, Limits, SearchRequest

GOALS = ("damping", "weighted", "band", "targets")
FACES = ("top", "underside", "both")


class ArgumentTrouble(ValueError):
    """An argument that cannot be read; the message gives an example."""


def add_arguments(study: Any) -> None:
    """The search's own arguments of `quietspan study`."""
    group = study.add_argument_group("search")
    group.add_argument("--goal", choices=GOALS, default="damping", help="damping of --mode if not given")
    group.add_argument("--weights", metavar="W1,W2,...", help="goal weighted: a weight per mode, as 1,0.5")
    group.add_argument(
        "--target", metavar="MODE:VALUE", action="append", default=[],
        help="goal targets: least damping (1:2%%) or change of the peak (2:-10dB) of a mode; may be repeated",
    )  # fmt: skip
    group.add_argument("--package", metavar="NAME", action="append", default=[], help="may be repeated")
    group.add_argument(
        "--face", choices=FACES, action="append", default=[], help="top if not given; may be repeated"
    )
    group.add_argument("--circuit", metavar="KIND", action="append", default=[], help="resistor if not given")
    group.add_argument("--patches", metavar="N,N", default="1", help="numbers of patches tried, as 1,2 (1)")
    group.add_argument("--joined", action="store_true", help="two patches share one circuit")
    group.add_argument(
        "--length",
        metavar="FROM,TO",
        help="ceramic length, in mm or with a unit; the package's own if not given",
    )
    group.add_argument(
        "--between", metavar="FROM,TO", help="where the ceramics may lie, in mm or with a unit"
    )
    group.add_argument("--ignore-keep-outs", action="store_true")
    group.add_argument("--most-mass", metavar="MASS", help="added mass at most, in g or with a unit")
    group.add_argument("--least-margin", metavar="N", help="allowable over static strain, at least (1)")
    group.add_argument("--most-inductance", metavar="L", help="in H or with a unit")
    group.add_argument("--most-voltage", metavar="V", help="peak at the leads, in V or with a unit")
    group.add_argument("--parts", choices=("E12", "E24", "E96"), help="values of this series of parts only")


def request_of(given: argparse.Namespace, project: Project, candidate: str, mode: int) -> SearchRequest:
    """The search asked for, its damping that of `mode`; ArgumentTrouble in words for what cannot be read."""
    from core.study.search.goals import SearchRequest

    return SearchRequest(_goal(given, mode), _limits(given, project, candidate), seed=given.seed)


def _goal(given: argparse.Namespace, mode: int) -> Goal:
    from core.study.search.goals import Goal, Target

    if given.goal == "weighted":
        return Goal(
            "weighted", weights=tuple(_plain("--weights", w) for w in (given.weights or "").split(","))
        )
    if given.goal == "targets":
        merged: dict[int, Target] = {}
        for text in given.target:
            number_of, sign, value = text.partition(":")
            if not sign or not (number_of.strip().isascii() and number_of.strip().isdigit()):
                raise ArgumentTrouble(f'--target "{text}": write MODE:VALUE, for example 1:2% or 2:-10dB.')
            old, peak = merged.get(int(number_of), Target(int(number_of))), value.strip().lower().endswith("db")
            number = _plain("--target", value.strip()[:-2]) if peak else _quantity("--target", value, "%")
            merged[int(number_of)] = Target(
                old.mode, old.zeta if peak else number, number if peak else old.peak_db
            )
        return Goal("targets", targets=tuple(merged.values()))
    return Goal(given.goal, mode)


def _limits(given: argparse.Namespace, project: Project, candidate: str) -> Limits:
    from core.circuit.registry import CIRCUITS
    from core.study.search.goals import Limits

    own = tuple(dict.fromkeys(p.package for p in project.candidate(candidate).patches))
    packages = tuple(given.package) or own or tuple(p.name for p in project.packages)
    _known("--package", packages, [p.name for p in project.packages])
    # a loop needs a second group and a law, which a search does not make
    _known("--circuit", given.circuit, [key for key in CIRCUITS if key != "loop"])
    patches = given.patches.split(",")
    if not all(n.strip() in ("1", "2") for n in patches):
        raise ArgumentTrouble(f'--patches "{given.patches}": 1, 2 or 1,2.')
    return Limits(
        packages=packages,
        circuits=tuple(given.circuit) or ("resistor",),
        faces=tuple(given.face) or ("top",),
        patches=tuple(int(n) for n in patches),
        joined=given.joined,
        length_m=_range("--length", given.length),
        x_range_m=_range("--between", given.between),
        keep_outs=not given.ignore_keep_outs,
        added_mass_kg=_maybe("--most-mass", given.most_mass, "g"),
        strain_margin=1.0 if given.least_margin is None else _plain("--least-margin", given.least_margin),
        largest_inductance_h=_maybe("--most-inductance", given.most_inductance, "H"),
        preferred=given.parts or "",
        largest_voltage_v=_maybe("--most-voltage", given.most_voltage, "V"),
    )


def _known(name: str, given: tuple[str, ...] | list[str], there: list[str]) -> None:
    for each in given:
        if each not in there:
            raise ArgumentTrouble(f'{name} "{each}": there are {", ".join(there)}.')


def _range(name: str, text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    ends = text.split(",")
    if len(ends) != 2:
        raise ArgumentTrouble(f'{name} "{text}": write two lengths, for example 20,60 or 2cm,6cm.')
    low, high = (_quantity(name, end, "mm") for end in ends)
    if not low < high:
        raise ArgumentTrouble(f'{name} "{text}": the first must be the smaller one.')
    return low, high


def _maybe(name: str, text: str | None, unit: str) -> float | None:
    return None if text is None else _quantity(name, text, unit)


def _plain(name: str, text: str) -> float:
    return _quantity(name, text, "1")


def _quantity(name: str, text: str, unit: str) -> float:
    from core import units

    try:
        return units.parse(text, unit)
    except units.QuantityError as fault:
        raise ArgumentTrouble(f"{name}: {fault}") from None
