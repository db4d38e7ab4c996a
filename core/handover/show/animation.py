"""The ring-down as a page that any browser plays: drawing and motion in one file, without a network.

The motion is keyframes of SVG, so a page whose scripts are blocked plays too; the script only stops and goes on.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from core.handover.show.captions import Caption
from core.handover.show.programme import Programme, magnification
from core.predict.decay import Decay

Array = NDArray[np.float64]

FRAMES_A_SECOND = 30.0
MOST_FRAMES = 1200
WIDTH, HEIGHT, LEFT, RIGHT = 640.0, 300.0, 60.0, 590.0
BEAM_PX, PATCH_PX = 8.0, 5.0
EVERY = 2
"""Of the places of a swing: half of them draw as smooth a line here."""


@dataclass(frozen=True)
class Plate:
    """A ceramic in the picture: where it lies, and on which face."""

    start_m: float
    end_m: float
    on_top: bool


def animation(shown: Programme, plates: tuple[Plate, ...], told: Caption) -> str:
    """The page as text."""
    real_s = shown.whole_s * shown.slow
    frames = int(min(max(real_s * FRAMES_A_SECOND, 2), MOST_FRAMES))
    at = np.linspace(0.0, shown.whole_s, frames)
    when = [shown.times(float(t)) for t in at]
    last = shown.length_s
    before = _bends(shown.swing.before, np.array([last if b is None else b for b, _ in when]))
    after = _bends(shown.swing.after, np.array([a for _, a in when]))
    scale = magnification(shown.swing, RIGHT - LEFT) / float(shown.swing.x_m[-1])
    parts = [
        _card(shown, before, plates, scale, real_s, told.before, told.settles_before, "#5B6873", 0.0),
        _card(shown, after, plates, scale, real_s, told.after, told.settles_after, "#A83E18", WIDTH),
    ]
    return PAGE.format(
        title=escape(told.title), about=escape(told.about), caution=escape(told.caution),
        width=f"{2 * WIDTH:g}", height=f"{HEIGHT:g}", cards="\n".join(parts),
    )  # fmt: skip


def _bends(decay: Decay, t_s: Array) -> Array:
    """(frames, n) deflection along the span, m."""
    turned = np.exp(np.minimum(decay.rate * t_s[:, None], 700.0 + 0j))
    return np.asarray((turned @ decay.amplitude[:-1].T).real)


def _card(
    shown: Programme, bends: Array, plates: tuple[Plate, ...], scale: float, real_s: float,
    title: str, settles: str, colour: str, shift: float,
) -> str:  # fmt: skip
    x_m = shown.swing.x_m
    x = LEFT + (RIGHT - LEFT) * x_m / x_m[-1]
    middle = 0.5 * HEIGHT + 10.0
    y = middle - scale * bends
    lines = [_line(x[::EVERY], y[:, ::EVERY], real_s, "#4A5763", BEAM_PX)]
    for plate in plates:
        own = np.linspace(plate.start_m, plate.end_m, 9)
        at = np.stack([np.interp(own, x_m, row) for row in y])
        side = -1.0 if plate.on_top else 1.0
        own_x = LEFT + (RIGHT - LEFT) * own / x_m[-1]
        lines.append(_line(own_x, at + side * 0.5 * (BEAM_PX + PATCH_PX), real_s, "#C9A24A", PATCH_PX))
    return (
        f'<g transform="translate({shift:g} 0)">'
        f'<rect x="8" y="8" width="{WIDTH - 16:g}" height="{HEIGHT - 16:g}" rx="6" fill="#fff" stroke="{colour}"/>'
        f'<text x="24" y="36" fill="{colour}" font-weight="bold">{escape(title)}</text>'
        f'<line x1="{LEFT:g}" y1="{middle:g}" x2="{RIGHT:g}" y2="{middle:g}" stroke="#C5CDD5" stroke-dasharray="4 4"/>'
        + "".join(lines)
        + f'<text x="{WIDTH - 24:g}" y="{HEIGHT - 24:g}" text-anchor="end" fill="{colour}">{escape(settles)}</text></g>'
    )


def _line(x: Array, y: Array, real_s: float, colour: str, thick: float) -> str:
    frames = ";".join(" ".join(f"{a:.0f},{b:.1f}" for a, b in zip(x, row, strict=True)) for row in y)
    still = frames.split(";", 1)[0]
    return (
        f'<polyline fill="none" stroke="{colour}" stroke-width="{thick:g}" points="{still}">'
        f'<animate attributeName="points" dur="{real_s:.3f}s" repeatCount="indefinite" values="{frames}"/></polyline>'
    )


PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<style>body{{font:16px sans-serif;color:#1B2733;background:#FBFCFD;margin:2em auto;max-width:1320px}}
h1{{font-size:1.3em}} p{{color:#5A6773}} svg{{width:100%;height:auto;font:16px sans-serif}}
button{{font:inherit;padding:.4em 1.2em}}</style></head><body>
<h1>{title}</h1><p>{about}</p>
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">
{cards}
</svg>
<p><button type="button" id="stop">Stop, go on</button></p>
<p>{caution}</p>
<script>
const drawing = document.querySelector("svg");
document.getElementById("stop").onclick = () =>
  drawing.animationsPaused() ? drawing.unpauseAnimations() : drawing.pauseAnimations();
</script>
</body></html>
"""
