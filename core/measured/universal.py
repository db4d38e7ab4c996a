"""Universal File Format: functions at nodes (dataset 58, ASCII or binary) with the units of dataset 164.

Numbers in the file over the factors of dataset 164, raised to the exponents of the quantity, are SI
(definition of dataset 164: "to convert from universal file units to SI divide by the factor").
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from core.measured.record import Array, Block, Channel, Kind, MeasuredError, Recording, Understood, with_roles
from core.project import ceilings
from core.project.measurement import ChannelRole as Role
from core.project.measurement import Told

KINDS: dict[int, Kind] = {1: "time", 4: "response function", 6: "coherence"}
"""Function types of dataset 58 that are read."""
_QUANTITIES = {3: ("strain", (0, 0)), 8: ("m", (1, 0)), 9: ("N", (0, 1)), 11: ("m/s", (1, 0)), 12: ("m/s2", (1, 0)), 13: ("N", (0, 1)), 15: ("Pa", (-2, 1))}
"""Data types of dataset 58 to SI unit and the exponents of length and force that go with them."""
_DIRECTIONS = {1: "+X", -1: "-X", 2: "+Y", -2: "-Y", 3: "+Z", -3: "-Z"}


def read(path: Path, told: Told) -> Recording:
    """Every time record, response function and coherence in the file."""
    import pyuff  # needed only here

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            file = pyuff.UFF(str(path))
            types = [int(t) for t in np.atleast_1d(file.get_set_types())] if file.get_n_sets() else []
            wanted = [n for n, kind in enumerate(types) if kind in (58, 164)]
            sets: list[dict[str, Any]] = [file.read_sets(n) for n in wanted]
        except Exception as error:  # a damaged file breaks the library anywhere
            raise MeasuredError(f"{path.name} is no universal file, or a damaged one. Export dataset 58 again, as ASCII.") from error
    functions = [s for s in sets if s.get("type") == 58]
    if not functions:
        held = ", ".join(str(t) for t in sorted(set(types))) or "none"
        raise MeasuredError(f"{path.name} has no functions at nodes (dataset 58); its datasets: {held}. Export the measured functions.")
    units = next((s for s in sets if s.get("type") == 164), None)
    understood = [_units_told(units)]
    remarks = ["A universal file does not record an exponential window: state it if one was used."]
    blocks: dict[tuple[Any, ...], list[Channel]] = {}
    axes: dict[tuple[Any, ...], tuple[float, float, Array | None]] = {}
    left = 0
    for function in functions:
        kind = KINDS.get(int(function.get("func_type", 0)))
        data = np.atleast_1d(np.asarray(function.get("data", ())))
        x = np.atleast_1d(np.asarray(function.get("x", ()), dtype=float))
        n = min(len(data), len(x), int(function.get("num_pts", len(data)) or len(data)))
        if kind is None or n < 4:
            left += 1
            continue
        if sum(c.values.size for channels in blocks.values() for c in channels) + n > ceilings.MOST_SAMPLES:
            raise MeasuredError(f"{path.name} holds more than {ceilings.MOST_SAMPLES / 1e6:.0f} million samples. Export fewer functions a file.")
        data, x = data[:n], x[:n]
        if not (np.isfinite(x).all() and np.isfinite(data).all()) or not np.all(np.diff(x) > 0.0):
            left += 1
            continue
        even = int(function.get("abscissa_spacing", 1)) == 1
        start, step = float(x[0]), float(x[-1] - x[0]) / (n - 1)
        key = (kind, n, start, step)
        axes[key] = (start, step, None if even else x)
        channel = _channel(function, kind, data, units)
        blocks.setdefault(key, []).append(channel)
        understood.append(Understood(f"Function {len(understood)}", f"{kind}: {channel.name}, {channel.unit or 'no unit'}", "header"))
    if left:
        remarks.append(f"{left} functions of other kinds, too short or damaged, were left out.")
    if not blocks:
        raise MeasuredError(f"{path.name} holds functions, but no time record, response function or coherence of four points or more.")
    made = tuple(
        Block(key[0], tuple(channels), axes[key][0], axes[key][1], axes[key][2]) for key, channels in blocks.items()
    )
    if told.roles:
        made = tuple(with_roles(b, told.roles) if b.kind == "time" else b for b in made)
    return Recording(path.name, "", "universal", made, tuple(understood), tuple(remarks))


def _units_told(units: Mapping[str, Any] | None) -> Understood:
    if units is None:
        return Understood("Units", "no dataset 164: taken as SI", "guessed")
    return Understood("Units", f"dataset 164, {str(units.get('units_description', '')).strip() or 'code ' + str(units.get('units_code'))}", "file")


def _channel(function: Mapping[str, Any], kind: Kind, data: Any, units: Mapping[str, Any] | None) -> Channel:
    node, direction = int(function.get("rsp_node", 0) or 0), int(function.get("rsp_dir", 0) or 0)
    name = f"node {node} {_DIRECTIONS.get(direction, '')}".strip()
    own = str(function.get("id1", "")).strip()
    if own and own.upper() != "NONE":
        name = f"{own[:40]} ({name})"
    numerator = _quantity(function, "ordinate", units)
    if kind == "coherence":
        return Channel(name, np.real(np.asarray(data)).astype(float))
    if kind == "response function":
        denominator = _quantity(function, "orddenom", units)
        unit = f"{numerator[0]}/{denominator[0]}" if numerator[0] and denominator[0] else ""
        unit = {"m/N": "m/N", "m/s/N": "m/(N s)", "m/s2/N": "m/(s2 N)"}.get(unit, unit)
        return Channel(name, np.asarray(data, dtype=complex) * (numerator[1] / denominator[1]), unit)
    role: Role = "force" if numerator[0] == "N" else "response"
    values = np.real(np.asarray(data)).astype(float) * numerator[1]
    return Channel(name, values, numerator[0], role if values.any() else "left out", str(function.get("ordinate_axis_units_lab", "") or "").strip())


def _quantity(function: Mapping[str, Any], which: str, units: Mapping[str, Any] | None) -> tuple[str, float]:
    """SI unit of a data type and the factor that brings its numbers there."""
    code = int(function.get(f"{which}_spec_data_type", 0) or 0)
    si, (length, force) = _QUANTITIES.get(code, ("", (0, 0)))
    given = [int(function.get(f"{which}_{k}_unit_exp", 0) or 0) for k in ("len", "force")]
    if any(given):
        length, force = given
    if units is None:
        return si, 1.0
    lengths, forces = float(units.get("length", 1.0) or 1.0), float(units.get("force", 1.0) or 1.0)
    factor = lengths ** -max(min(length, 4), -4) * forces ** -max(min(force, 4), -4)
    return si, factor if np.isfinite(factor) and factor > 0.0 else 1.0
