"""Where each view lies: one column on the shared x axis, heights shared out by need.

What is asked for keeps its height longest. As a page gets lower, first the legend goes, then the
strips of modes not asked for become thin, then one line; then every view shrinks towards its floor,
below which the drawing scrolls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QRectF

from app.drawing.axis import XScale

LEFT = 78.0
RIGHT = 46.0
GAP = 5.0
FOOT = 20.0
LEAST_WIDTH = 396.0

# floor, comfortable height and share of what is left over
RULER = (28.0, 30.0, 0.0)
PLAN = (50.0, 92.0, 0.16)
DIMENSIONS = (24.0, 34.0, 0.0)
SIDE = (40.0, 70.0, 0.12)
LEGEND = (18.0, 18.0, 0.0)
ASKED = (40.0, 52.0, 0.2)
OTHER = (26.0, 30.0, 0.08)
THIN = (22.0, 24.0, 0.0)
FOLDED = (17.0, 17.0, 0.0)
CAPTION = (18.0, 22.0, 0.0)
STRIP = (52.0, 112.0, 0.4)
STRAIN_CAPTION = (16.0, 18.0, 0.0)
STRAIN = (36.0, 66.0, 0.12)

Need = tuple[float, float, float]


@dataclass(frozen=True)
class Arrangement:
    """Rectangles in logical pixels, top to bottom, and the x scale they share.

    A view that is folded or switched off has no height; modes that share one line have none each,
    and `folded` is that line.
    """

    scale: XScale
    ruler: QRectF
    plan: QRectF
    dimensions: QRectF
    side: QRectF
    mode_caption: QRectF
    modes: tuple[QRectF, ...]
    folded: QRectF
    strip_caption: QRectF
    strip: QRectF
    strain_caption: QRectF
    strain: QRectF
    height: float

    @property
    def with_strip(self) -> bool:
        return self.strip.height() > 0

    @property
    def strips(self) -> tuple[QRectF, ...]:
        """Everything over x that the band of the patch runs through."""
        return tuple(r for r in (*self.modes, self.strip, self.strain) if r.height() > 0)


@dataclass(frozen=True)
class _Plan:
    """What is shown at one stage of folding, in order: name, need, gap below."""

    rows: tuple[tuple[str, Need, float], ...]
    fixed: float

    def total(self, which: int) -> float:
        return self.fixed + sum(need[which] + gap for _, need, gap in self.rows)


def _plans(asked: Sequence[bool], with_strip: bool, with_strain: bool) -> list[_Plan]:
    """Stages of folding, the roomy one first."""
    plans = []
    for legend, other in ((LEGEND, OTHER), (None, THIN), (None, None)):
        rows: list[tuple[str, Need, float]] = [
            ("ruler", RULER, GAP), ("plan", PLAN, 0.0), ("dimensions", DIMENSIONS, 0.0),
            ("side", SIDE, 0.0 if legend else 3.0),
        ]  # fmt: skip
        if legend:
            rows.append(("legend", legend, 0.0))
        for index, wanted in enumerate(asked):
            if wanted or other is not None:
                rows.append((f"mode {index}", ASKED if wanted or other is None else other, GAP))
        if other is None and not all(asked):
            rows.append(("folded", FOLDED, 1.0))
        if with_strip:
            rows += [("strip caption", CAPTION, 0.0), ("strip", STRIP, 0.0)]
            if with_strain:
                rows += [("strain caption", STRAIN_CAPTION, 0.0), ("strain", STRAIN, 0.0)]
        plans.append(_Plan(tuple(rows), 2.0 + FOOT))
    return plans


@lru_cache(maxsize=8)
def least_height(
    asked: tuple[bool, ...], *, with_strip: bool = True, with_strain: bool = False
) -> float:
    """Height below which the drawing scrolls instead of shrinking."""
    return _plans(asked, with_strip, with_strain)[-1].total(0)


@lru_cache(maxsize=8)  # asked for several times in a frame; nobody moves what it returns
def arrange(
    width: float,
    height: float,
    span_m: float,
    asked: tuple[bool, ...],
    *,
    with_strip: bool = True,
    with_strain: bool = False,
) -> Arrangement:
    """Share out a page of `width` by `height` among the views; `asked` says of each mode whether it is."""
    width = max(width, LEAST_WIDTH)
    plans = _plans(asked, with_strip, with_strain)
    plan = next((p for p in plans if p.total(1) <= height), plans[-1])
    floor, comfortable = plan.total(0), plan.total(1)
    shrink = min(max((height - floor) / max(comfortable - floor, 1e-9), 0.0), 1.0)
    extra = max(height - comfortable, 0.0)
    shares = sum(need[2] for _, need, _ in plan.rows) or 1.0
    left, inner = LEFT, width - LEFT - RIGHT
    made: dict[str, QRectF] = {}
    y = 2.0
    for name, (low, good, share), gap in plan.rows:
        tall = low + shrink * (good - low) + extra * share / shares
        made[name] = QRectF(left, y, inner, tall)
        y += tall + gap
    ruler = made["ruler"]
    made["ruler"] = QRectF(8.0, ruler.top(), width - 16.0, ruler.height())

    def row(name: str) -> QRectF:
        return made.get(name, QRectF(left, y, inner, 0.0))

    return Arrangement(
        scale=XScale(left, left + inner, span_m),
        ruler=made["ruler"],
        plan=made["plan"],
        dimensions=made["dimensions"],
        side=made["side"],
        mode_caption=row("legend"),
        modes=tuple(row(f"mode {index}") for index in range(len(asked))),
        folded=row("folded"),
        strip_caption=row("strip caption"),
        strip=row("strip"),
        strain_caption=row("strain caption"),
        strain=row("strain"),
        height=y + FOOT,
    )
