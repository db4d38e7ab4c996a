"""Builds the menu bar of the window from the entries in `actions`."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

from app.fields.plain import plain
from app.shell import actions
from core.project import edit, library

if TYPE_CHECKING:
    from app.shell.window import MainWindow

MODES = range(1, 9)
BEFORE = (("patch shorted", "the part with its patch &shorted"), ("bare structure", "the &bare structure"))
SCHEMES = (("system", "as the &system"), ("light", "&light"), ("dark", "&dark"))


class Menus(QObject):
    """The menu bar; keeps check marks, recent files and what can be done now up to date."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._session = window.session
        self.actions: dict[str, QAction] = {}
        bar = window.menuBar()
        self._build_file(bar.addMenu("&File"))
        self._build_edit(bar.addMenu("&Edit"))
        self._build_view(bar.addMenu("&View"))
        self._add(bar.addMenu("&Candidate"), actions.candidate_entries(window))
        self._build_study(bar.addMenu("&Study"))
        self._add(bar.addMenu("&Help"), actions.help_entries(window))
        self._session.project_changed.connect(self.refresh)
        self._session.selection_changed.connect(self.refresh)
        window.document.recent_changed.connect(self._fill_recent)
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Check marks and what can be done with the present project."""
        project = self._session.project
        several = len(project.candidates) > 1
        for name in ("deleteCandidate", "nextCandidate", "previousCandidate"):
            self.actions[name].setEnabled(several)
        self.actions["deletePatch"].setEnabled(self._session.selected_patch is not None)
        for number, action in self._modes.items():
            action.setChecked(number == project.view.modes_shown)
        for before, action in self._before.items():
            action.setChecked(before == project.view.before)

    def _add(self, menu: QMenu, entries: list[actions.Entry | None]) -> None:
        self.actions |= actions.add(self._window, menu, entries)

    def _build_file(self, menu: QMenu) -> None:
        window = self._window
        self._add(menu, actions.file_entries(window))
        examples = menu.addMenu("Open &example")
        self._add_examples(examples, library.examples())
        examples.addSeparator()
        validation = examples.addMenu("&Validation")
        validation.setObjectName("validationMenu")
        self._add_examples(validation, library.validation_examples())
        self._recent = menu.addMenu("&Recent")
        self._recent.setObjectName("recentMenu")
        self._fill_recent()
        self._add(menu, actions.save_entries(window))

    def _add_examples(self, menu: QMenu, entries: tuple[tuple[str, str], ...]) -> None:
        for key, title in entries:
            action = menu.addAction(title)
            action.setObjectName(f"example-{key}")
            action.triggered.connect(partial(self._open_example, key))

    def _build_edit(self, menu: QMenu) -> None:
        stack, keys = self._session.undo_stack, QKeySequence.StandardKey
        for name, action, key in (
            ("undo", stack.createUndoAction(self._window, "&Undo"), keys.Undo),
            ("redo", stack.createRedoAction(self._window, "&Redo"), keys.Redo),
        ):
            action.setObjectName(name)
            action.setShortcuts(QKeySequence.keyBindings(key))
            menu.addAction(action)
            self.actions[name] = action
        self._add(menu, actions.edit_entries(self._window))

    def _build_view(self, menu: QMenu) -> None:
        self._add(menu, actions.page_entries(self._window))
        menu.addSeparator()
        self._modes = self._choices(menu.addMenu("&Modes shown"), "modes", [(n, f"&{n}") for n in MODES])
        self._before = self._choices(menu.addMenu("Compare with"), "before", BEFORE)
        menu.addSeparator()
        schemes = self._choices(menu.addMenu("&Colours"), "scheme", SCHEMES)
        schemes[self._window.settings.scheme].setChecked(True)
        menu.addSeparator()
        full = QAction("&Full screen", self._window, checkable=True)
        full.setObjectName("fullScreen")
        full.setShortcut(QKeySequence("F11"))
        full.toggled.connect(self._window.show_full_screen)
        menu.addAction(full)
        self.actions["fullScreen"] = full

    def _choices(self, menu: QMenu, kind: str, choices: object) -> dict:
        group = QActionGroup(self)
        made = {}
        for value, text in choices:  # type: ignore[attr-defined]
            action = QAction(text, self, checkable=True)
            action.setObjectName(f"{kind}-{value}")
            group.addAction(action)
            menu.addAction(action)
            action.triggered.connect(partial(self._on_choice, kind, value))
            made[value] = action
        return made

    def _build_study(self, menu: QMenu) -> None:
        self._add(menu, actions.study_entries(self._window))
        self.actions["showStrip"].setChecked(self._window.settings.strip_shown)
        self._best = menu.addMenu("Move the patch to the &best place for")
        self._best.setObjectName("bestPlaceMenu")
        self._best.aboutToShow.connect(self._fill_best)
        self._session.strip_changed.connect(self._fill_best)
        self._fill_best()

    # ---- slots ---------------------------------------------------------------------------

    def _open_example(self, key: str, _checked: bool = False) -> None:
        self._window.document.open_example(key)

    def _on_choice(self, kind: str, value: object, _checked: bool = False) -> None:
        if kind == "scheme":
            self._window.set_scheme(value)  # type: ignore[arg-type]
            return
        project = self._session.project
        if kind == "modes":
            self._session.apply("Show other modes", edit.with_view(project, modes_shown=value))
        else:
            self._session.apply("Compare with another state", edit.with_view(project, before=value))

    @Slot()
    def _fill_recent(self) -> None:
        self._recent.clear()
        paths = self._window.settings.recent
        for number, path in enumerate(paths, 1):
            action = self._recent.addAction(f"&{number} {path.name}")
            action.setToolTip(plain(str(path)))
            action.setStatusTip(str(path))
            action.triggered.connect(partial(self._open_recent, path))
        if paths:
            self._recent.addSeparator()
            self._recent.addAction("Forget these", self._forget_recent)
        self._recent.setEnabled(bool(paths))

    def _open_recent(self, path: Path, _checked: bool = False) -> None:
        self._window.document.open_path(path)

    @Slot()
    def _forget_recent(self) -> None:
        self._window.settings.clear_recent()
        self._fill_recent()

    @Slot()
    def _fill_best(self) -> None:
        strip = self._session.strip
        self._best.setEnabled(strip is not None)
        self._best.clear()
        if strip is not None:
            for mode in range(1, strip.zeta.shape[1] + 1):
                action = self._best.addAction(f"mode &{mode}")
                action.triggered.connect(partial(self._to_best, mode))

    def _to_best(self, mode: int, _checked: bool = False) -> None:
        self._window.to_best_place(mode)
