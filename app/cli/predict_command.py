"""`quietspan predict`: one file, or a family of them with inputs set and a row for each in a table."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from glob import glob
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.arguments import WrongUse
from app.cli.words import plain

if TYPE_CHECKING:
    from core.predict.prediction import Prediction
    from core.project.model import Project

Load = Callable[[Path, argparse.Namespace], "tuple[Project, str]"]
"""A sound project and the candidate to predict; ValueError in words otherwise."""


LEVELS = ("plain", "section", "shear", "across")


@dataclass(frozen=True)
class Row:
    """What became of one file: a prediction, or what is wrong in words."""

    file: str
    project: Project | None = None
    prediction: Prediction | None = None
    trouble: str = ""


def add_parser(commands: Any) -> None:
    """The sub-command's arguments."""
    predict = commands.add_parser("predict", help="print the prediction of project files")
    predict.add_argument("files", metavar="FILE", nargs="+")
    predict.add_argument("--candidate", metavar="NAME", help="letter or name; the active one if not given")
    predict.add_argument("--json", action="store_true", help="print JSON, SI units in the keys")
    predict.add_argument("--prices", action="store_true", help="with --json: what it costs to miss each circuit value")
    predict.add_argument(
        "--set", dest="settings", metavar="PATH=VALUE", action="append", default=[],
        help="another value for an input, in SI or with a unit: structure.span_m=280mm; may be repeated",
    )  # fmt: skip
    predict.add_argument("--level", choices=LEVELS, help="of the mechanics, in place of the project's")
    predict.add_argument("--csv", metavar="NAME", help="write a table with a row per file")


def run_predict(given: argparse.Namespace, load: Load) -> int:
    """Print, or write the table; 1 where a file could not be predicted."""
    if given.csv is not None and given.json:
        raise WrongUse("--csv and --json: the table or the JSON text, not both. Leave one out.")
    if given.prices and not given.json:
        raise WrongUse("--prices: only the JSON text holds prices. Add --json.")
    if given.csv not in (None, "-"):
        from core.project.files import may_write

        may_write(given.csv)  # told before the work, not after
    files = [file for name in given.files for file in _expanded(name)]
    rows = [_row(file, given, load) for file in files]
    if given.csv is not None:
        _write_table(Path(given.csv), rows)
    elif given.json and (len(files) > 1 or not rows[0].trouble):
        reports = [_json(row, with_prices=given.prices) for row in rows]
        from core.units.as_json import json_text

        print(json_text(reports if len(files) > 1 else reports[0]))
    elif not given.json:
        told = [_text(row, name=len(files) > 1) for row in rows if not row.trouble]
        print("\n\n".join(told), end="\n" if told else "")
    for row in rows:
        if row.trouble:
            print(
                f"quietspan: {row.file + ': ' if len(files) > 1 else ''}{plain(row.trouble)}", file=sys.stderr
            )
    return 1 if any(row.trouble for row in rows) else 0


def _expanded(name: str) -> list[str]:
    """The files of a pattern, where the shell has not put them in its place."""
    return (
        sorted(glob(name)) or [name] if any(c in name for c in "*?") and not Path(name).exists() else [name]
    )


def _row(file: str, given: argparse.Namespace, load: Load) -> Row:
    from core.predict.predict import predict
    from core.predict.remarks.problems import UNSOLVED
    from core.project.edit import with_structure

    try:
        project, candidate = load(Path(file), given)
        if given.level is not None:
            project = with_structure(project, level=given.level)
    except (ValueError, OSError) as trouble:
        return Row(file, trouble=str(trouble))
    try:
        return Row(file, project, predict(project, candidate).whole())
    except (ValueError, ArithmeticError):
        return Row(file, trouble=UNSOLVED)


def _json(row: Row, *, with_prices: bool) -> dict[str, Any]:
    from core.predict.report.report import prediction_json
    from core.study.temperature.temperature import temperature_study
    from core.study.temperature.temperature_report import temperature_json

    if row.project is None or row.prediction is None:
        return {"file": row.file, "trouble": plain(row.trouble)}
    study = temperature_study(row.project, row.prediction.candidate)
    report = prediction_json(row.project, row.prediction, with_prices=with_prices)
    return (
        {"file": row.file}
        | report
        | {"temperature": temperature_json(study), "without_temperature_coefficient": list(study.constant)}
    )


def _text(row: Row, *, name: bool) -> str:
    from core.predict.report.report import prediction_text
    from core.study.temperature.temperature import temperature_study
    from core.study.temperature.temperature_report import temperature_text

    assert row.project is not None and row.prediction is not None
    head = f"{row.file}\n" if name else ""
    study = temperature_study(row.project, row.prediction.candidate)
    return f"{head}{prediction_text(row.project, row.prediction)}\n\n{temperature_text(study)}"


def _write_table(path: Path, rows: list[Row]) -> None:
    """The table as CSV; "-" prints it."""
    from core.project.files import write_atomically

    lines = io.StringIO()
    csv.writer(lines).writerows(table(rows))
    if str(path) == "-":
        print(lines.getvalue(), end="")
        return
    write_atomically(lines.getvalue().encode(), path)
    print(f"{path} written")


def table(rows: list[Row]) -> list[list[str]]:
    """A head and a row per file, SI with the unit in the head; a file that failed has its trouble only."""
    modes = max((len(row.prediction.modes) for row in rows if row.prediction is not None), default=0)
    head = ["file", "trouble", "project", "candidate", "added_mass_kg", "worst_limit", "worst_margin"]
    for mode in range(1, modes + 1):
        head += [f"{name}_mode_{mode}" for name, _ in _MODE]
    made = [head]
    for row in rows:
        cells = [row.file, plain(row.trouble), *_cells(row)]
        made.append(cells + [""] * (len(head) - len(cells)))
    return made


_MODE: tuple[tuple[str, Callable[[Any], float | None]], ...] = (
    ("f_short_hz", lambda m: m.f_short_hz),
    ("f_open_hz", lambda m: m.f_open_hz),
    ("k2", lambda m: m.k2),
    ("zeta_before", lambda m: m.zeta_before),
    ("zeta", lambda m: m.zeta),
    ("peak_change_db", lambda m: m.peak_change_db),
)


def _cells(row: Row) -> Iterator[str]:
    if row.project is None or row.prediction is None:
        return
    found = row.prediction
    yield row.project.name
    yield found.candidate
    yield repr(float(found.added_mass_kg))
    margins = [limit for limit in found.limits if limit.margin is not None]
    worst = min(margins, key=lambda limit: limit.margin, default=None)
    yield "" if worst is None else f"{worst.name} {worst.patch}".rstrip()
    yield "" if worst is None else repr(float(worst.margin))
    for mode in found.modes:
        for _, read in _MODE:
            value = read(mode)
            yield "" if value is None or value != value else repr(float(value))
