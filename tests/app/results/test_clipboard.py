"""A copied table in both forms, and a program that ends well after it."""

from __future__ import annotations

import os
import subprocess
import sys

from PySide6.QtGui import QGuiApplication

from app.results.clipboard import copy_table

TABLE = [["place", "damping"], ["30 mm", "1.2 %\n<worst>"]]


def test_a_copied_table_is_text_and_a_table(qapp):
    copy_table(TABLE)
    data = QGuiApplication.clipboard().mimeData()
    assert sorted(data.formats()) == ["text/html", "text/plain"]
    assert data.text() == "place\tdamping\n30 mm\t1.2 %; <worst>"
    assert "<td>1.2 %<br>&lt;worst&gt;</td>" in data.html()


def test_a_program_that_copied_a_table_ends_without_a_crash():
    program = (
        "from PySide6.QtGui import QGuiApplication; app = QGuiApplication([]);"
        "from app.results.clipboard import copy_table; copy_table([['a'], ['1']]); print(app.clipboard().text())"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False)
    assert done.stdout == "a\n1\n" and done.returncode == 0, done.stderr
