"""Where each view lies: one column on the shared x axis, heights shared out by need."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF

from app.drawing.axis import XScale

LEFT = 78.0
RIGHT = 46.0
RULER = 30.0
DIMENSIONS = 34.0
CAPTION = 22.0
FOOT = 20.0
GAP = 5.0
LEAST_MODE = 42.0
LEAST_STRIP = 118.0
LEAST_PLAN = 84.0
LEAST_SIDE = 62.0
LEAST_WIDTH = 420.0


@dataclass(frozen=True)
class Arrangement:
    """Rectangles in logical pixels, top to bottom, and the x scale they share."""

    scale: XScale
    ruler: QRectF
    plan: QRectF
    dimensions: QRectF
    side: QRectF
    mode_caption: QRectF
    modes: tuple[QRectF, ...]
    strip_caption: QRectF
    strip: QRectF
    """No height when the strip is switched off."""
    height: float

    @property
    def with_strip(self) -> bool:
        return self.strip.height() > 0


def least_height(n_modes: int, *, with_strip: bool = True) -> float:
    """Height below which the drawing scrolls instead of shrinking."""
    fixed = RULER + LEAST_PLAN + DIMENSIONS + LEAST_SIDE + CAPTION + FOOT + 2 * GAP
    strip = CAPTION + LEAST_STRIP if with_strip else 0.0
    return fixed + n_modes * (LEAST_MODE + GAP) + strip


def arrange(
    width: float, height: float, span_m: float, n_modes: int, *, with_strip: bool = True
) -> Arrangement:
    """Share out a page of `width` by `height`; extra height goes to plan, side, strips in proportion."""
    width = max(width, LEAST_WIDTH)
    extra = max(height - least_height(n_modes, with_strip=with_strip), 0.0)
    plan_h = LEAST_PLAN + min(0.14 * extra, 110.0)
    side_h = LEAST_SIDE + min(0.12 * extra, 70.0)
    rest = extra - (plan_h - LEAST_PLAN) - (side_h - LEAST_SIDE)
    strip_share = 2.4 if with_strip else 0.0
    mode_h = LEAST_MODE + rest / max(n_modes + strip_share, 1.0)
    strip_h = LEAST_STRIP + strip_share * rest / (n_modes + strip_share) if with_strip else 0.0
    left, inner = LEFT, width - LEFT - RIGHT

    def band(top: float, tall: float) -> QRectF:
        return QRectF(left, top, inner, tall)

    y = 2.0
    ruler = QRectF(8.0, y, width - 16.0, RULER)
    y += RULER + GAP
    plan = band(y, plan_h)
    y += plan_h
    dimensions = band(y, DIMENSIONS)
    y += DIMENSIONS
    side = band(y, side_h)
    y += side_h
    mode_caption = band(y, CAPTION)
    y += CAPTION
    modes = []
    for _ in range(n_modes):
        modes.append(band(y, mode_h))
        y += mode_h + GAP
    strip_caption = band(y, CAPTION if with_strip else 0.0)
    y += strip_caption.height()
    strip = band(y, strip_h)
    y += strip_h + FOOT
    return Arrangement(
        scale=XScale(left, left + inner, span_m),
        ruler=ruler,
        plan=plan,
        dimensions=dimensions,
        side=side,
        mode_caption=mode_caption,
        modes=tuple(modes),
        strip_caption=strip_caption,
        strip=strip,
        height=y,
    )
