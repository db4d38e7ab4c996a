"""`quietspan measure`: identification, coupling and verdict of measured files without a window."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.arguments import WrongUse, quantity
from app.cli.words import plain

if TYPE_CHECKING:
    from core.measured.evaluate import Entry
    from core.project.model import Project

Load = Callable[[Path, argparse.Namespace], "tuple[Project, str]"]


def add_parser(commands: Any) -> None:
    """The parser of the command."""
    made = commands.add_parser("measure", help="modes, coupling and verdict of measured files")
    made.add_argument("files", nargs="+", metavar="FILE", help="records, response functions or impedance sweeps")
    made.add_argument("--project", metavar="P", help="project file to compare with and judge against")
    made.add_argument("--candidate", metavar="NAME", help="letter or name; the active one where left out")
    made.add_argument(
        "--leads", metavar="LIST",
        help='what hung on the leads, one a file: "shorted,open,120k"; taken from the files\' names where left out',
    )  # fmt: skip
    made.add_argument("--sensor", type=quantity("measurements.sensor_kg"), default=0.0, metavar="MASS", help='mass of the sensor at the tip, for example "2 g"')
    made.add_argument("--input", type=quantity("measurements.resistance_ohm", "ohm"), metavar="R", help='input of the instrument on the leads, for example "1 Mohm"')
    made.add_argument("--capacitance", type=quantity("measurements.capacitance_f"), metavar="C", help='read on the bonded part at 1 kHz, for example "68 nF"')
    made.add_argument("--before", type=quantity("measurements.capacitance_before_f"), metavar="C", help="read on the patch before bonding")
    made.add_argument("--temperature", type=quantity("measurements.temperature_c"), metavar="T", help="of the bench, in degrees Celsius or with a unit")
    made.add_argument("--interval", type=quantity("measurements.interval_s", "s"), metavar="T", help="time between samples where the file does not say")
    made.add_argument("--exponential-window", type=quantity("measurements.exponential_window_s", "s"), metavar="T", help="time constant of a window the analyser applied")
    made.add_argument("--json", action="store_true", help="plain values in SI")


def run_measure(given: argparse.Namespace, load: Load) -> int:
    """Print what was found; 1 where no file could be used."""
    from core.measured.evaluate import evaluate
    from core.measured.report_text import evaluation_json, evaluation_text
    from core.project.candidate import Instrument
    from core.project.measurement import Bench
    from core.units.as_json import json_text

    if given.candidate and not given.project:
        raise WrongUse("--candidate: of which project? Add --project FILE.")
    project, candidate = load(Path(given.project), given) if given.project else (None, None)
    instrument = None if given.input is None else Instrument(resistance_ohm=given.input)
    bench = Bench(given.temperature, given.sensor, None, instrument)
    entries, told = _entries(given)
    found = evaluate(
        entries, project, candidate, bench=bench, capacitance_f=given.capacitance, capacitance_before_f=given.before
    )
    if given.json:
        print(json_text({**evaluation_json(found), "understood": told}))
    else:
        for name, lines in told.items():
            for line in lines:
                if line["source"] == "guessed":
                    print(plain(f"{name}: {line['what']} guessed: {line['value']}"))
        print(plain(evaluation_text(found)))
    return 0 if found.runs or found.sweep is not None else 1


def _entries(given: argparse.Namespace) -> tuple[tuple[Entry, ...], dict[str, list[dict[str, str]]]]:
    from core.measured.apart import read_apart
    from core.measured.evaluate import Entry
    from core.measured.record import MeasuredError
    from core.measured.runs import state_of_name
    from core.project.measurement import Told

    states = _states(given)
    entries, told = [], {}
    for file, said in zip(given.files, states, strict=True):
        path = Path(file)
        recording = read_apart(path, _never, Told(interval_s=given.interval) if given.interval else None)
        if recording is None:
            raise MeasuredError(f"{path.name} was not read.")
        state = said or state_of_name(path.name)
        if state is None and recording.block("impedance") is None and len(given.files) > 1:
            raise MeasuredError(f'{path.name}: its name does not tell what hung on the leads. Say so with --leads, for example --leads shorted,open.')
        leads, ohm = state or ("shorted", None)
        told[recording.name] = [{"what": u.what, "value": u.value, "source": u.source} for u in recording.understood]
        entries.append(Entry(recording, leads, ohm, None, given.exponential_window))
    return tuple(entries), told


def _states(given: argparse.Namespace) -> list[Any]:
    from core.measured.record import MeasuredError
    from core.measured.runs import state_of_name

    if given.leads is None:
        return [None] * len(given.files)
    parts = [part.strip() for part in given.leads.split(",")]
    if len(parts) != len(given.files):
        raise MeasuredError(f"--leads names {len(parts)} states for {len(given.files)} files. Name one a file.")
    out = []
    for part in parts:
        state = state_of_name(part) or state_of_name(f"{part}ohm")
        if state is None and part not in ("-", "sweep"):
            raise MeasuredError(f'--leads: "{part}" is no state. Write shorted, open or a resistance such as 120k.')
        out.append(state)
    return out


def _never() -> bool:
    return False
