"""The commands that need no window: predict and the documents. Prediction loads no Qt at all."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from app.cli import document_commands as documents
from app.cli import study_command

if TYPE_CHECKING:
    from core.project.model import Project


class CommandError(ValueError):
    """Trouble told in one sentence on the error stream."""


def parser() -> argparse.ArgumentParser:
    """The parser of the commands; opening the window takes no sub-command."""
    made = argparse.ArgumentParser(prog="quietspan", description="Place piezo patches on a vibrating part.")
    commands = made.add_subparsers(dest="command", required=True)
    predict = commands.add_parser("predict", help="print the prediction of a project file")
    predict.add_argument("file", metavar="FILE")
    predict.add_argument("--candidate", metavar="NAME", help="letter or name; the active one if not given")
    predict.add_argument("--json", action="store_true", help="print JSON, SI units in the keys")
    documents.add_parsers(commands)
    study_command.add_parser(commands)
    return made


def run(argv: list[str]) -> int:
    """Exit code of the command; errors are one sentence on stderr and code 1."""
    given = parser().parse_args(argv)
    try:
        if given.command in documents.COMMANDS:
            return documents.run(given, _load_sound, _without_screen)
        return {"predict": _predict, "study": _study}[given.command](given)
    except (CommandError, ValueError, OSError) as error:
        print(f"quietspan: {_words(error)}", file=sys.stderr)
        return 1
    except Exception as error:
        print(f"quietspan: unexpected trouble ({type(error).__name__}: {error})", file=sys.stderr)
        return 1


def _words(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    return str(error)


def _predict(given: argparse.Namespace) -> int:
    from core.predict.predict import predict
    from core.predict.report import prediction_json, prediction_text
    from core.study.temperature.temperature import temperature_study
    from core.study.temperature.temperature_report import temperature_json, temperature_text

    project, candidate = _load(given)
    _refuse_problems(project, candidate)
    prediction, temperature = predict(project, candidate), temperature_study(project, candidate)
    if given.json:
        report = prediction_json(project, prediction) | {"temperature": temperature_json(temperature)}
        print(json.dumps(report, indent=2, ensure_ascii=False))
    else:
        print(prediction_text(project, prediction))
        print("\n" + temperature_text(temperature))
    return 0


def _study(given: argparse.Namespace) -> int:
    project, candidate = _load_sound(given)
    return study_command.run_study(given, project, candidate)


def _load_sound(given: argparse.Namespace) -> tuple[Project, str]:
    """A project whose candidate can be predicted."""
    project, candidate = _load(given)
    _refuse_problems(project, candidate)
    return project, candidate


def _without_screen() -> None:
    """Fonts and painters need a Qt application, but no display."""
    import os

    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtWidgets import QApplication

    if QApplication.instance() is None:
        _keep.append(QApplication(["quietspan"]))


_keep: list[object] = []
"""The application must outlive the drawing that uses it."""


def _load(given: argparse.Namespace) -> tuple[Project, str]:
    from app.shell.concern import usable
    from core.project import store

    project = usable(store.load(Path(given.file)))
    return project, find_candidate(project, given.candidate)


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
    from core.predict.problems import blocks_prediction, problems_of

    problems = [p for p in problems_of(project, candidate_id) if blocks_prediction(p)]
    if problems:
        raise CommandError("\n".join(f"{p.path}: {p.message}" if p.path else p.message for p in problems))
