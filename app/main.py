"""The `quietspan` command: opens the window, or runs a command that needs none."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from app.cli import COMMANDS
from app.cli.display import trouble

# One thread for the small matrices here: more only cost time, and must be said before numpy loads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

USAGE = """\
quietspan [FILE]                                    open the window (on a worked example without FILE)
quietspan predict FILE... [--candidate NAME] [--json] [--set PATH=VALUE]... [--csv NAME]
                                                    print the prediction, or a table with a row per file
quietspan diff FILE FILE                            what changed, with old and new prediction beside each other
quietspan sheet FILE --out NAME.pdf|svg|png|dxf     write the placement diagram
quietspan template FILE --out NAME.pdf|svg|dxf [--bar-along MM] [--bar-across MM]
                                                    write the 1:1 template; the bars as the last print measures
quietspan record FILE --out NAME.pdf|md             write the decision record
quietspan card FILE --out NAME.pdf|md [--which process|purchasing|circuit|test|bonding]
                                                    write a card for shop (if not said), buyer or bench
quietspan parts FILE --out NAME.csv|pdf|md          write the list of the circuits' parts
quietspan netlist FILE --out NAME.cir               write part, patches and circuit as a netlist for SPICE
                                                    (all six: [--candidate NAME] [--paper A4|A3|Letter])
quietspan study FILE [--kind tolerance|map|search] [--candidate NAME] [--samples N] [--seed S]
                [--mode N] [--spread limits|"two sigma"] [--scheduler ADDRESS] [--out NAME.json|csv]
                                                    study tolerances, map placements, search layouts;
                                                    quietspan study --help tells a map's and a search's options
quietspan measure FILE... [--project FILE] [--leads shorted,open,120k] [--json]
                                                    modes, coupling and the verdict on the bond of measured files;
                                                    quietspan measure --help tells what the bench adds
quietspan --self-test                               open, predict, save, say whether all is well
quietspan --version                                 print the version"""


def main(argv: Sequence[str] | None = None) -> int:
    """Exit code: 0 done, 1 trouble told in words, 2 wrong use or no display.

    A reader that closes the pipe (`| head`) has seen enough: that is no trouble.
    """
    try:
        code = _main(argv)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # What is left would be flushed at the end, and complained about.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _main(argv: Sequence[str] | None) -> int:
    args = list(sys.argv[1:] if argv is None else argv)
    first = args[0] if args else ""
    if first in COMMANDS:
        from app.cli.commands import run

        return run(args)
    if first == "--version":
        from app import __version__

        print(f"quietspan {__version__}")
        return 0
    if first in ("-h", "--help"):
        print(USAGE)
        return 0
    if first == "--self-test":
        from app.cli.self_test import self_test

        return self_test()
    if len(args) > 1 or first.startswith("-"):
        from app.cli.words import plain

        print(f"quietspan: cannot make sense of {plain(' '.join(args))!r}\n{USAGE}", file=sys.stderr)
        return 2
    why_not = trouble()
    if why_not:
        print(f"quietspan: {why_not}", file=sys.stderr)
        return 2
    # Nothing of what a start makes is thrown away, and looking through it again and again took a twentieth of the start.
    gc.disable()  # until `calm_collector`
    from app.shell.start import open_window

    return open_window(first or None)


if __name__ == "__main__":
    sys.exit(main())
