"""Columns over frequency: impedance in any of its pairs to an admittance, or a response function.

Pairs an impedance analyser writes: |Z| and phase, R and X, Cp and D, G and B, Cs and D. All become the
admittance Y = G + jB in siemens, so that what follows knows one form.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.measured.quantities import FileUnit
from core.measured.record import Array, Block, Channel, MeasuredError, Understood, Values

Named = tuple[str, FileUnit | None, Array]

_PHASE = re.compile(r"phase|phi|theta|angle|°|deg", re.IGNORECASE)


def spectral_block(columns: list[Named]) -> tuple[Block, list[Understood], list[str]]:
    """The block over frequency that those columns hold; MeasuredError where they cannot be told."""
    _, unit, frequency = columns[0]
    factor = unit.factor if unit is not None else 1.0
    understood = [Understood("Frequency", f"column 1 in {unit.text if unit else 'Hz'}", "header" if unit else "guessed")]
    hertz = frequency * factor
    order = np.argsort(hertz, kind="stable")
    keep = np.isfinite(hertz[order]) & (hertz[order] > 0.0)
    order = order[keep]
    for _, _, values in columns[1:]:
        order = order[np.isfinite(values[order])]
    hertz = hertz[order]
    distinct = np.concatenate([[True], np.diff(hertz) > 0.0]) if len(hertz) else np.zeros(0, bool)
    order, hertz = order[distinct], hertz[distinct]
    if len(hertz) < 5:
        raise MeasuredError(f"There are {len(hertz)} lines over frequency; five at least are needed. Export the whole sweep.")
    rest = [(n, u, v[order]) for n, u, v in columns[1:]]
    if not rest:
        raise MeasuredError("There is a frequency and nothing beside it. Export magnitude and phase, or Cp and D.")
    notes: list[str] = []
    pair = _pair(rest)
    if pair is not None:
        y, words_of = _admittance(pair, 2 * np.pi * hertz, rest)
        understood.append(Understood("Columns 2, 3", words_of, "header"))
        if pair in ("cp d", "cs d"):
            notes.append("D beside a resonance is the resonance's, not the dielectric loss.")
        channels = (Channel("admittance", y, "S"),)
        return Block("impedance", channels, uneven=hertz, label=words_of), understood, notes
    return _response(rest, hertz, understood)


def _pair(rest: list[Named]) -> str | None:
    """Which pair of quantities the first columns after the frequency are, by name and unit."""
    if len(rest) < 2:
        return None
    (a, ua, _), (b, ub, _) = rest[0], rest[1]
    first, second = _plain(a), _plain(b)
    si_a, si_b = ua.si if ua else "", ub.si if ub else ""
    if (first.startswith(("z", "absz", "impedance", "mag")) and si_a in ("ohm", "") and (first[:1] == "z" or "z" in first or si_a == "ohm" or "imp" in first)) and (_PHASE.search(b) or si_b == "rad"):
        return "z phase"
    if si_a == "ohm" and (_PHASE.search(b) or si_b == "rad"):
        return "z phase"
    if first.startswith(("cp", "cparallel")) or (first in ("c", "capacitance") and si_a in ("F", "")) or (si_a == "F" and not first.startswith("cs")):
        return "cp d" if second.startswith(("d", "tan", "loss")) else "cp g" if second.startswith("g") else "cp d"
    if first.startswith("cs"):
        return "cs d"
    if first.startswith(("g", "conductance", "rey")) and second.startswith(("b", "susceptance", "imy")):
        return "g b"
    if (first.startswith(("r", "rez")) and second.startswith(("x", "imz"))) and (si_a in ("ohm", "")):
        return "r x"
    return None


def _plain(name: str) -> str:
    head = re.split(r"[(\[]", name)[0]
    return re.sub(r"[^a-z]", "", head.lower())


def _admittance(pair: str, omega: Array, rest: list[Named]) -> tuple[Values, str]:
    (_, ua, a), (_, ub, b) = rest[0], rest[1]
    x = a * (ua.factor if ua else 1.0)
    y = b * (ub.factor if ub else 1.0)
    if pair == "z phase":
        in_radians = ub is not None and ub.text.lower() == "rad"
        angle = y if in_radians or (ub is not None and ub.si == "rad") else b * (np.pi / 180.0)
        return np.exp(-1j * angle) / np.where(x == 0.0, np.inf, x), "|Z| and phase"
    if pair == "cp d":
        return omega * x * (1j + y), "Cp and D"
    if pair == "cp g":
        return y + 1j * omega * x, "Cp and G"
    if pair == "cs d":
        impedance = (y - 1j) / np.where(x == 0.0, np.inf, omega * x)
        return 1.0 / np.where(impedance == 0.0, np.inf, impedance), "Cs and D"
    if pair == "g b":
        return x + 1j * y, "G and B"
    impedance = x + 1j * y
    return 1.0 / np.where(impedance == 0.0, np.inf, impedance), "R and X"


def _response(rest: list[Named], hertz: Array, understood: list[Understood]) -> tuple[Block, list[Understood], list[str]]:
    """A response function from real and imaginary part or magnitude and phase; else magnitudes alone."""
    (a, ua, va) = rest[0]
    notes: list[str] = []
    factor = ua.factor if ua else 1.0
    values: NDArray[Any]
    if len(rest) >= 2 and (_PHASE.search(rest[1][0]) or (rest[1][1] is not None and rest[1][1].si == "rad")):
        ub, vb = rest[1][1], rest[1][2]
        angle = vb * (ub.factor if ub is not None else np.pi / 180.0)
        magnitude = va
        if re.search(r"\bdB\b", a):
            magnitude = 10.0 ** (va / 20.0)
        values, how = magnitude * factor * np.exp(1j * angle), "magnitude and phase"
    elif len(rest) >= 2 and re.search(r"im", rest[1][0], re.IGNORECASE):
        values, how = factor * (va + 1j * rest[1][2]), "real and imaginary part"
    else:
        values, how = va * factor + 0j, "magnitude alone"
        notes.append("There is no phase: half-power damping only.")
    understood.append(Understood("Response function", how, "header" if how != "magnitude alone" else "guessed"))
    channels = (Channel(a, np.asarray(values, dtype=complex), ua.si if ua else "", unit_in_file=ua.text if ua else ""),)
    return Block("response function", channels, uneven=hertz, label=how), understood, notes
