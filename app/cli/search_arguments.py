"""What a search may be told on the command line: its goal, and the limits of a layout."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from app.cli.arguments import least, number, two_lengths

if TYPE_CHECKING:
    from core.project.model import Project
    from core.study.search.goals import Goal, Limits, SearchRequest

GOALS = ("damping", "weighted", "band", "targets")
FACES = ("top", "underside", "both")
NAMES = (
    "goal", "weights", "target", "package", "face", "circuit", "patches", "joined", "length", "between", "ignore_keep_outs", "most_mass",
    "least_margin", "most_inductance", "most_voltage", "parts",
)  # fmt: skip
"""Of all its arguments."""


class ArgumentTrouble(ValueError):
    """An argument that the project has nothing for; the message says what there is."""


def add_arguments(study: Any) -> None:
    """The search's own arguments of `quietspan study`."""
    group = study.add_argument_group("search")
    group.add_argument("--goal", choices=GOALS, default="damping", help="damping of --mode if not given")
    group.add_argument("--weights", type=_weights, default=(), metavar="W1,W2,...", help="goal weighted: a weight per mode, as 1,0.5")
    group.add_argument(
        "--target", type=_target, metavar="MODE:VALUE", action="append", default=[],
        help="goal targets: least damping (1:2%%) or change of the peak (2:-10dB) of a mode; may be repeated",
    )  # fmt: skip
    group.add_argument("--package", metavar="NAME", action="append", default=[], help="may be repeated")
    group.add_argument(
        "--face", choices=FACES, action="append", default=[], help="top if not given; may be repeated"
    )
    group.add_argument("--circuit", metavar="KIND", action="append", default=[], help="resistor if not given")
    group.add_argument("--patches", type=_counts, metavar="N,N", default=(1,), help="numbers of patches tried, as 1,2 (1)")
    group.add_argument("--joined", action="store_true", help="two patches share one circuit")
    group.add_argument(
        "--length",
        type=two_lengths,
        metavar="FROM,TO",
        help="ceramic length, in mm or with a unit; the package's own if not given",
    )
    group.add_argument(
        "--between", type=two_lengths, metavar="FROM,TO", help="where the ceramics may lie, in mm or with a unit"
    )
    group.add_argument("--ignore-keep-outs", action="store_true")
    group.add_argument("--most-mass", type=least("g"), metavar="MASS", help="added mass at most, in g or with a unit")
    group.add_argument("--least-margin", type=least("1", above=False), default=1.0, metavar="N", help="allowable over static strain, at least (1)")
    group.add_argument("--most-inductance", type=least("H"), metavar="L", help="in H or with a unit")
    group.add_argument("--most-voltage", type=least("V"), metavar="V", help="peak at the leads, in V or with a unit")
    group.add_argument("--parts", choices=("E12", "E24", "E96"), help="values of this series of parts only")


def request_of(given: argparse.Namespace, project: Project, candidate: str, mode: int) -> SearchRequest:
    """The search asked for, its damping that of `mode`; ArgumentTrouble in words for what cannot be read."""
    from core.study.search.goals import SearchRequest

    return SearchRequest(_goal(given, mode), _limits(given, project, candidate), seed=given.seed)


def _goal(given: argparse.Namespace, mode: int) -> Goal:
    from core.study.search.goals import Goal, Target

    merged: dict[int, Target] = {}
    for of, zeta, peak_db in given.target:
        old = merged.get(of, Target(of))
        merged[of] = Target(of, old.zeta if zeta is None else zeta, old.peak_db if peak_db is None else peak_db)
    if given.goal == "weighted":
        return Goal("weighted", weights=given.weights)
    if given.goal == "targets":
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
    return Limits(
        packages=packages,
        circuits=tuple(given.circuit) or ("resistor",),
        faces=tuple(given.face) or ("top",),
        patches=given.patches,
        joined=given.joined,
        length_m=given.length,
        x_range_m=given.between,
        keep_outs=not given.ignore_keep_outs,
        added_mass_kg=given.most_mass,
        strain_margin=given.least_margin,
        largest_inductance_h=given.most_inductance,
        preferred=given.parts or "",
        largest_voltage_v=given.most_voltage,
    )


def _known(name: str, given: tuple[str, ...] | list[str], there: list[str]) -> None:
    for each in given:
        if each not in there:
            raise ArgumentTrouble(f'{name} "{each}": there are {", ".join(there)}.')


def _counts(text: str) -> tuple[int, ...]:
    counts = [n.strip() for n in text.split(",")]
    if not all(n in ("1", "2") for n in counts):
        raise argparse.ArgumentTypeError(f'"{text}": write 1, 2 or 1,2')
    return tuple(int(n) for n in counts)


def _weights(text: str) -> tuple[float, ...]:
    from core.project.ceilings import MOST_MODES

    weights = tuple(number(w, "1") for w in text.split(","))
    if min(weights) < 0.0 or not max(weights) > 0.0 or len(weights) > MOST_MODES:
        raise argparse.ArgumentTypeError(f'"{text}": a weight from 0 on for each of up to {MOST_MODES} modes, one above 0, as 1,0.5')
    return weights


def _target(text: str) -> tuple[int, float | None, float | None]:
    """The mode with its least damping ratio or the most its peak may change, dB."""
    of, sign, value = (part.strip() for part in text.partition(":"))
    if not sign or not (of.isascii() and of.isdigit()) or not 1 <= len(of) <= 3 or int(of) < 1:
        raise argparse.ArgumentTypeError(f'"{text}": write MODE:VALUE, for example 1:2% or 2:-10dB')
    if value.lower().endswith("db"):
        return int(of), None, number(value[:-2], "1")
    return int(of), number(value, "%"), None
