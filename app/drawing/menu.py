"""The menu under the pointer: what can be done with what is there, and at that x."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QMenu, QWidget

from app.drawing import edits
from app.drawing.gestures import rounded
from app.drawing.live_surface import LiveSurface
from app.panels.edits import with_new_absorber, with_new_patch, with_patch_copied
from app.shell.best_place import to_best_place
from app.shell.session import Session
from core.project import edit
from core.project.absorber_edits import without_absorber
from core.project.model import Project
from core.project.patch_edits import paired
from core.project.record import Face
from core.project.structure import KeepOut
from core.units.words import millimetres

NEW_ZONE_M = 0.02
"""Length of a keep-out put down by menu, where the span has room for it."""


def canvas_menu(session: Session, surface: LiveSurface, point: QPointF, parent: QWidget) -> QMenu:
    """The menu for `point` on the surface."""
    menu = QMenu(parent)
    menu.setObjectName("canvas_menu")
    hit = surface.pointer.hit(point)
    x_m = rounded(surface.page().scale.x(point.x()), 1e-3)
    if hit is not None and hit.kind == "patch":
        session.select_patch(hit.patch)
        _add_patch_actions(menu, session, hit.patch)
        menu.addSeparator()
    elif hit is not None and hit.kind == "tuned mass":
        session.select_absorber(hit.absorber)
        title = f"Delete tuned mass {hit.absorber}"
        _add(menu, title, _apply, session, title, partial(_without_absorber, absorber_id=hit.absorber))
        menu.addSeparator()
    elif hit is not None:
        zone = session.project.structure.keep_outs[hit.keep_out]
        _add(menu, f"Delete {zone.name}", _apply, session, f"Delete {zone.name}",
             partial(edits.remove_keep_out, index=hit.keep_out))  # fmt: skip
        menu.addSeparator()
    elif session.selected_patch is not None and surface.page().strip.contains(point):
        _add_best_places(menu, session, session.selected_patch)
        menu.addSeparator()
    if 0.0 <= x_m <= session.shown.structure.span_m:
        _add_place_actions(menu, session, x_m)
    if session.project.structure.outline is not None:
        menu.addSeparator()
        _add(menu, "Forget the true outline", _apply, session, "Forget the true outline", edits.forget_outline)
    return menu


def _add(menu: QMenu, text: str, call: Callable[..., object], *args: object) -> None:
    action = menu.addAction(text)
    action.triggered.connect(partial(_ignore_checked, partial(call, *args)))


def _ignore_checked(call: Callable[[], object], _checked: bool = False) -> None:
    call()


def _apply(session: Session, title: str, change: Callable[[Project], Project]) -> None:
    session.apply(title, change(session.project))


def _add_patch_actions(menu: QMenu, session: Session, patch_id: str) -> None:
    patch = edits.find_patch(session.project, patch_id)
    if patch is None:
        return
    _add_best_places(menu, session, patch_id)
    if patch.face != "both":
        other = "underside" if patch.face == "top" else "top"
        title = f"Flip {patch_id} to the {other} face"
        _add(menu, title, _apply, session, title, partial(edits.flip_face, patch_id=patch_id))
        title = f"Pair {patch_id} on the other face"
        _add(menu, title, _apply, session, title, partial(_paired, patch_id=patch_id))
    if edits.group_of(session.project, patch_id) is not None:
        title = f"Switch polarity of {patch_id}"
        _add(menu, title, _apply, session, title, partial(edits.switch_polarity, patch_id=patch_id))
    _add(menu, f"Duplicate {patch_id}", _duplicate, session, patch_id)
    _add(menu, f"Delete {patch_id}", _apply, session, f"Delete patch {patch_id}",
         partial(_without_patch, patch_id=patch_id))  # fmt: skip


def _without_absorber(project: Project, absorber_id: str) -> Project:
    return without_absorber(project, project.active, absorber_id)


def _without_patch(project: Project, patch_id: str) -> Project:
    return edit.without_patch(project, project.active, patch_id)


def _paired(project: Project, patch_id: str) -> Project:
    return paired(project, project.active, patch_id)


def _duplicate(session: Session, patch_id: str) -> None:
    project, new_id = with_patch_copied(session.project, patch_id)
    session.apply(f"Duplicate patch {patch_id}", project)
    session.select_patch(new_id)


def _add_best_places(menu: QMenu, session: Session, patch_id: str) -> None:
    strip = session.strip
    if strip is None or patch_id != session.selected_patch:
        return
    places = menu.addMenu(f"Move {patch_id} to the best place for")
    for mode in range(1, strip.zeta.shape[1] + 1):
        _add(places, f"Mode {mode}", _move_to_best, session, patch_id, mode)


def _move_to_best(session: Session, patch_id: str, mode: int) -> None:
    session.said.emit(to_best_place(session, patch_id, mode))


def _add_place_actions(menu: QMenu, session: Session, x_m: float) -> None:
    at = f"{millimetres(x_m, 0)}"
    if session.project.packages:
        _add(menu, f"Add a patch at {at}", _add_patch, session, x_m)
    _add(menu, f"Add a tuned mass at {at}", _add_absorber, session, x_m)
    for face in ("top", "underside"):
        title = f"Add a keep-out at {at} on the {face} face"
        _add(menu, title, _apply, session, "Add keep-out", partial(_with_zone, face=face, x_m=x_m))
    _add(menu, f"Add a datum feature at {at}", _apply, session, "Add datum feature",
         partial(edits.add_datum, x_m=x_m))  # fmt: skip


def _add_absorber(session: Session, x_m: float) -> None:
    project, new_id = with_new_absorber(session.project, session.prediction, x_m)
    session.apply("Add tuned mass", project)
    session.select_absorber(new_id)


def _add_patch(session: Session, x_m: float) -> None:
    project, new_id = with_new_patch(session.project)
    session.apply("Add patch", edits.move_patch(project, new_id, x_m))
    session.select_patch(new_id)


def _with_zone(project: Project, face: Face, x_m: float) -> Project:
    span = project.structure.span_m
    half = 0.5 * min(NEW_ZONE_M, 0.2 * span)
    name = edits.free_name("keep clear", {zone.name for zone in project.structure.keep_outs})
    return edits.add_keep_out(project, KeepOut(name, face, max(x_m - half, 0.0), min(x_m + half, span)))
