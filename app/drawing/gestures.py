"""Gestures of the hand: each is an object that starts, moves, and commits or cancels.

A gesture remembers the project it started from and always edits that one, so the preview
depends on where the hand is and not on how it got there. Moving only previews; committing
pushes one undo step; cancelling brings the start back.

A patch follows the hand past an end or over a keep-out (that is shown, not prevented), but at
least half of it stays on the span, so that it cannot be lost off the page.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

from msgspec.structs import replace

from app.drawing import edits
from app.drawing.patch_view import zone_ends
from app.drawing.snapping import FREE, Feature, Snapper
from app.shell.session import Session
from core.project.absorber_edits import find_absorber, with_absorber
from core.project.candidate import Absorber
from core.project.model import Project
from core.project.patch import Patch
from core.project.record import Face
from core.project.structure import KeepOut

SHORTEST_M = 1e-3


@dataclass(frozen=True)
class Hand:
    """Where the hand is: x and y in metres, what it may snap to, and the step it is rounded to."""

    x_m: float
    y_m: float = 0.0
    snap: Snapper = FREE
    step_m: float = 1e-4
    across: bool = False
    """Whether a patch follows across the span too."""


def rounded(value_m: float, step_m: float) -> float:
    """`value_m` to the nearest step, clean of binary dust."""
    return round(round(value_m / step_m) * step_m, 9)


class Gesture(ABC):
    """Base: previews what `edited` returns."""

    title = "Edit"

    def __init__(self, session: Session, start: Hand) -> None:
        self.session = session
        self.project = session.project
        self.start = start
        self.snapped: Feature | None = None

    @abstractmethod
    def edited(self, hand: Hand) -> Project:
        """The project with the hand there."""

    def move(self, hand: Hand) -> None:
        self.session.preview(self.edited(hand))

    def commit(self) -> None:
        self.session.commit_preview(self.title)

    def cancel(self) -> None:
        self.session.cancel_preview()


def kept_on_span(x_start_m: float, length_m: float, span_m: float) -> float:
    """Start of a patch with at least half of it on the span."""
    return min(max(x_start_m, -0.5 * length_m), span_m - 0.5 * length_m)


class PatchGesture(Gesture):
    """A gesture on one patch."""

    def __init__(self, session: Session, start: Hand, patch_id: str) -> None:
        super().__init__(session, start)
        patch = edits.find_patch(self.project, patch_id)
        if patch is None:
            raise KeyError(patch_id)
        self.patch: Patch = patch
        self.margin_m = self.project.package(patch.package).margin_m


class MovePatch(PatchGesture):
    """Drag the body along x; either package end snaps. With `across` it follows across as well, and
    catches on the centreline."""

    def __init__(self, session: Session, start: Hand, patch_id: str) -> None:
        super().__init__(session, start, patch_id)
        self.title = f"Move patch {patch_id}"

    def edited(self, hand: Hand) -> Project:
        patch = self.patch
        wanted = rounded(patch.x_start_m + hand.x_m - self.start.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(wanted - self.margin_m, wanted + patch.length_m + self.margin_m)
        x_start = kept_on_span(round(wanted + shift, 9), patch.length_m, self.project.structure.span_m)
        moved = replace(patch, x_start_m=x_start, y_m=self._across(hand))
        return edits.put_patch(self.project, moved)

    def _across(self, hand: Hand) -> float:
        if not hand.across:
            return self.patch.y_m
        y = rounded(self.patch.y_m + hand.y_m - self.start.y_m, hand.step_m)
        return 0.0 if abs(y) <= hand.snap.reach_m else y


class ResizePatch(PatchGesture):
    """Drag one end of the ceramic; the other end stays."""

    def __init__(self, session: Session, start: Hand, patch_id: str, *, root_side: bool) -> None:
        super().__init__(session, start, patch_id)
        self.root_side = root_side
        self.title = f"Resize patch {patch_id}"

    def edited(self, hand: Hand) -> Project:
        patch = self.patch
        outward = -self.margin_m if self.root_side else self.margin_m
        old = patch.x_start_m if self.root_side else patch.x_end_m
        wanted = rounded(old + hand.x_m - self.start.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(wanted + outward)
        end = round(wanted + shift, 9)
        if self.root_side:
            start = min(end, patch.x_end_m - SHORTEST_M)
            changed = replace(patch, x_start_m=start, length_m=round(patch.x_end_m - start, 9))
        else:
            changed = replace(patch, length_m=round(max(end - patch.x_start_m, SHORTEST_M), 9))
        return edits.put_patch(self.project, changed)


class AbsorberGesture(Gesture):
    """A gesture that moves a tuned mass along x, on the span."""

    def __init__(self, session: Session, start: Hand, absorber_id: str) -> None:
        super().__init__(session, start)
        absorber = find_absorber(self.project.candidate(), absorber_id)
        if absorber is None:
            raise KeyError(absorber_id)
        self.absorber: Absorber = absorber
        self.title = f"Move tuned mass {absorber_id}"

    def moved_to(self, x_m: float) -> Project:
        """The project with it there, as near as the span allows."""
        x_m = min(max(round(x_m, 9), 0.0), self.project.structure.span_m)
        return with_absorber(self.project, self.project.active, replace(self.absorber, x_m=x_m))


class MoveAbsorber(AbsorberGesture):
    """Drag it along x; it snaps."""

    def edited(self, hand: Hand) -> Project:
        wanted = rounded(self.absorber.x_m + hand.x_m - self.start.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(wanted)
        return self.moved_to(wanted + shift)


class DrawKeepOut(Gesture):
    """Pull up a new keep-out: a box within the outline stays a box, one across both edges (or drawn
    flat, or in the side view) takes the full width."""

    title = "Draw keep-out"

    def __init__(self, session: Session, start: Hand, face: Face, half_width_m: float | None) -> None:
        super().__init__(session, start)
        self.face = face
        self.half_width_m = half_width_m
        taken = {zone.name for zone in self.project.structure.keep_outs}
        self.name = edits.free_name("keep clear", taken)

    def edited(self, hand: Hand) -> Project:
        span = self.project.structure.span_m
        anchor = rounded(self.start.x_m, hand.step_m)
        moved = rounded(hand.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(moved)
        low, high = sorted(min(max(x, 0.0), span) for x in (anchor, round(moved + shift, 9)))
        if high - low < SHORTEST_M:
            return self.project
        zone = KeepOut(self.name, self.face, low, high, self._polygon(hand, low, high))
        return edits.add_keep_out(self.project, zone)

    def _polygon(self, hand: Hand, low: float, high: float) -> tuple[tuple[float, float], ...] | None:
        if self.half_width_m is None:
            return None
        bottom, top = sorted((rounded(self.start.y_m, 1e-4), rounded(hand.y_m, 1e-4)))
        flat = top - bottom < 0.12 * self.half_width_m
        across = bottom <= -0.97 * self.half_width_m and top >= 0.97 * self.half_width_m
        if flat or across:
            return None
        return ((low, bottom), (high, bottom), (high, top), (low, top))


class KeepOutGesture(Gesture):
    """A gesture on one keep-out, by its number."""

    def __init__(self, session: Session, start: Hand, index: int) -> None:
        super().__init__(session, start)
        self.index = index
        self.zone = self.project.structure.keep_outs[index]
        self.ends = zone_ends(self.zone)


class MoveKeepOut(KeepOutGesture):
    """Drag a keep-out along x, whole within the span."""

    def __init__(self, session: Session, start: Hand, index: int) -> None:
        super().__init__(session, start, index)
        self.title = f"Move {self.zone.name}"

    def edited(self, hand: Hand) -> Project:
        low, high = self.ends
        wanted = rounded(low + hand.x_m - self.start.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(wanted, wanted + high - low)
        room = self.project.structure.span_m - (high - low)
        start = round(min(max(wanted + shift, 0.0), max(room, 0.0)), 9)
        zone = edits.stretched_zone(self.zone, start, round(start + high - low, 9))
        return edits.put_keep_out(self.project, self.index, zone)


class ResizeKeepOut(KeepOutGesture):
    """Drag one end of a keep-out."""

    def __init__(self, session: Session, start: Hand, index: int, *, root_side: bool) -> None:
        super().__init__(session, start, index)
        self.root_side = root_side
        self.title = f"Resize {self.zone.name}"

    def edited(self, hand: Hand) -> Project:
        low, high = self.ends
        old = low if self.root_side else high
        wanted = rounded(old + hand.x_m - self.start.x_m, hand.step_m)
        shift, self.snapped = hand.snap.shift(wanted)
        end = min(max(round(wanted + shift, 9), 0.0), self.project.structure.span_m)
        if self.root_side:
            low = min(end, high - SHORTEST_M)
        else:
            high = max(end, low + SHORTEST_M)
        zone = edits.stretched_zone(self.zone, low, high)
        return edits.put_keep_out(self.project, self.index, zone)


class NudgeAbsorber(AbsorberGesture):
    """Arrow keys on a tuned mass: one undo step, as on a patch."""

    def __init__(self, session: Session, absorber_id: str) -> None:
        super().__init__(session, Hand(0.0), absorber_id)
        self._by_m = 0.0

    def step(self, by_m: float, _across_m: float = 0.0) -> None:
        """Move on by `by_m` along the span."""
        self._by_m = round(self._by_m + by_m, 9)
        self.move(Hand(self._by_m))

    def edited(self, hand: Hand) -> Project:
        return self.moved_to(self.absorber.x_m + hand.x_m)


class Nudge(PatchGesture):
    """Arrow keys: however often a key repeats until it is let go, one undo step."""

    def __init__(self, session: Session, patch_id: str) -> None:
        super().__init__(session, Hand(0.0), patch_id)
        self.title = f"Move patch {patch_id}"
        self._by_m = self._across_m = 0.0

    def step(self, by_m: float, across_m: float = 0.0) -> None:
        """Move on by `by_m` along the span and `across_m` across it."""
        self._by_m = round(self._by_m + by_m, 9)
        self._across_m = round(self._across_m + across_m, 9)
        self.move(Hand(self._by_m, self._across_m))

    def edited(self, hand: Hand) -> Project:
        patch = self.patch
        x_start = kept_on_span(
            round(patch.x_start_m + hand.x_m, 9), patch.length_m, self.project.structure.span_m
        )
        y = round(patch.y_m + hand.y_m, 9)
        return edits.put_patch(self.project, replace(patch, x_start_m=x_start, y_m=y))
