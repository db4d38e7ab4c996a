"""A random user: drags, commits, cancels, keeps, deletes, undoes, redoes, saves.

After every step the shown numbers are those of a fresh prediction, and the project survives a
save; at the end undoing everything gives the first project back.
"""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from msgspec.structs import replace
from PySide6.QtWidgets import QApplication

from app.shell.session import Session
from core.predict.predict import predict
from core.project import edit, library, store

starts = st.integers(-20, 320).map(lambda mm: mm * 1e-3)
lengths = st.integers(-5, 120).map(lambda mm: mm * 1e-3)


class User(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        QApplication.instance() or QApplication([])
        self.first = library.example("lab-beam")
        self.session = Session(self.first)
        self.session.want_strip(False)

    def teardown(self) -> None:
        self.session.cancel_preview()
        while self.session.undo_stack.canUndo():
            self.session.undo_stack.undo()
        assert self.session.project == self.first
        self.session.close()

    def _patch(self):
        return next(iter(self.session.project.candidate().patches), None)

    @precondition(lambda self: self._patch() is not None)
    @rule(x=starts)
    def drag(self, x: float) -> None:
        project = self.session.project
        moved = replace(self._patch(), x_start_m=x)
        self.session.preview(edit.with_patch(project, project.active, moved))
        QApplication.processEvents()

    @precondition(lambda self: self._patch() is not None)
    @rule(length=lengths)
    def type_a_length(self, length: float) -> None:
        project = self.session.project
        resized = replace(self._patch(), length_m=length)
        self.session.apply("Resize", edit.with_patch(project, project.active, resized))

    @rule()
    def release(self) -> None:
        self.session.commit_preview("Move")

    @rule()
    def escape(self) -> None:
        self.session.cancel_preview()

    @rule()
    def keep(self) -> None:
        self.session.apply("Keep", edit.keep_candidate(self.session.project))

    @rule(n=st.integers(0, 5))
    def switch(self, n: int) -> None:
        there = self.session.project.candidates
        self.session.apply("Switch", edit.set_active(self.session.project, there[n % len(there)].id))

    @precondition(lambda self: len(self.session.project.candidates) > 1)
    @rule()
    def delete_candidate(self) -> None:
        project = self.session.project
        self.session.apply("Delete", edit.delete_candidate(project, project.active))

    @rule()
    def add(self) -> None:
        project = self.session.project
        self.session.apply("Add", edit.add_patch(project, project.active))

    @precondition(lambda self: self.session.selected_patch is not None and not self.session.previewing)
    @rule()
    def delete_patch(self) -> None:
        project = self.session.project
        patch = self.session.selected_patch
        self.session.apply("Delete patch", edit.without_patch(project, project.active, patch))

    @rule()
    def undo(self) -> None:
        self.session.undo_stack.undo()

    @rule()
    def redo(self) -> None:
        self.session.undo_stack.redo()

    @invariant()
    def what_is_selected_is_there(self) -> None:
        ids = [patch.id for patch in self.session.shown.candidate().patches]
        assert self.session.selected_patch in ids or (not ids and self.session.selected_patch is None)

    @invariant()
    def the_numbers_belong_to_what_is_shown_or_are_marked(self) -> None:
        if self.session.stale:
            assert self.session.problems
            return
        fresh = predict(self.session.shown)
        shown = self.session.prediction
        assert [m.zeta for m in shown.modes] == [m.zeta for m in fresh.modes]
        assert np.array_equal(shown.response.after, fresh.response.after)

    @invariant()
    def it_survives_a_save(self) -> None:
        assert store.loads(store.dumps(self.session.project)) == self.session.project


User.TestCase.settings = settings(
    max_examples=12,
    stateful_step_count=14,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
TestRandomUser = User.TestCase
