"""The selected patch to where it does most for a mode, and what to say of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from core.units.words import millimetres

if TYPE_CHECKING:
    from app.shell.session import Session


def to_best_place(session: Session, patch_id: str, mode: int) -> str:
    """Move the patch as one undo step where that gains; says where it went or why it stays."""
    from core.study.placement.best import best_place

    strip = session.strip
    if strip is None or strip.patch != patch_id:
        return ""
    if session.strip_is_old:
        session.need_strip()
        return "Damping against position is still being worked out for this layout; ask again in a moment"
    found = best_place(session.project, patch_id, strip, mode)
    if found is None:
        return f"There is no allowed place for {patch_id} that damps mode {mode}"
    held = f"; {found.held}" if found.held else ""
    if found.stays:
        return f"{patch_id} lies best for mode {mode} where it is{held}"
    session.apply(f"Move patch {patch_id} to the best place for mode {mode}", found.project)
    return f"{patch_id} starts at {millimetres(found.x_start_m)}, best for mode {mode}{held}"
