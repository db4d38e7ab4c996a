"""The commands that write documents without a window: sheet, template, record, card."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.arguments import WrongUse, number

if TYPE_CHECKING:
    from core.project.model import Project

CARDS = ("process", "purchasing", "circuit", "test", "bonding")
COMMANDS = ("sheet", "template", "record", "card", "parts", "netlist")


def add_parsers(commands: Any) -> None:
    """Enter the commands into the sub-parsers of the program."""
    for name, words in (
        ("sheet", "write the placement diagram"),
        ("template", "write the 1:1 template in tiles"),
        ("record", "write the decision record"),
        ("parts", "write the list of the circuits' parts"),
        ("netlist", "write part, patches and circuit as a netlist for SPICE"),
        ("card", "write the process, purchasing, circuit or test card, or the bonding record"),
    ):
        one = commands.add_parser(name, help=words)
        one.add_argument("file", metavar="FILE")
        one.add_argument("--out", metavar="NAME", required=True, help=_endings(name))
        one.add_argument("--candidate", metavar="NAME", help="letter or name; the active one if not given")
        one.add_argument("--paper", choices=["A4", "A3", "Letter"], help="the project's own if not given")
        if name in ("sheet", "template"):
            one.add_argument(
                "--mirrored", action="store_true", help="of the mirrored part, under a number of its own"
            )
        if name == "card":
            one.add_argument("--which", choices=CARDS, default=CARDS[0], help="the process card if not given")
            one.add_argument("--readings", metavar="TABLE", help="for the bonding record: a table of text with the parts' readings")
        if name == "template":
            for way in ("along", "across"):
                one.add_argument(
                    f"--bar-{way}", type=_millimetres, metavar="MM", help=f"what the bar {way} of the last print measures"
                )


def _endings(name: str) -> str:
    return {
        "sheet": "a .pdf, .svg, .png or .dxf file",
        "template": "a .pdf, .svg or .dxf file",
        "parts": "a .csv, .pdf, .md, .svg or .png file",
        "netlist": "a .cir file; or a .pdf, .md, .svg or .png file that says what it holds",
    }.get(name, "a .pdf, .md, .svg or .png file")


def run(given: argparse.Namespace, load: Callable[[argparse.Namespace], Any]) -> int:
    """Write the document of a command; 0. Troubles are raised in words."""
    from app.handover.write import format_of, write_document
    from core.handover.documents import Order, kind
    from core.handover.drawing.items import SheetError
    from core.handover.text.results import compute_results
    from core.project.files import may_write

    key = given.which if given.command == "card" else given.command
    which = kind(f"mirrored-{key}" if getattr(given, "mirrored", False) else key)
    readings, out = getattr(given, "readings", None), Path(given.out)
    if readings and key != "bonding":
        raise WrongUse("--readings: only the bonding record holds readings. Add --which bonding.")
    try:
        format_of(which, out)
    except SheetError as error:
        raise WrongUse(f"--out: {error}") from None
    may_write(out)  # both told before the work, not after
    project, candidate = load(given)
    if readings:
        project = _with_readings(project, candidate, Path(readings))
    results = compute_results(project, candidate, which.needs)
    order = Order(
        project, candidate, results,
        bar_along_mm=getattr(given, "bar_along", None), bar_across_mm=getattr(given, "bar_across", None),
        paper=given.paper,
    )  # fmt: skip
    for path in write_document(which, order, out):
        print(f"{path} written")
    return 0


def _millimetres(text: str) -> float:
    """A length with any unit, a plain number in mm."""
    return 1e3 * number(text, "mm")


def _with_readings(project: Project, candidate: str, table: Path) -> Project:
    """The project with the readings of a table joined to its own."""
    from msgspec.structs import replace

    from core.measured.bonded_csv import read_bonded
    from core.project.bonded import merged, read_of, with_read
    from core.project.files import short_name

    groups = [group.id for group in project.candidate(candidate).groups]
    try:
        read = read_bonded(table.read_bytes(), candidate, groups)
    except ValueError as error:
        raise ValueError(f'"{short_name(table)}": {error}') from None
    parts = merged(read_of(project.bonded, candidate), read)
    return replace(project, bonded=with_read(project.bonded, candidate, parts))
