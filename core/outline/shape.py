"""One function from the parts of a drawing to what the project takes: stations, holes, remarks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, Polygon

from core.outline.difference import Difference, difference
from core.outline.doubts import doubts
from core.outline.drawing import OutlineError
from core.outline.ends import narrow_ends, slant_words
from core.outline.frame import Frame, half_area, on_beam, root_slant
from core.outline.gaps import gap_words
from core.outline.holes import cut_out, fits
from core.outline.model_plan import net_curve
from core.outline.rings import Parts
from core.outline.stations import Stations, choose
from core.outline.width import WidthCurve, width_curve
from core.project.structure import CutOut, Outline, Ring

SAVED_WITHIN_M = 3e-6
"""The saved outline leaves the drawing's by no more than this."""
SMALLEST_PART = 1e-4
"""An area below this share of the largest is not offered as the part."""
MOST_HOLES = 300
"""Openings of a part: a perforated plate is no beam of this model."""
MOST_SAVED = 5000
"""Corners of the saved outline; one with more is saved less finely."""
SMALLEST_HOLE = 1e-5
"""Holes below this share of the part's area change nothing."""


@dataclass(frozen=True, eq=False)
class Shape:
    """The part as a beam: widths at stations, cut-outs, the true outline, and what was found."""

    polygon: Polygon
    """Net plan area in beam axes, m."""
    curve: WidthCurve
    """True net width."""
    stations: Stations
    """Of the width without `cut_outs` but less `n_in_width` other holes."""
    cut_outs: tuple[CutOut, ...]
    n_in_width: int
    off: Difference
    """Of the net width the model takes, cut-outs included, from the drawn one."""
    remarks: tuple[str, ...]

    @property
    def span_m(self) -> float:
        return float(self.stations.x_m[-1])

    @property
    def error_share(self) -> float:
        """Largest error of the width over the largest width."""
        return self.off.width_m / self.curve.widest_m

    def outline(self, source: str) -> Outline:
        """The true outline as it is saved."""
        within = SAVED_WITHIN_M
        simple = self.polygon.simplify(within)
        while shapely.get_num_coordinates(simple) > MOST_SAVED:
            within *= 2.0
            simple = self.polygon.simplify(within)
        return Outline(_saved(simple.exterior), tuple(_saved(r) for r in simple.interiors), source)


def possible_parts(parts: Parts) -> tuple[Polygon, ...]:
    """The closed areas that may be the part, the largest first; small ones are left out."""
    areas = sorted((*parts.polygons, *parts.inner), key=_minus_area)
    return tuple(area for area in areas if area.area >= SMALLEST_PART * areas[0].area)


def _minus_area(area: Polygon) -> float:
    return -float(area.area)


def source_area(parts: Parts, index: int, frame: Frame) -> Polygon:
    """The chosen area in drawing axes; of a half that is only a line, the area down to the axis."""
    areas = possible_parts(parts)
    if areas:
        return areas[min(max(index, 0), len(areas) - 1)]
    if frame.mirrored and parts.loose:
        return half_area(parts.loose[0], frame)
    raise OutlineError(open_words(parts))


def open_words(parts: Parts) -> str:
    """Why the layers hold no area, and what to do."""
    if not parts.loose:
        return "The chosen layers hold no closed line. Choose the layer of the outline."
    if not parts.gaps:
        return f"The chosen layers hold {len(parts.loose)} lines and none that closes. Choose only the layer of the outline."
    plural = len(parts.gaps) > 1
    return (
        f"The outline is open: {'gaps' if plural else 'a gap'}, the ends at {gap_words(parts.gaps)}. "
        f"Let ends join over {1e3 * parts.gaps[0].width_m:.3g} mm or more, close {'them' if plural else 'it'} in the "
        "drawing, or, if it is one half, switch the mirror image on."
    )


def make_shape(area: Polygon, frame: Frame, share: float) -> Shape:
    """The beam of an area of the drawing; `share` is the width error allowed over the largest width.

    Round holes and rectangular slots become cut-outs where a centred outline has room for them;
    every other hole counts into the widths. OutlineError in words where no beam can be made.
    """
    polygon = shapely.simplify(on_beam(area, frame), 0.0)
    size = polygon.area
    rings = [r for r in polygon.interiors if Polygon(r).area > SMALLEST_HOLE * size]
    if len(rings) > MOST_HOLES:
        raise OutlineError(
            f"The part has {len(rings)} openings; up to {MOST_HOLES} can be taken. Leave out the layer of the small "
            "ones, or import the outline without them."
        )
    found = [(ring, cut_out(ring)) for ring in rings]
    gross = Polygon(polygon.exterior, [r for r, cut in found if cut is None])
    stations = choose(width_curve(gross), share)
    outside = [r for r, cut in found if cut is not None and not fits(cut, stations.x_m, stations.width_m)]
    if outside:
        gross = Polygon(polygon.exterior, [*gross.interiors, *outside])
        stations = choose(width_curve(gross), share)
        found = [(r, None if r in outside else cut) for r, cut in found]
    kept = tuple(cut for _, cut in found if cut is not None)
    kept = tuple(cut for cut in kept if fits(cut, stations.x_m, stations.width_m))
    curve = width_curve(polygon)
    off = difference(net_curve(stations.x_m, stations.width_m, kept), curve)
    remarks = (*_root(area, frame, curve), *doubts(polygon, curve))
    return Shape(polygon, curve, stations, kept, len(rings) - len(kept), off, remarks)


def _root(area: Polygon, frame: Frame, curve: WidthCurve) -> tuple[str, ...]:
    """What the end where the beam is held looks like, where that needs a word."""
    before = root_slant(area, frame)
    return (slant_words(before),) if before is not None else tuple(narrow_ends(curve))


def _saved(ring: LinearRing) -> Ring:
    points = np.round(np.asarray(ring.coords)[:-1, :2], 8) + 0.0
    return tuple((x, y) for x, y in points.tolist())
