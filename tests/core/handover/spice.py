"""ngspice, where it is installed: runs of a netlist, with its columns."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

PROGRAM = shutil.which("ngspice")
needs_ngspice = pytest.mark.skipif(PROGRAM is None, reason="ngspice is not installed (apt-get install ngspice)")


def run(netlist: str, command: str, nodes: list[str], folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Frequency or time, and the voltages of the nodes (n, points), complex in an AC run, under one command."""
    lines = [line for line in netlist.splitlines() if not line.startswith((".ac", ".tran", ".print", ".save")) and line != ".end"]
    table = folder / "table.txt"
    told = " ".join(f"v({node})" for node in nodes)
    lines += [".control", "set wr_singlescale", command, f"wrdata {table} {told}", "quit", ".endc", ".end", ""]
    deck = folder / "deck.cir"
    deck.write_text("\n".join(lines))
    done = subprocess.run([PROGRAM, "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False)
    assert table.exists(), done.stdout[-2000:] + done.stderr[-2000:]
    found = np.loadtxt(table, ndmin=2)
    values = found[:, 1:]
    if command.startswith("ac"):
        values = values[:, 0::2] + 1j * values[:, 1::2]
    return found[:, 0], values.T
