"""Problems of the lay-up: thicknesses, pieces side by side, materials they name."""

from __future__ import annotations

from core.project.candidate import Candidate
from core.project.checking import Found, Range, check_profile, mm, number, tell, unique
from core.project.fields import FIELDS
from core.project.material import Material
from core.project.placement.gaps import gaps_m
from core.project.plan import check_points, net_width_at, profile_at
from core.project.structure import Layer, Piece, Structure

THICKNESS = FIELDS["layers.thickness_m"].range
THINNEST_M = 1e-6
"""Least thickness of the whole part."""
_TINY_M = 1e-9


def check_layers(
    found: Found, structure: Structure, materials: tuple[Material, ...], *, outline_fine: bool
) -> bool:
    """Report what is wrong with the layers; True if they form a section everywhere, or there are none.

    Widths are compared with the outline only where that is fine itself. Whether a part without layers is held
    together by its ceramics says `check_baseless`.
    """
    before = len(found)
    unique(found, "structure.layers", "layer", (layer.name for layer in structure.layers))
    names = {m.name for m in materials}
    for i, layer in enumerate(structure.layers):
        _thickness(found, structure, f"structure.layers[{i}]", layer)
        _pieces(found, structure, f"structure.layers[{i}]", layer, names)
    if structure.layers and outline_fine and len(found) == before:
        for i, layer in enumerate(structure.layers):
            _widths(found, structure, f"structure.layers[{i}]", layer)
        _something_everywhere(found, structure)
    return len(found) == before


def check_baseless(found: Found, candidate: Candidate, structure: Structure) -> None:
    """Report where nothing holds a part together that has no lay-up."""
    gaps = gaps_m(structure, candidate.patches)
    if gaps:
        tell(
            found,
            "structure.layers",
            f"The lay-up is empty, and in candidate {candidate.id} no ceramic lies at x = {mm(gaps[0][0])}. Add a layer with its "
            f"thickness and material, or let ceramics cover the span from 0.0 to {mm(structure.span_m)}.",
        )


def _thickness(found: Found, structure: Structure, path: str, layer: Layer) -> None:
    what = f'Thickness of layer "{layer.name}"'
    fine = check_profile(
        found, structure.stations_m, f"{path}.thickness_m", what, layer.thickness_m, THICKNESS
    )
    values = layer.thickness_m if isinstance(layer.thickness_m, tuple) else (layer.thickness_m,)
    if fine and max(values) == 0.0:
        tell(found, f"{path}.thickness_m", f"{what} is 0 mm everywhere. Type its thickness or remove it.")


def _pieces(found: Found, structure: Structure, path: str, layer: Layer, names: set[str]) -> None:
    what = f'Layer "{layer.name}"'
    if not layer.pieces:
        tell(found, f"{path}.pieces", f"{what} has no material. Add a piece or remove the layer.")
    for j, piece in enumerate(layer.pieces):
        here = f"{path}.pieces[{j}]"
        if piece.material not in names:
            tell(
                found,
                f"{here}.material",
                f'{what} names the material "{piece.material}", which the project '
                "does not hold. Choose one of the list or add it.",
            )
        if piece.width_m is not None:
            check_profile(
                found,
                structure.stations_m,
                f"{here}.width_m",
                f'Width of {piece.material} in layer "{layer.name}"',
                piece.width_m,
                FIELDS["pieces.width_m"].range,
            )
        allowed = FIELDS["pieces.count"].range
        if not allowed.holds(piece.count):
            told = f"{what} has {piece.count} strips of {piece.material}; it must be {allowed.words()}."
            tell(found, f"{here}.count", told)
        _range(found, structure, here, what, piece)


def _range(found: Found, structure: Structure, here: str, what: str, piece: Piece) -> None:
    span = structure.span_m
    on = Range("mm", 0.0, span)
    fine = number(found, f"{here}.start_m", f"{what}: start of {piece.material}", piece.start_m, on)
    if piece.end_m is not None:
        fine &= number(found, f"{here}.end_m", f"{what}: end of {piece.material}", piece.end_m, on)
    end = span if piece.end_m is None else piece.end_m
    if fine and end <= piece.start_m:
        tell(
            found,
            f"{here}.end_m",
            f"{what}: {piece.material} ends at {mm(end)}, not beyond its start at {mm(piece.start_m)}. "
            "Swap the two or remove the piece.",
        )


def _present(piece: Piece, span_m: float, x_m: float, before: bool) -> bool:
    """Whether a piece lies just before or just beyond x; pieces that meet end to end never share a place."""
    end = span_m if piece.end_m is None else piece.end_m
    return piece.start_m < x_m <= end if before else piece.start_m <= x_m < end


def _places(structure: Structure) -> list[tuple[float, bool]]:
    """Places to look at as (x, just before it): both sides of every mark on the span."""
    span = structure.span_m
    return [
        (x, before)
        for x in check_points(structure)
        for before in (False, True)
        if (x > 0.0 if before else x < span)
    ]


def _widths(found: Found, structure: Structure, path: str, layer: Layer) -> None:
    """Fixed pieces must fit into the net width, and leave something for the one that takes the rest."""
    worst: tuple[float, float, float, float] | None = None
    for x, before in _places(structure):
        here = [p for p in layer.pieces if _present(p, structure.span_m, x, before)]
        rests = [p for p in here if p.width_m is None]
        fixed = _fixed_width(here, structure, x)
        net = net_width_at(structure, x)
        if len(rests) > 1:
            words = (
                f"{rests[0].material} and {rests[1].material} both take the rest of the width at x = {mm(x)}"
            )
            tell(found, f"{path}.pieces", f'In layer "{layer.name}" {words}. Give one of them a width.')
            return
        if rests and net > 0.0 and fixed > 0.0 and abs(fixed - net) <= _TINY_M:
            words = f"leave no width for {rests[0].material} at x = {mm(x)}"
            tell(found, f"{path}.pieces", f'In layer "{layer.name}" the pieces {words}. Make one narrower.')
            return
        if fixed > net + _TINY_M and (worst is None or fixed - net > worst[0]):
            worst = (fixed - net, x, fixed, net)
    if worst is not None:
        _, x, fixed, net = worst
        words = f"pieces of {mm(fixed)} at x = {mm(x)}, wider than the net width of {mm(net)} there"
        tell(found, f"{path}.pieces", f'Layer "{layer.name}" has {words}. Make one narrower.')


def _fixed_width(pieces: list[Piece], structure: Structure, x_m: float) -> float:
    return sum(
        p.count * profile_at(p.width_m, structure.stations_m, x_m) for p in pieces if p.width_m is not None
    )


def _something_everywhere(found: Found, structure: Structure) -> None:
    stations, span = structure.stations_m, structure.span_m
    for x, before in _places(structure):
        depth = sum(
            profile_at(layer.thickness_m, stations, x)
            for layer in structure.layers
            if any(_present(p, span, x, before) for p in layer.pieces)
        )
        if depth < THINNEST_M:
            tell(
                found,
                "structure.layers",
                f"The part has no thickness at x = {mm(x)}. Give a layer there a thickness of 0.001 mm or more.",
            )
            return
