"""The drawing in words: what a tooltip says at x, and what is read aloud."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF

from app.drawing.arrangement import Arrangement
from app.drawing.dimensions import length_text
from app.drawing.hits import Hit
from app.drawing.use_strip import use_text
from app.drawing.view_model import DrawingView, ModeView, StripView
from core.units import words


def hover_text(view: DrawingView, page: Arrangement, point: QPointF, hit: Hit | None) -> str:
    """What is at `point`, in a few lines; empty off the span."""
    x_m = page.scale.x(point.x())
    if not 0.0 <= x_m <= view.span_m:
        return ""
    head = f"x = {words.millimetres(x_m)}"
    for mode, rect in zip(view.modes, page.modes, strict=False):
        if rect.contains(point):
            return f"{head}\n{_mode_text(mode, x_m)}"
    if (page.strip.contains(point) or page.strain.contains(point)) and view.strip is not None:
        return f"{head}\n{strip_text(view.strip, x_m)}"
    if hit is not None:
        return f"{head}\n{_hit_text(view, hit)}"
    if page.plan.contains(point):
        wide = 2.0 * float(view.structure.half_width_at(x_m))
        return f"{head}\noutline {words.millimetres(wide)} wide"
    if page.side.contains(point):
        thick = float(view.structure.top_at(x_m))
        return f"{head}\nlay-up {words.millimetres(thick, 2)} thick"
    return ""


def _mode_text(mode: ModeView, x_m: float) -> str:
    if mode.edges is not None:
        left, right = (words.signed(float(np.interp(x_m, mode.deflection_x_m, edge)), 2) for edge in mode.edges)
        return (
            f"{mode.name}, {words.frequency(mode.frequency_hz)}: the part twists\n"
            f"left edge {left}, right edge {right} of the largest deflection\n{mode.told}"
        )
    deflection = float(np.interp(x_m, mode.deflection_x_m, mode.deflection))
    curvature = float(np.interp(x_m, mode.x_m, mode.curvature))
    text = (
        f"Mode {mode.number}, {words.frequency(mode.frequency_hz)}\n"
        f"deflection {words.signed(deflection, 2)}, curvature {words.signed(curvature, 2)} of the largest"
    )
    if mode.chord is not None:
        left, right = (words.signed(float(np.interp(x_m, mode.x_m, edge)), 2) for edge in mode.chord)
        text += f"\n{mode.name} curves across: left edge {left}, right edge {right}"
    if len(mode.strain_nodes_m):
        nodes = ", ".join(words.fixed(1e3 * node) for node in mode.strain_nodes_m.tolist())
        text += f"\nstrain nodes at {nodes} mm"
    return text


def strip_text(strip: StripView, x_m: float) -> str:
    """Damping of every mode with the patch starting at the sample nearest to `x_m`."""
    index = int(np.argmin(np.abs(strip.x_start_m - x_m)))
    if abs(float(strip.x_start_m[index]) - x_m) > 2.0 * _spacing(strip):
        return "the patch would end past the tip"
    lines = [f"starting here: {words.millimetres(float(strip.x_start_m[index]))}"]
    if not np.isfinite(strip.zeta[index]).any():
        pass  # hanging over the part's edge it is nothing that could be worked out
    elif strip.of_use is not None:
        lines += use_text(strip, index)
    else:
        lines += [f"mode {column + 1}: {words.percent(zeta)}" for column, zeta in enumerate(strip.zeta[index].tolist())]
    if strip.tension[index] > 0.0 or strip.compression[index] > 0.0:
        pull = words.value_of(float(strip.tension[index]), strip.allowed_pull, "1")
        push = words.value_of(float(strip.compression[index]), strip.allowed_push, "1")
        lines.append(f"static strain: pull {pull}, push {push}")
    if not strip.allowed[index]:
        reason = strip.reasons[index] if index < len(strip.reasons) else ""
        lines.append(f"not allowed: {reason}" if reason else "not allowed")
    return "\n".join(lines)


def _spacing(strip: StripView) -> float:
    return float(strip.x_start_m[1] - strip.x_start_m[0]) if len(strip.x_start_m) > 1 else 1e-3


def _hit_text(view: DrawingView, hit: Hit) -> str:
    if hit.kind == "keep-out":
        zone = view.structure.keep_outs[hit.keep_out]
        where = "both faces" if zone.face == "both" else f"the {zone.face} face"
        return f"{zone.name}: keep-out on {where}"
    if hit.kind == "tuned mass":
        absorber = next(one for one in view.absorbers if one.id == hit.absorber)
        return f"Tuned mass {absorber.label} at {length_text(absorber.x_m)} mm\ndrag to move; Ctrl: no snapping"
    patch = next(p for p in view.patches if p.id == hit.patch)
    what = {"body": "drag to move", "root end": "drag to resize", "tip end": "drag to resize"}[hit.part]
    lines = [
        f"{patch.id}: starts at {length_text(patch.x_a_m)} mm, {length_text(patch.length_m)} mm long",
        f"{what}; Ctrl: no snapping",
    ]
    lines += [collision.text for collision in patch.collisions]
    return "\n".join(lines)


def spoken(view: DrawingView) -> str:
    """The selection and its numbers in sentences."""
    patch = view.selected
    if patch is None:
        first = f"{len(view.patches)} patches, none selected." if view.patches else "No patch yet."
    else:
        faces = " and ".join(patch.faces)
        first = (
            f"Patch {patch.id} selected, on the {faces} face, from {length_text(patch.x_a_m)} to "
            f"{length_text(patch.x_b_m)} mm of {length_text(view.span_m)} mm."
        )
        first += "".join(f" {collision.text}." for collision in patch.collisions)
    for absorber in view.absorbers:
        first += f" Tuned mass {absorber.label} at {length_text(absorber.x_m)} mm."
        first += " It moves further than it may." if absorber.broken else ""
    modes = " ".join(f"{m.label} at {words.frequency(m.frequency_hz)}." for m in view.modes)
    stale = " These are from the last good result." if view.stale else ""
    return f"{first} {modes}{stale}".strip()
