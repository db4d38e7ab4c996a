"""The lay-up as tables of stations and pieces, and back; pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from app.fields import Column, column_for
from core.project import edit
from core.project.record import Profile
from core.project.structure import Layer, Piece, Structure

replace = msgspec.structs.replace


def station_columns(structure: Structure) -> list[Column]:
    """Columns of the station table: x, width, and the thickness of each layer from the underside up."""
    layers = [
        column_for("layers.thickness_m", f"{number + 1} {layer.name}", f"t{number}")
        for number, layer in enumerate(structure.layers)
    ]
    return [
        column_for("structure.stations_m", "From root", "x"), column_for("structure.width_m", "Width", "w"), *layers
    ]


def station_rows(structure: Structure) -> list[dict[str, Any]]:
    """One row per station."""
    count = len(structure.stations_m)
    columns = {"x": structure.stations_m, "w": _spread(structure.width_m, count)}
    for number, layer in enumerate(structure.layers):
        columns[f"t{number}"] = _spread(layer.thickness_m, count)
    return [{key: values[row] for key, values in columns.items()} for row in range(count)]


def with_station_rows(structure: Structure, rows: Sequence[dict[str, Any]]) -> Structure:
    """The structure with the stations of the table; a column of equal values becomes one value.

    Piece widths given per station are carried over to the new stations along x.
    """
    stations = tuple(row["x"] for row in rows)
    layers = tuple(
        replace(
            layer,
            thickness_m=_gathered([row[f"t{number}"] for row in rows]),
            pieces=tuple(_on_stations(piece, structure.stations_m, stations) for piece in layer.pieces),
        )
        for number, layer in enumerate(structure.layers)
    )
    width = _gathered([row["w"] for row in rows])
    return edit.with_stations(structure, stations, width_m=width, layers=layers)


def piece_columns(materials: Sequence[tuple[str, str]]) -> list[Column]:
    """Columns of the table of one layer's pieces; `materials` are (name, text) to choose from."""
    names = tuple(materials)
    return [
        Column("material", "Material", "choice", choices=names, default=names[0][0] if names else ""),
        column_for("pieces.width_m", "Width of each", kind="list", optional=True, hint="the rest"),
        column_for("pieces.count", "How many", default=1.0),
        column_for("pieces.start_m", "From", default=0.0),
        column_for("pieces.end_m", "To", optional=True, hint="tip"),
    ]


def piece_rows(layer: Layer) -> list[dict[str, Any]]:
    """One row per piece."""
    return [{**msgspec.structs.asdict(piece), "count": float(piece.count)} for piece in layer.pieces]


def with_piece_rows(layer: Layer, rows: Sequence[dict[str, Any]]) -> Layer:
    """The layer with the pieces of the table."""
    return replace(layer, pieces=tuple(Piece(**{**row, "count": round(row["count"])}) for row in rows))


def layer_text(layer: Layer) -> str:
    """"core: ash" or "base: UHMW-PE + 2 x steel"."""
    pieces = [f"{piece.count} x {piece.material}" if piece.count > 1 else piece.material
              for piece in layer.pieces]
    return f"{layer.name}: {' + '.join(pieces) or 'no material'}"


def with_layer_added(structure: Structure, at: int, material: str) -> Structure:
    """A new full-width layer of 1 mm put in at that place from below."""
    used = {layer.name for layer in structure.layers}
    number = len(used) + 1
    while f"layer {number}" in used:
        number += 1
    new = Layer(f"layer {number}", 1e-3, (Piece(material),))
    return replace(structure, layers=(*structure.layers[:at], new, *structure.layers[at:]))


def with_layer_removed(structure: Structure, at: int) -> Structure:
    """The layer taken away."""
    return replace(structure, layers=structure.layers[:at] + structure.layers[at + 1 :])


def with_layer_moved(structure: Structure, at: int, to: int) -> Structure:
    """The layer put at another place from below."""
    layers = list(structure.layers)
    layers.insert(to, layers.pop(at))
    return replace(structure, layers=tuple(layers))


def with_layer(structure: Structure, at: int, layer: Layer) -> Structure:
    """The layer replaced."""
    return replace(structure, layers=(*structure.layers[:at], layer, *structure.layers[at + 1 :]))


def _spread(profile: Profile, count: int) -> tuple[float, ...]:
    if isinstance(profile, int | float):
        return (float(profile),) * count
    return tuple(profile[min(row, len(profile) - 1)] for row in range(count))


def _gathered(values: Sequence[float]) -> Profile:
    return values[0] if len(set(values)) == 1 else tuple(values)


def _on_stations(piece: Piece, old: tuple[float, ...], new: tuple[float, ...]) -> Piece:
    width = piece.width_m
    if width is None or isinstance(width, int | float) or len(width) != len(old) or old == new:
        return piece
    if len(old) == len(new):
        return piece  # stations moved, none added: the widths go with their stations
    return replace(piece, width_m=tuple(float(value) for value in np.interp(new, old, width)))
