"""A candidate with a closed loop: the lab beam with a pick-up under its patch, damped on mode 1 by a position filter."""

from __future__ import annotations

from functools import cache

from core.predict.loop.design import loop_view, tuned
from core.predict.predict import predict
from core.project.loop_edits import close_loop, with_loop
from core.project.model import Project
from tests.app.results.loop_scene import two_groups


@cache
def designed() -> Project:
    """Open, the law by its closed form."""
    project = two_groups()
    view = loop_view(predict(project).solved)
    assert view is not None
    return with_loop(project, tuned(view, "closed form"))


def closed(**changes: object) -> Project:
    """Closed, with fields of the loop changed."""
    return close_loop(with_loop(designed(), **changes))
