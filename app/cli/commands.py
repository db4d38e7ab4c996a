"""The commands that need no window. Prediction, comparison and studies load no Qt at all."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from app.cli import document_commands as documents
from app.cli import measure_command, predict_command, study_command
from app.cli.arguments import WRONG_USE, Parser, WrongUse
from app.cli.words import plain

if TYPE_CHECKING:
    from core.project.model import Project


class CommandError(ValueError):
    """Trouble told in one sentence on the error stream."""


def parser() -> argparse.ArgumentParser:
    """The parser of the commands; opening the window takes no sub-command."""
    made = Parser(prog="quietspan", description="Place piezo patches on a vibrating part.")
    commands = made.add_subparsers(dest="command", required=True)
    predict_command.add_parser(commands)
    diff = commands.add_parser("diff", help="what changed from one project file to another")
    diff.add_argument("file", metavar="FILE")
    diff.add_argument(
        "other", metavar="FILE", nargs="?", help="left out: the inputs of one file, a line each"
    )
    documents.add_parsers(commands)
    study_command.add_parser(commands)
    measure_command.add_parser(commands)
    return made


def run(argv: list[str]) -> int:
    """Exit code of the command; errors are one sentence on stderr, with code 2 for wrong use and 1 for the rest."""
    given = parser().parse_args(argv)
    try:
        if given.command in documents.COMMANDS:
            return documents.run(given, _load_sound)
        return {"predict": _predict, "diff": _diff, "study": _study, "measure": _measure}[given.command](given)
    except BrokenPipeError:
        raise
    except WrongUse as error:
        print(f"quietspan {given.command}: {plain(str(error))}", file=sys.stderr)
        return WRONG_USE
    except (CommandError, ValueError, OSError) as error:
        print(f"quietspan: {plain(_words(error))}", file=sys.stderr)
        return 1
    except Exception as error:
        print(f"quietspan: unexpected trouble ({type(error).__name__}: {plain(str(error))})", file=sys.stderr)
        return 1


def _words(error: Exception) -> str:
    if isinstance(error, OSError):
        from core.project.files import reason, short_name

        name = f'"{short_name(Path(str(error.filename)))}"' if error.filename else "what was to be printed"
        return f"{name} could not be {'read' if error.filename else 'written'}: {reason(error)}."
    return str(error)


def _predict(given: argparse.Namespace) -> int:
    return predict_command.run_predict(given, _load_set)


def _diff(given: argparse.Namespace) -> int:
    from core.handover.text.project_diff import diff_text, project_text

    first = _read(Path(given.file))
    print(project_text(first) if given.other is None else diff_text(first, _read(Path(given.other))))
    return 0


def _study(given: argparse.Namespace) -> int:
    project, candidate = _load_sound(given)
    return study_command.run_study(given, project, candidate)


def _measure(given: argparse.Namespace) -> int:
    return measure_command.run_measure(given, _load_set)


def _load_sound(given: argparse.Namespace) -> tuple[Project, str]:
    """A project whose candidate can be predicted."""
    return _load_set(Path(given.file), given)


def _load_set(file: Path, given: argparse.Namespace) -> tuple[Project, str]:
    """The same with the inputs set that were asked for."""
    from core.project.setting import with_setting

    project = _read(file)
    for text in getattr(given, "settings", ()):
        project = with_setting(project, text)
    candidate = find_candidate(project, given.candidate)
    _refuse_problems(project, candidate)
    return project, candidate


def _read(file: Path) -> Project:
    from app.shell.concern import usable
    from core.project import store

    return usable(store.load(file))


def find_candidate(project: Project, name: str | None) -> str:
    """The id of the candidate of that letter or name; CommandError lists what there is."""
    if name is None:
        return project.active
    for candidate in project.candidates:
        if name.casefold() in (candidate.id.casefold(), candidate.name.casefold()):
            return candidate.id
    there = ", ".join(f"{c.id} ({c.name})" for c in project.candidates)
    raise CommandError(f"There is no candidate {name!r} in this project. There are: {there}.")


def _refuse_problems(project: Project, candidate_id: str) -> None:
    """A project with problems is not predicted; each is told."""
    from core.predict.remarks.problems import blocks_prediction, problems_of

    problems = [p for p in problems_of(project, candidate_id) if blocks_prediction(p)]
    if problems:
        raise CommandError("\n".join(f"{p.path}: {p.message}" if p.path else p.message for p in problems))
