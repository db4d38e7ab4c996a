"""An outline into a project: one changed project, and what changed in words."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from core import units
from core.outline.shape import Shape
from core.project import edit
from core.project.model import Origin, Project
from core.project.record import Profile, Status
from core.project.structure import KeepOut, Layer, Piece, Structure


def with_outline(
    project: Project,
    shape: Shape,
    source: str,
    zones: tuple[KeepOut, ...] = (),
    status: Status = "data sheet",
) -> Project:
    """The project with the shape's stations, widths, cut-outs and true outline, and `zones` added.

    Thicknesses and piece widths keep their values at their x; past the old tip the last value
    goes on. A datum at the old tip goes to the new one. Everything else stays, and what no longer
    fits is told by the project's problems.
    """
    old = project.structure
    x = _stations(old, shape)
    width = tuple(float(w) for w in np.interp(x, shape.stations.x_m, shape.stations.width_m).round(9))
    structure = edit.with_stations(
        old,
        x,
        width_m=width[0] if len(set(width)) == 1 else width,
        layers=tuple(_layer(layer, old.stations_m, x) for layer in old.layers),
        cut_outs=shape.cut_outs,
        keep_outs=(*old.keep_outs, *zones),
        outline=shape.outline(source),
    )
    origins = {**project.origins, "structure.width_m": Origin(status, f"outline of {source}")}
    return replace(edit.with_structure(project, structure), origins=origins)


def with_zones(project: Project, zones: tuple[KeepOut, ...]) -> Project:
    """The project with these keep-outs added and nothing else changed."""
    return edit.with_structure(project, keep_outs=(*project.structure.keep_outs, *zones))


def _stations(old: Structure, shape: Shape) -> tuple[float, ...]:
    """The shape's stations, and those where a thickness or a piece bends.

    Each of the shape's is kept: without one of the two that make a step the width would go on wrong.
    """
    own = shape.stations.x_m
    x: set[float] = set()
    profiles = [layer.thickness_m for layer in old.layers]
    profiles += [p.width_m for layer in old.layers for p in layer.pieces if p.width_m is not None]
    for profile in profiles:
        if isinstance(profile, tuple) and len(profile) == len(old.stations_m):
            x |= {s for s in _bends(profile, old.stations_m) if s < shape.span_m}
    # Two stations nearer than this mean the same place.
    others = {s for s in x if np.abs(own - s).min() >= 2e-6}
    return tuple(sorted({*own.tolist(), *others}))


def _bends(profile: tuple[float, ...], stations_m: tuple[float, ...]) -> list[float]:
    inner = [
        s
        for i, s in enumerate(stations_m[1:-1], start=1)
        if abs(
            np.interp(s, (stations_m[i - 1], stations_m[i + 1]), (profile[i - 1], profile[i + 1]))
            - profile[i]
        )
        > 1e-9
    ]
    return [*inner, stations_m[-1]] if len(set(profile)) > 1 else inner


def _layer(layer: Layer, old: tuple[float, ...], new: tuple[float, ...]) -> Layer:
    pieces = tuple(_piece(piece, old, new) for piece in layer.pieces)
    return replace(layer, thickness_m=_moved(layer.thickness_m, old, new), pieces=pieces)


def _piece(piece: Piece, old: tuple[float, ...], new: tuple[float, ...]) -> Piece:
    return piece if piece.width_m is None else replace(piece, width_m=_moved(piece.width_m, old, new))


def _moved(profile: Profile, old: tuple[float, ...], new: tuple[float, ...]) -> Profile:
    if not isinstance(profile, tuple) or len(profile) != len(old):
        return profile
    values = tuple(float(v) for v in np.interp(new, old, profile).round(12))
    return values[0] if len(set(values)) == 1 else values


# ---- what changes, in words ------------------------------------------------------------------


def changes(before: Project, after: Project) -> tuple[str, ...]:
    """Sentences on what taking the outline changes, for the preview."""
    old, new = before.structure, after.structure
    added = len(new.keep_outs) - len(old.keep_outs)
    zones = [f"{added} keep-out{'s' if added > 1 else ''} added"] if added else []
    if old.outline is new.outline:
        return tuple(zones)
    said = [
        f"Span {_mm(old.span_m)} \N{RIGHTWARDS ARROW} {_mm(new.span_m)}",
        f"Stations {len(old.stations_m)} \N{RIGHTWARDS ARROW} {len(new.stations_m)}",
        f"Width {_range(old.width_m)} \N{RIGHTWARDS ARROW} {_range(new.width_m)}",
    ]
    if old.cut_outs or new.cut_outs:
        said.append(f"Cut-outs {len(old.cut_outs)} \N{RIGHTWARDS ARROW} {len(new.cut_outs)}")
    said += zones
    for was, now in zip(old.datums, new.datums, strict=True):
        if was != now:
            said.append(f'Datum "{was.name}" moves with the tip to {_mm(now.x_m)}')
    varying = any(isinstance(layer.thickness_m, tuple) for layer in old.layers)
    if varying:
        said.append("Thicknesses stay where they are along x")
    return tuple(said)


def _range(width: Profile) -> str:
    if not isinstance(width, tuple):
        return _mm(width)
    return f"{units.show(min(width), 'mm', 1)} to {_mm(max(width))}"


def _mm(value_m: float) -> str:
    return f"{units.show(value_m, 'mm', 1)} mm"
