"""Features along the span that an end being dragged takes hold of."""

from __future__ import annotations

from dataclasses import dataclass

from app.drawing.patch_view import zone_ends
from core.project.structure import Structure

REACH_PX = 6.0


@dataclass(frozen=True)
class Feature:
    """A place to snap to, with what it is in words."""

    x_m: float
    name: str


@dataclass(frozen=True)
class Snapper:
    """Features within reach; with none it leaves everything where it is."""

    features: tuple[Feature, ...]
    reach_m: float

    def shift(self, *ends_m: float) -> tuple[float, Feature | None]:
        """How far to move so that one of `ends_m` lies on the nearest feature, and on which."""
        best: tuple[float, Feature | None] = (0.0, None)
        closest = self.reach_m
        for feature in self.features:
            for end in ends_m:
                gap = feature.x_m - end
                if abs(gap) <= closest:
                    closest, best = abs(gap), (gap, feature)
        return best


FREE = Snapper((), 0.0)


def snapper(
    structure: Structure, faces: tuple[str, ...], m_per_px: float, skip_zone: int | None = None
) -> Snapper:
    """Datum features, ends of keep-outs on any of `faces` (but not number `skip_zone`), ends of the span."""
    features = [Feature(0.0, "root"), Feature(structure.span_m, "tip")]
    features += [Feature(datum.x_m, datum.name) for datum in structure.datums]
    for index, zone in enumerate(structure.keep_outs):
        if index != skip_zone and (zone.face == "both" or zone.face in faces):
            low, high = zone_ends(zone)
            features += [Feature(low, f"edge of {zone.name}"), Feature(high, f"edge of {zone.name}")]
    return Snapper(tuple(features), REACH_PX * m_per_px)
