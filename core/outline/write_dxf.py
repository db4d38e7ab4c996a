"""An outline as a DXF drawing in millimetres: what was taken in can be given back."""

from __future__ import annotations

import math
from pathlib import Path

from core.project.model import Structure
from core.project.plan import Polygon, keep_out_outline, profile_at


def write(structure: Structure, path: Path) -> None:
    """Write the true outline (or the model's), holes and keep-outs, on layers of their own."""
    import ezdxf  # imported here: half a second that only an export should cost

    doc = ezdxf.new("R2010", units=4)
    doc.header["$MEASUREMENT"] = 1
    for name, colour in (("OUTLINE", 7), ("KEEP-OUT TOP", 1), ("KEEP-OUT UNDERSIDE", 3)):
        doc.layers.add(name, color=colour)
    space = doc.modelspace()
    rings = (structure.outline.exterior, *structure.outline.holes) if structure.outline else (_edge(structure),)
    for ring in rings:
        space.add_lwpolyline(_mm(ring), close=True, dxfattribs={"layer": "OUTLINE"})
    if structure.outline is None:
        for cut in structure.cut_outs:
            centre = (1e3 * cut.x_m, 1e3 * cut.y_m)
            if cut.kind == "hole":
                space.add_circle(centre, 500 * cut.diameter_m, dxfattribs={"layer": "OUTLINE"})
            else:
                u, v = 500 * cut.length_m, 500 * cut.width_m
                corners = ((-u, -v), (u, -v), (u, v), (-u, v))
                space.add_lwpolyline(
                    [(centre[0] + a, centre[1] + b) for a, b in corners], close=True,
                    dxfattribs={"layer": "OUTLINE"},
                )  # fmt: skip
    for zone in structure.keep_outs:
        corners = tuple((x, math.copysign(min(abs(y), 1.0), y)) for x, y in keep_out_outline(zone))
        for face in ("TOP", "UNDERSIDE"):
            if zone.face in (face.lower(), "both"):
                space.add_lwpolyline(_mm(corners), close=True, dxfattribs={"layer": f"KEEP-OUT {face}"})
    doc.saveas(path)


def _edge(structure: Structure) -> Polygon:
    x = structure.stations_m
    half = [profile_at(structure.width_m, x, s) / 2 for s in x]
    right = tuple((s, -h) for s, h in zip(x, half, strict=True))
    return (*right, *((s, h) for s, h in reversed(tuple(zip(x, half, strict=True)))))


def _mm(ring: Polygon) -> list[tuple[float, float]]:
    return [(1e3 * x, 1e3 * y) for x, y in ring]
