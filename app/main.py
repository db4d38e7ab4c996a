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
# Qt shares a see-through fill of a hundred rows among threads: to wake them costs more than any fill of a frame.
os.environ.setdefault("QT_NO_GUI_THREADPOOL", "1")

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
quietspan --version                                 print the version

Exit codes: 0 done, 1 a file or a layout that cannot be worked on, told in words, 2 a command line that
makes no sense or no display for a window, 130 stopped with Ctrl+C"""


def main(argv: Sequence[str] | None = None) -> int:
    """Exit code: 0 done, 1 trouble told in words, 2 wrong use or no display, 130 stopped by Ctrl+C.

    A reader that closes the pipe (`| head`) has seen enough: that is no trouble.
    """
    try:
        code = _main(argv)
        return _flushed(code)
    except BrokenPipeError:
        _give_up_output()
        return 0
    except KeyboardInterrupt:
        print("\nquietspan: stopped", file=sys.stderr, flush=True)
        os._exit(130)  # a study's threads would be waited for, and files are written whole or not at all


def _flushed(code: int) -> int:
    """The exit code, once all is printed."""
    try:
        if sys.stdout is not None:  # closed by who started this, or a window without a terminal
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as fault:
        if code == 0:
            return _no_room(fault)
        _give_up_output()
    return code


def _printed(text: str) -> int:
    try:
        print(text)
    except BrokenPipeError:
        raise
    except OSError as fault:
        return _no_room(fault)
    return 0


def _no_room(fault: OSError) -> int:
    """What is printed goes to a file, and its disk is full."""
    from core.project.files import reason

    _give_up_output()
    print(f"quietspan: what was to be printed could not be written: {reason(fault)}.", file=sys.stderr)
    return 1


def _give_up_output() -> None:
    """What is left would be flushed at the end, and complained about."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _main(argv: Sequence[str] | None) -> int:
    args = list(sys.argv[1:] if argv is None else argv)
    first = args[0] if args else ""
    if first in COMMANDS:
        from app.cli.commands import run

        return run(args)
    if first == "--version":
        from app import __version__

        return _printed(f"quietspan {__version__}")
    if first in ("-h", "--help"):
        return _printed(USAGE)
    if first == "--self-test":
        from app.cli.self_test import self_test

        return self_test()
    if len(args) > 1 or first.startswith("-"):
        from difflib import get_close_matches

        from app.cli.words import plain

        near = get_close_matches(first, COMMANDS, n=1)
        hint = f"did you mean 'quietspan {near[0]}'? " if near else ""
        print(
            f"quietspan: {plain(' '.join(args))!r} is no command; {hint}'quietspan --help' tells them all.",
            file=sys.stderr,
        )
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
