"""The studies without the rest of the window."""

from __future__ import annotations

import pytest

from app.shell.session import Session
from app.studies.page import StudyPage


@pytest.fixture
def open_studies(qtbot):
    """Shows the studies of a project at a tab, its session with it; the session is closed after the test."""
    sessions = []

    def opened(project, tab, size):
        session = Session(project)
        sessions.append(session)
        made = StudyPage(session)
        made.session = session
        session.setParent(made)
        qtbot.addWidget(made)
        made.resize(*size)
        with qtbot.waitExposed(made):
            made.show()
        made.show_tab(tab)
        return made

    yield opened
    for session in sessions:
        session.close()
