"""`quietspan --self-test`: does this installation work? Opens, predicts, saves, reopens, ends."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path


def self_test() -> int:
    """0 and one line when all is well, 1 and the reason when not; needs no display."""
    if sys.platform.startswith("linux") and not (
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    ):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["QUIETSPAN_HOME"] = str(Path(folder) / "home")
        try:
            summary = _run(Path(folder) / "self-test.quietspan")
        except Exception as error:
            print(f"self-test failed: {type(error).__name__}: {error}", file=sys.stderr)
            return 1
    print(f"self-test passed: {summary}")
    return 0


def _run(file: Path) -> str:
    from app.shell.start import make_application, make_window
    from core.project import store
    from core.units import words

    app = make_application()
    window = make_window()
    window.show()
    app.processEvents()
    session = window.session
    if session.prediction is None:
        raise RuntimeError("; ".join(p.message for p in session.problems) or "nothing was predicted")
    window.document.saver.save(file, lambda: None)
    window.document.saver.finish()
    if window.document.edited or not file.exists():
        raise RuntimeError("the project could not be saved")
    if store.load(file) != session.project:
        raise RuntimeError("the saved project reads back differently")
    first = session.prediction.modes[0]
    window.close()
    app.processEvents()
    return f"mode 1 at {words.frequency(first.f_short_hz)}, damping ratio {words.damping(first.zeta)} with the circuit"
