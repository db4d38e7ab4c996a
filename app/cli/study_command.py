"""`quietspan study`: tolerance, map or search of a project file, here or on a cluster."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli import search_arguments
from app.cli.arguments import WrongUse, whole

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from core.project.model import Project

KINDS = ("tolerance", "map", "search")
QUANTITIES = ("damping", "coupling", "peak change", "strain margin", "electrode use")
AXES = ("length", "thickness", "width")
ENDINGS = (".json", ".csv")

NO_CLUSTER = (
    "A scheduler needs the optional part of this program: pip install 'quietspan[cluster]'. "
    "Without --scheduler the study runs on this machine."
)


class StudyError(ValueError):
    """Trouble told in one sentence."""


def add_parser(commands: Any) -> None:
    """The sub-command's arguments."""
    from core.project.ceilings import MOST_MODES

    study = commands.add_parser("study", help="study tolerances, map placements, search layouts")
    study.add_argument("file", metavar="FILE")
    study.add_argument("--candidate", metavar="NAME", help="letter or name; the active one if not given")
    study.add_argument("--kind", choices=KINDS, default="tolerance")
    study.add_argument("--mode", type=whole(1, MOST_MODES), metavar="N", help="mode to map or to damp (the one the circuit is tuned on)")
    study.add_argument("--samples", type=whole(10, 10_000_000), default=10_000, metavar="N", help="tolerance samples (10000)")
    study.add_argument("--seed", type=whole(0, 1_000_000_000), default=1, metavar="S", help="same seed, same answer (1)")
    study.add_argument(
        "--spread", choices=("limits", "two sigma"), default="limits",
        help="what a tolerance means: any value within it as likely, or two standard deviations of a bell (limits)",
    )  # fmt: skip
    study.add_argument("--scheduler", metavar="ADDRESS", help="a dask scheduler, as tcp://HOST:PORT")
    study.add_argument("--out", type=_out, metavar="FILE", help="write a .json report or a .csv table")
    chart = study.add_argument_group("map")
    chart.add_argument("--patch", metavar="ID", help="the patch that moves; the first if not given")
    chart.add_argument("--quantity", choices=QUANTITIES, default="damping")
    chart.add_argument(
        "--over", choices=AXES, default="length", help="the size the map is over, beside the start"
    )
    search_arguments.add_arguments(study)
    study.set_defaults(unset={name: study.get_default(name) for name in OF_KINDS})


OF_KINDS: dict[str, tuple[str, ...]] = {
    "mode": ("map", "search"), "samples": ("tolerance",), "seed": ("tolerance", "search"), "spread": ("tolerance",),
    "patch": ("map",), "quantity": ("map",), "over": ("map",),
    **dict.fromkeys(search_arguments.NAMES, ("search",)),
}  # fmt: skip
"""Arguments that only some kinds of study take."""


def _check_kind(given: argparse.Namespace) -> None:
    """WrongUse where something is told that the kind of study does not ask for: it would go unheard."""
    for name, kinds in OF_KINDS.items():
        if given.kind not in kinds and getattr(given, name) != given.unset[name]:
            told = " or ".join(f"--kind {kind}" for kind in kinds)
            raise WrongUse(f"--{name.replace('_', '-')} goes with {told}; this is --kind {given.kind}.")


def run_study(given: argparse.Namespace, project: Project, candidate: str) -> int:
    """Run the study, print it, and write the file asked for. StudyError in words, WrongUse for what its kind does not take."""
    _check_kind(given)
    out: Path | None = given.out
    if out is not None:
        from core.project.files import may_write

        may_write(out)  # told before minutes of work, not after
    with executor_for(given.scheduler) as executor:
        text, report, table = _STUDIES[given.kind](given, project, candidate, executor)
    print(text)
    if out is not None:
        _write(out, report, table)
        print(f"{out} written")
    return 0


def _out(text: str) -> Path:
    path = Path(text)
    if path.suffix.lower() not in ENDINGS:
        raise argparse.ArgumentTypeError(f'"{text}": the name must end in .json or .csv')
    return path


@contextmanager
def executor_for(scheduler: str | None) -> Iterator[Executor]:
    """Threads of this machine, or the workers behind a scheduler."""
    from core.study.executors import local_executor

    if scheduler is None:
        pool = local_executor("threads")
        try:
            yield pool
        finally:  # when stopped, what still waits is not worked out, nor what runs waited for
            pool.shutdown(wait=False, cancel_futures=True)
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise StudyError(NO_CLUSTER) from error
    try:
        client = Client(scheduler, timeout="4s", set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise StudyError(f"No scheduler answers at {scheduler}. Is it running there?") from error
    with client, client.get_executor(pure=False) as pool:
        yield pool


Answer = tuple[str, dict[str, Any], list[list[str]]]


def _tolerance(given: argparse.Namespace, project: Project, candidate: str, executor: Executor) -> Answer:
    from core.study.carried import how_worked
    from core.study.tolerance.tolerance import ToleranceResult, tolerance_study
    from core.study.tolerance.tolerance_report import sample_table, tolerance_json, tolerance_text

    def told(result: ToleranceResult) -> None:
        _tell(result.progress.share, "samples")

    result = tolerance_study(
        project,
        candidate,
        samples=given.samples,
        seed=given.seed,
        spread=given.spread,
        executor=executor,
        on_partial=told if sys.stderr.isatty() else None,
    )
    assert result is not None  # nothing cancels it here
    _tell(1.0, "samples")
    report = {
        "format": "quietspan tolerance",
        "version": 1,
        "project": project.name,
        **tolerance_json(result),
    }
    text = "\n".join(line for line in (tolerance_text(result), how_worked(project.structure)) if line)
    return text, report, sample_table(result)


def _map(given: argparse.Namespace, project: Project, candidate: str, executor: Executor) -> Answer:
    from msgspec.structs import replace

    from core.study.placement.map_values import AXES as SIZES
    from core.study.placement.map_values import value_text
    from core.study.placement.maps import default_request, placement_map
    from core.units import words

    project = replace(project, active=candidate)
    patches = project.candidate().patches
    if not patches:
        raise StudyError(f"Candidate {candidate} has no patch to move. Add one first.")
    patch = given.patch or patches[0].id
    if patch not in {p.id for p in patches}:
        raise StudyError(f"There is no patch {patch!r}. There are: {', '.join(p.id for p in patches)}.")
    request = default_request(project, patch, quantity=given.quantity, mode=_mode(given, project, candidate, patch), axis=given.over)
    found = placement_map(project, request, executor=executor)
    assert found is not None  # nothing cancels it here
    x, size = found.across_m.tolist(), found.size_m.tolist()
    table = [["x_start_m", f"{given.over}_m", "value", "why_not"]]
    for i, start in enumerate(x):
        for j, length in enumerate(size):
            table.append([repr(start), repr(length), repr(float(found.values[i, j])), found.reason_at(i, j)])
    best = None
    text = f"Map of the {found.label} for {request.patch}: no placement on it is allowed."
    if found.best is not None:
        i, j = found.best
        best = {"x_start_m": x[i], f"{given.over}_m": size[j], "value": float(found.values[i, j])}
        text = (
            f"Map of the {found.label} for {request.patch}: best {value_text(found.best_value, found.unit)} at start "
            f"{words.millimetres(x[i])}, {SIZES[request.axis]} {words.millimetres(size[j])}"
        )
        if found.at_edge:
            text += f"\nThe best lies at the edge: {'; '.join(found.at_edge)}"
    report = {
        "format": "quietspan map",
        "version": 1,
        "project": project.name,
        "candidate": candidate,
        "patch": request.patch,
        "quantity": found.label,
        "x_start_m": x,
        f"{given.over}_m": size,
        "values": found.values,
        "best": best,
    }
    return text, report, table


def _search(given: argparse.Namespace, project: Project, candidate: str, executor: Executor) -> Answer:
    from core.study.search.search import search
    from core.units import words

    request = search_arguments.request_of(given, project, candidate, _mode(given, project, candidate))
    result = search(project, request, executor=executor)
    assert result is not None  # nothing cancels it here
    lines, rows, found = [result.verdict], [["rank", "patches", "score", "added_mass_kg", "meets"]], []
    for rank, layout in enumerate(result.found, 1):
        where = "; ".join(
            f"{p.id} {words.between(words.millimetres(p.x_start_m), words.millimetres(p.x_end_m))} {p.face}"
            for p in layout.candidate.patches
        )
        lines.append(f"  {rank}. {where}: {layout.score_words}")
        lines += [f"     held by {b}" for b in layout.binding]
        rows.append([str(rank), where, repr(layout.score), repr(layout.added_mass_kg), str(layout.meets)])
        found.append(
            {
                "score": layout.score,
                "score_words": layout.score_words,
                "zeta": list(layout.zeta),
                "peak_change_db": list(layout.peak_db),
                "added_mass_kg": layout.added_mass_kg,
                "meets": layout.meets,
                "patches": [
                    {
                        "package": p.package,
                        "face": p.face,
                        "x_start_m": p.x_start_m,
                        "length_m": p.length_m,
                        "width_m": p.width_m,
                    }
                    for p in layout.candidate.patches
                ],
                "circuits": [g.circuit.kind for g in layout.candidate.groups],
            }
        )
    lines += list(result.gives)
    report = {
        "format": "quietspan search",
        "version": 1,
        "project": project.name,
        "met": result.met,
        "verdict": result.verdict,
        "found": found,
    }
    return "\n".join(lines), report, rows


def _mode(given: argparse.Namespace, project: Project, candidate: str, patch_id: str | None = None) -> int:
    from core.project.served import served_mode

    shown = project.view.modes_shown
    if given.mode is not None and given.mode > shown:
        raise StudyError(f"--mode {given.mode}: the project looks at modes 1 to {shown}. Name one of these.")
    return int(given.mode or served_mode(project, project.candidate(candidate), patch_id))


_STUDIES = {"tolerance": _tolerance, "map": _map, "search": _search}


def _tell(share: float, what: str) -> None:
    """Progress on a terminal; a pipe gets none."""
    if sys.stderr.isatty():
        print(f"\r{100 * share:3.0f} % of the {what}", end="\n" if share >= 1.0 else "", file=sys.stderr)


def _write(path: Path, report: dict[str, Any], table: list[list[str]]) -> None:
    from core.project.files import write_atomically
    from core.units.as_json import json_text

    if path.suffix.lower() == ".json":
        text = json_text(report) + "\n"
    else:
        lines = io.StringIO()
        csv.writer(lines).writerows(table)
        text = lines.getvalue()
    write_atomically(text.encode(), path)
