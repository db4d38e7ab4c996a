"""What is chosen in the import preview, and what comes of it; knows no widget."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from shapely.geometry import Point, Polygon

from core.outline import apply, frame, rings, shape, sheet, zones
from core.outline.drawing import UNITS, OutlineDrawing, OutlineError, in_words, size_of, unit_doubt
from core.outline.frame import Frame
from core.outline.rings import Parts
from core.outline.shape import Shape
from core.predict.remarks.problems import find_problems
from core.project.model import Project
from core.project.record import Face, Status
from core.project.structure import KeepOut

OUTLINE, NOTHING = "outline", "nothing"
HOLE_WORDS = ("hole", "holes", "bore", "bores", "drill", "drilling", "slot", "slots", "cutout", "cutouts")
"""Layers named so belong to the outline."""
FACES: dict[str, Face] = {"keep-out top": "top", "keep-out underside": "underside", "keep-out both": "both"}


@dataclass(frozen=True)
class Choices:
    """Everything a person may set in the preview."""

    unit: str
    roles: tuple[tuple[str, str], ...]
    """(layer, role) of every layer, in the order shown."""
    join_m: float = rings.JOIN_M
    part: int = 0
    frame: Frame | None = None
    mirrored: bool = False
    share: float = 0.005
    zones_only: bool = False
    """Take only the keep-outs; stations and outline stay as they are."""

    def layers(self, role: str) -> frozenset[str]:
        return frozenset(layer for layer, own in self.roles if own == role)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What the choices make: a shape and the changed project, or the reason why not."""

    shape: Shape | None = None
    after: Project | None = None
    zones: tuple[KeepOut, ...] = ()
    error: str = ""
    remarks: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    to_mend: tuple[str, ...] = ()


@dataclass
class ImportState:
    """A drawing with the choices made about it. `outcome()` is made anew after each change."""

    project: Project
    drawing: OutlineDrawing
    choices: Choices = field(init=False)
    _joined: dict[object, Parts | OutlineError] = field(init=False, default_factory=dict)
    _likely: int = field(init=False, default=0)
    """Which of the areas was taken for the part before a person chose."""

    def __post_init__(self) -> None:
        layers = self.drawing.layers
        self.choices = Choices(self.drawing.unit, tuple((info.name, NOTHING) for info in layers))
        roles = tuple((info.name, self._likely_role(info.name, i)) for i, info in enumerate(layers))
        self.choices = replace(self.choices, roles=roles)
        self._start_part()

    def _likely_role(self, layer: str, place: int) -> str:
        """A layer named like a keep-out is one; of the others the largest that closes an area."""
        low = layer.lower().replace("_", " ").replace("-", " ")
        if any(word in low for word in ("keep out", "keepout", "keep clear", "no go")):
            below = any(word in low for word in ("under", "bottom", "lower", "back"))
            return "keep-out underside" if below else "keep-out both" if "both" in low else "keep-out top"
        if layer == self._likely_outline() or any(word in low.split() for word in HOLE_WORDS):
            return OUTLINE
        return NOTHING

    def _likely_outline(self) -> str:
        names = [info.name for info in self.drawing.layers]
        named = [n for n in names if any(w in n.lower() for w in ("outline", "contour", "profile", "edge"))]
        for name in (*named, *names):
            parts = self._join(frozenset({name}))
            if isinstance(parts, Parts) and parts.polygons:
                return name
        return (named or names)[0]

    # -- changes ---------------------------------------------------------------------------------

    def set_unit(self, unit: str) -> None:
        """Read the numbers of the file in another unit; the axis stays where it is on the drawing."""
        ratio = UNITS[unit][0] / UNITS[self.choices.unit][0]
        self.choices = replace(self.choices, unit=unit, frame=_scaled(self.choices.frame, ratio))

    def set_role(self, layer: str, role: str) -> None:
        """What a layer is; another outline gets an axis of its own."""
        roles = tuple((name, role if name == layer else own) for name, own in self.choices.roles)
        outline_before = self.choices.layers(OUTLINE)
        self.choices = replace(self.choices, roles=roles)
        if self.choices.layers(OUTLINE) != outline_before:
            self._start_part()

    def set_join(self, join_m: float) -> None:
        had = self.areas
        self.choices = replace(self.choices, join_m=join_m)
        if len(self.areas) != len(had):
            self._start_part()

    def set_part(self, part: int) -> None:
        self.choices = replace(self.choices, part=part)
        self._start_frame()

    def set_mirrored(self, mirrored: bool) -> None:
        self.choices = replace(self.choices, mirrored=mirrored)
        self._start_frame()

    def set_share(self, share: float) -> None:
        self.choices = replace(self.choices, share=share)

    def set_zones_only(self, only: bool) -> None:
        self.choices = replace(self.choices, zones_only=only)

    def set_frame(self, moved: Frame) -> None:
        self.choices = replace(self.choices, frame=moved)

    def keep_beam(self, earlier: Choices, ratio: float) -> None:
        """Take over what was set about the beam on an earlier tracing, at `ratio` times its scale."""
        self.choices = replace(
            self.choices,
            share=earlier.share,
            mirrored=earlier.mirrored,
            frame=_scaled(earlier.frame, ratio) or self.choices.frame,
        )

    def _start_part(self) -> None:
        """The likely part and its axis; looked for where the outline is another one, not in every frame of a drag."""
        parts = self._join(self.choices.layers(OUTLINE))
        self._likely = sheet.likely_part(parts) if isinstance(parts, Parts) else 0
        self.choices = replace(self.choices, part=self._likely)
        self._start_frame()

    def _start_frame(self) -> None:
        self.choices = replace(self.choices, frame=self._suggested())

    def _suggested(self) -> Frame | None:
        parts = self._join(self.choices.layers(OUTLINE))
        if not isinstance(parts, Parts):
            return None
        if self.drawing.axis is not None:
            return frame.Frame(*self.drawing.axis, mirrored=self.choices.mirrored).scaled(
                UNITS[self.choices.unit][0]
            )
        if parts.polygons:
            area = self.areas[min(self.choices.part, len(self.areas) - 1)]
            return frame.suggest_mirrored(area) if self.choices.mirrored else frame.suggest(area)
        if parts.loose:
            made = frame.suggest_half(parts.loose[0])
            return replace(made, mirrored=self.choices.mirrored)
        return None

    # -- what comes of it --------------------------------------------------------------------------

    def _join(self, layers: frozenset[str]) -> Parts | OutlineError:
        key = (layers, self.choices.unit, self.choices.join_m)
        if key not in self._joined:
            if len(self._joined) > 40:
                self._joined.clear()
            try:
                self._joined[key] = rings.join(self.drawing, layers, self.choices.unit, self.choices.join_m)
            except OutlineError as error:
                self._joined[key] = error
        return self._joined[key]

    @property
    def areas(self) -> tuple[Polygon, ...]:
        """The closed areas that could be the part, drawing axes, m."""
        parts = self._join(self.choices.layers(OUTLINE))
        return shape.possible_parts(parts) if isinstance(parts, Parts) else ()

    @property
    def extent(self) -> float:
        """Size of the outline layers in the file's unit."""
        layers = self.choices.layers(OUTLINE)
        chosen = [t for t in self.drawing.traces if t.layer in layers] or list(self.drawing.traces)
        return max(size_of(chosen))

    def area_at(self, x: float, y: float) -> int | None:
        """The smallest closed area that holds this point of the drawing, m."""
        inside = [(area.area, i) for i, area in enumerate(self.areas) if area.contains(Point(x, y))]
        return min(inside)[1] if inside else None

    def unit_note(self) -> str:
        """Where the unit is from, and a doubt about it."""
        doubt = unit_doubt(self.choices.unit, self.extent)
        if doubt:
            return doubt
        if self.choices.unit != self.drawing.unit:
            return "Your choice."
        if self.drawing.unit_from == "file":
            return "Written in the file."
        return "Guessed from the size: the file does not say. Check it."

    def zones(self, span_m: float) -> tuple[KeepOut, ...]:
        """Keep-outs of the layers chosen as such."""
        made: list[KeepOut] = []
        taken = {zone.name for zone in self.project.structure.keep_outs}
        for layer, role in self.choices.roles:
            parts = self._join(frozenset({layer})) if role in FACES else None
            if isinstance(parts, Parts) and self.choices.frame is not None:
                new = zones.keep_outs(parts, self._frame(), layer, FACES[role], span_m, frozenset(taken))
                made += new
                taken |= {zone.name for zone in new}
        return tuple(made)

    def _frame(self) -> Frame:
        if self.choices.frame is None:
            raise OutlineError("The chosen layers hold no line. Choose the layer of the outline.")
        return replace(self.choices.frame, mirrored=self.choices.mirrored)

    def outcome(self) -> Outcome:
        """The shape and the project the choices make, or the reason in words why there is none."""
        parts = self._join(self.choices.layers(OUTLINE))
        try:
            if not self.choices.layers(OUTLINE):
                raise OutlineError("No layer is chosen as the outline. Choose one in the list.")
            if not isinstance(parts, Parts):
                raise parts
            laid = self._frame()
            with in_words(self.drawing.name):
                area = shape.source_area(parts, self.choices.part, laid)
                made = shape.make_shape(area, laid, self.choices.share)
        except OutlineError as error:
            return Outcome(error=str(error))
        found = self.zones(made.span_m)
        status: Status = "measured" if self.drawing.kind == "picture" else "data sheet"
        if self.choices.zones_only and not found:
            return Outcome(error="No layer is chosen as a keep-out. Choose one in the list.")
        after = (
            apply.with_zones(self.project, found)
            if self.choices.zones_only
            else apply.with_outline(self.project, made, self.drawing.name, found, status)
        )
        return Outcome(
            made,
            after,
            found,
            remarks=(*self.drawing.remarks, *parts.remarks, *self._within_sheet(), *self._left_out(area), *made.remarks),
            changes=apply.changes(self.project, after),
            to_mend=self._to_mend(after),
        )

    def _within_sheet(self) -> tuple[str, ...]:
        part = self.choices.part
        if part == 0 or part != self._likely:
            return ()
        return ("The rectangle around the part is taken for the frame of the sheet. Click another closed line if that is the part.",)

    def _left_out(self, area: Polygon) -> tuple[str, ...]:
        """A sentence on layers that are left out and hold closed lines within the part."""
        found = []
        solid = Polygon(area.exterior)
        for layer, role in self.choices.roles:
            parts = self._join(frozenset({layer})) if role == NOTHING else None
            if isinstance(parts, Parts):
                inside = sum(solid.contains(polygon) for polygon in parts.polygons)
                found += [f'"{layer}" ({inside})'] if inside else []
        if not found:
            return ()
        return (
            f"Layers that are left out hold closed lines within the part: {', '.join(found)}. Choose them as outline "
            "if they are holes, as keep-out if nothing may be bonded there.",
        )

    def _to_mend(self, after: Project) -> tuple[str, ...]:
        known = {problem.message for problem in find_problems(self.project)}
        new = [p.message for p in find_problems(after) if p.message not in known]
        return tuple(dict.fromkeys(new))  # candidates often share a patch, and its problem


def _scaled(old: Frame | None, ratio: float) -> Frame | None:
    return None if old is None else old.scaled(ratio)
